"""To be filled."""

from __future__ import annotations

from attrs import frozen

from boardgauge.language.model import Spot


@frozen
class Declared:
    """A name a file declares, whether or not its table could be read."""

    name: str
    section: str
    key: str
    at: Spot
    kind: str | None = None
