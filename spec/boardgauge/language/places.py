"""Where the keys of a spec stand, for messages.

Law of this module: a key that is not there has the place of the table it is missing from; a board made in memory has
no places, and messages about it say so.
"""

from __future__ import annotations

from collections.abc import Mapping

from boardgauge.language.model import NOWHERE, Spot
from boardgauge.language.nodes import Node


class Places:
    """The places of dotted keys, ``rules.burner.steps[2].until``; the key of the file itself is empty."""

    def __init__(self, nodes: Mapping[str, Node] | None = None) -> None:
        self._nodes = nodes or {}

    def of(self, key: str) -> Spot:
        """Give the place of a key's value, or of the nearest table around it."""
        node = self._nearest(key)
        return NOWHERE if node is None else node.at if key in self._nodes else node.key_at

    def inside(self, key: str, offset: int) -> Spot:
        """Give the place of a character in the text that stands at a key."""
        node = self._nodes.get(key)
        return self.of(key) if node is None else node.inside(offset)

    def _nearest(self, key: str) -> Node | None:
        while key not in self._nodes:
            if not key:
                return None
            key = key.rpartition(".")[0]
        return self._nodes[key]
