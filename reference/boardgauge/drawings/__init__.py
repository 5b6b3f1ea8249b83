"""Drawings of a board: state machine diagrams, the overview, and the words they share with reports.

Law of this package: what is drawn comes from the machine's table or from exploring it; nothing is drawn from memory.
Importing it is light; the layout and typesetting programs are loaded with the first picture.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boardgauge.drawings.gallery import NothingToDraw, draw, pictures
    from boardgauge.drawings.picture import Picture
    from boardgauge.drawings.rendering import render

__all__ = ["NothingToDraw", "Picture", "draw", "pictures", "render"]

_HOMES = {
    "NothingToDraw": "gallery",
    "Picture": "picture",
    "draw": "gallery",
    "pictures": "gallery",
    "render": "rendering",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
