"""A TOML file as a tree of values that know where they stand.

Law of this module: a node keeps its place whatever becomes of it, so that a table put together of a base and its
variants still says, value by value, which file and line it came from. Files are bounded in size before they are read.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

from attrs import field, frozen

from boardgauge.language.model import Spot
from boardgauge.language.problems import Problem, UnusableSpec
from boardgauge.language.toml_places import Path, Stretch, TooMuch, decoded, find_places

LARGEST_FILE = 256 * 1024

Value = "dict[str, Node] | list[Node] | str | int | float | bool | object"


class Source:
    """The text of one file, with the means to turn an offset into a line and a column."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self._lines = [0, *(match.end() for match in re.finditer("\n", text))]

    def spot(self, offset: int) -> Spot:
        """Give the line and column of an offset."""
        line = bisect_right(self._lines, offset)
        return Spot(self.file, line, offset - self._lines[line - 1] + 1)


@frozen
class Node:
    """A value of a file: a table (dict of nodes), a list (of nodes), or a single value."""

    value: object
    source: Source = field(eq=False, repr=False)
    stretch: Stretch = field(eq=False, repr=False)

    @property
    def at(self) -> Spot:
        """The place of the value."""
        return self.source.spot(self.stretch.start)

    @property
    def key_at(self) -> Spot:
        """The place of its key (of the value itself, in a list)."""
        return self.source.spot(self.stretch.key)

    def inside(self, offset: int) -> Spot:
        """The place of a character inside a text value."""
        start, end = self.stretch.start, self.stretch.end
        if not isinstance(self.value, str) or self.source.text[start : start + 1] not in ("'", '"'):
            return self.at
        offsets = decoded(self.source.text, start, end)[1]
        if not offsets:
            return self.at
        return self.source.spot(offsets[offset] if offset < len(offsets) else offsets[-1] + 1)


_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


def read_nodes(text: str, file: str) -> Node:
    """Read TOML text. Raises UnusableSpec with one problem where it is no TOML or beyond a bound."""
    source = Source(file, text.replace("\r\n", "\n"))
    if len(text) > LARGEST_FILE:
        raise UnusableSpec([Problem(Spot(file), "", f"the file is larger than {LARGEST_FILE // 1024} KiB")])
    try:
        places = find_places(source.text)
        values = tomllib.loads(source.text)
    except TooMuch as error:
        raise UnusableSpec([Problem(source.spot(error.at), "", error.message)]) from None
    except tomllib.TOMLDecodeError as error:
        raise UnusableSpec([_not_toml(source, str(error))]) from None
    except (ValueError, RecursionError):  # a number of thousands of digits, a date that is none
        raise UnusableSpec([Problem(Spot(file), "", "the file is not TOML: a value in it cannot be read")]) from None
    return _node(values, (), places, source, Stretch(0, 0, 0))


def _not_toml(source: Source, message: str) -> Problem:
    found = _PLACE.search(message)
    what = _PLACE.sub("", message)
    spot = source.spot(len(source.text))
    if found and found.group(1):
        spot = Spot(source.file, int(found.group(1)), int(found.group(2)))
    if what.startswith(("Cannot overwrite", "Cannot declare", "Cannot mutate", "Duplicate", "Cannot redefine")):
        line = source.text.split("\n")[spot.line - 1].split("#")[0].strip() if spot.line else ""
        return Problem(spot, line.split("=")[0].strip(" []"), "this stands twice in the file; a name is given once")
    return Problem(spot, "", f"the file is not TOML: {what[:1].lower()}{what[1:]}")


def _node(value: object, path: Path, places: dict[Path, Stretch], source: Source, near: Stretch) -> Node:
    stretch = places.get(path, near)
    if isinstance(value, dict):
        table = {key: _node(inner, (*path, key), places, source, stretch) for key, inner in value.items()}
        return Node(table, source, stretch)
    if isinstance(value, list):
        return Node([_node(item, (*path, i), places, source, stretch) for i, item in enumerate(value)], source, stretch)
    return Node(value, source, stretch)
