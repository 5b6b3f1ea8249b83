"""The curves that ship with the tool, and curves of a person's own.

Law of this module: a curve's name is the name of its file and the id in it; a path wins if it exists.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from boardgauge.language.problems import nearest_of
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.curve_reader import read_curve

_CURVES = Path(__file__).parent / "curves"


class UnknownCurve(LookupError):
    """There is no such curve, nor a file of that name."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        self.name, self.known, self.nearest = name, known, nearest_of(name, known)
        told = f"; did you mean {self.nearest!r}?" if self.nearest else "; there are " + ", ".join(known)
        if name.endswith(".toml") or len(Path(name).parts) > 1:
            told = ": no such file"
        super().__init__(f"no sensor curve {name!r}{told}")


@cache
def curve_names() -> tuple[str, ...]:
    """Give the names of the curves that ship with the tool."""
    return tuple(sorted(path.stem for path in _CURVES.glob("*.toml")))


@cache
def _shipped(name: str) -> Curve:
    return read_curve(_CURVES / f"{name}.toml")


def find_curve(name: str, beside: Path | None = None) -> Curve:
    """Give a curve by the path of its file, or by its name. A path is looked for in the folder ``beside`` first.

    Raises UnknownCurve, and BadCurve if the file has no curve in it.
    """
    for path in ([beside / name] if beside is not None else []) + [Path(name)]:
        if path.is_file():
            return read_curve(path)
    if name in curve_names():
        return _shipped(name)
    raise UnknownCurve(name, curve_names())
