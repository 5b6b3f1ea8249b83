"""Where each key and value of a TOML text stands.

Law of this module: it places, it does not judge. ``tomllib`` says whether a text is TOML and what its values are; the
scan here walks the same text and gives an offset for every key path. On anything it does not understand it stops and
leaves the refusal to ``tomllib``. It is no stricter than TOML except in its bounds: depth, key length, number of
entries.
"""

from __future__ import annotations

import re

from attrs import frozen

Path = tuple[str | int, ...]

DEEPEST = 10
LONGEST_KEY = 10
MOST_ENTRIES = 5_000

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"\d{4}-\d\d-\d\d \d\d:[^\s,\]}#]*|[^\s,\]}#\[{\"'=]+")
_BASIC = re.compile(r'"(?:[^"\\\n]|\\.)*"')
_LITERAL = re.compile(r"'[^'\n]*'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\.|"(?!""))*"""(?:"{0,2})', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''(?:[^']|'(?!''))*'''(?:'{0,2})", re.DOTALL)
_STRINGS = (_LONG_BASIC, _LONG_LITERAL, _BASIC, _LITERAL)


@frozen
class Stretch:
    """The offsets of a key, of its value and of the value's end."""

    key: int
    start: int
    end: int


class TooMuch(ValueError):
    """The text goes beyond a bound. ``at`` is the offset."""

    def __init__(self, message: str, at: int) -> None:
        super().__init__(message)
        self.message = message
        self.at = at


class _Stop(Exception):
    """Not TOML, or not understood; tomllib decides."""


def find_places(text: str) -> dict[Path, Stretch]:
    """Give the place of every key path in a text with ``\\n`` line ends. Raises TooMuch beyond a bound."""
    scan = _Scan(text)
    try:
        scan.document()
    except _Stop:
        scan.stopped = True
    return scan.places


@frozen
class _Key:
    parts: tuple[str, ...]
    offsets: tuple[int, ...]


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.stopped = False
        self.places: dict[Path, Stretch] = {}
        self.lengths: dict[Path, int] = {}

    # -- small steps -------------------------------------------------------------------------------------------------
    def blank(self) -> None:
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def space(self) -> None:
        found = _SPACE.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def sees(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def must(self, mark: str) -> None:
        if not self.sees(mark):
            raise _Stop
        self.at += len(mark)

    def put(self, path: Path, stretch: Stretch) -> None:
        if len(self.places) >= MOST_ENTRIES:
            raise TooMuch(f"the file has more than {MOST_ENTRIES} entries", stretch.key)
        self.places.setdefault(path, stretch)

    # -- the grammar -------------------------------------------------------------------------------------------------
    def document(self) -> None:
        table: Path = ()
        while True:
            self.blank()
            if self.at >= len(self.text):
                return
            if self.sees("["):
                table = self.header()
            else:
                self.pair(table, 0)

    def header(self) -> Path:
        start = self.at
        many = self.sees("[[")
        self.at += 2 if many else 1
        self.space()
        key = self.key()
        self.must("]]" if many else "]")
        path: Path = ()
        for index, (part, offset) in enumerate(zip(key.parts, key.offsets, strict=True)):
            path = (*path, part)
            self.put(path, Stretch(offset, start, self.at))
            last = index == len(key.parts) - 1
            if many and last:
                self.lengths[path] = self.lengths.get(path, 0) + 1
            if path in self.lengths:
                path = (*path, self.lengths[path] - 1)
                self.put(path, Stretch(offset, start, self.at))
        return path

    def key(self) -> _Key:
        parts: list[str] = []
        offsets: list[int] = []
        while True:
            if len(parts) >= LONGEST_KEY:
                raise TooMuch(f"a key has more than {LONGEST_KEY} parts", self.at)
            offsets.append(self.at)
            parts.append(self.key_part())
            self.space()
            if not self.sees("."):
                return _Key(tuple(parts), tuple(offsets))
            self.at += 1
            self.space()

    def key_part(self) -> str:
        for pattern in (_BARE, _BASIC, _LITERAL):
            found = pattern.match(self.text, self.at)
            if found:
                start, self.at = self.at, found.end()
                return found.group() if pattern is _BARE else "".join(decoded(self.text, start, self.at)[0])
        raise _Stop

    def pair(self, table: Path, depth: int) -> None:
        key = self.key()
        self.must("=")
        self.space()
        start = self.at
        path = table
        for part, offset in zip(key.parts[:-1], key.offsets[:-1], strict=True):
            path = (*path, part)
            self.put(path, Stretch(offset, offset, offset))
        path = (*path, key.parts[-1])
        self.value(path, depth)
        self.put(path, Stretch(key.offsets[-1], start, self.at))

    def value(self, path: Path, depth: int) -> None:
        if depth > DEEPEST:
            raise TooMuch(f"lists and tables stand more than {DEEPEST} deep", self.at)
        if self.sees("["):
            self.array(path, depth)
        elif self.sees("{"):
            self.inline_table(path, depth)
        else:
            for pattern in (*_STRINGS, _SCALAR):
                found = pattern.match(self.text, self.at)
                if found:
                    self.at = found.end()
                    return
            raise _Stop

    def array(self, path: Path, depth: int) -> None:
        self.at += 1
        index = 0
        while True:
            self.blank()
            if self.sees("]"):
                self.at += 1
                return
            start = self.at
            self.value((*path, index), depth + 1)
            self.put((*path, index), Stretch(start, start, self.at))
            index += 1
            self.blank()
            if not self.sees("]"):
                self.must(",")

    def inline_table(self, path: Path, depth: int) -> None:
        self.at += 1
        while True:
            self.blank()
            if self.sees("}"):
                self.at += 1
                return
            self.pair(path, depth + 1)
            self.blank()
            if not self.sees("}"):
                self.must(",")


_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\", "e": "\x1b"}
_HEX = {"u": 4, "U": 8, "x": 2}
_LINE_END = re.compile(r"\\[ \t]*\n[ \t\n]*")


def decoded(text: str, start: int, end: int) -> tuple[list[str], list[int]]:
    """Give the characters of the TOML string at ``text[start:end]`` and the offset at which each stands."""
    quote = text[start]
    marks = 3 if text.startswith(quote * 3, start) and end - start >= 6 else 1
    at, stop = start + marks, end - marks
    if marks == 3 and text.startswith("\n", at):
        at += 1
    characters: list[str] = []
    offsets: list[int] = []
    while at < stop:
        width, character = 1, text[at]
        if quote == '"' and character == "\\":
            folded = _LINE_END.match(text, at) if marks == 3 else None
            if folded:
                at = folded.end()
                continue
            letter = text[at + 1]
            width = 2 + _HEX.get(letter, 0)
            try:
                character = chr(int(text[at + 2 : at + width], 16)) if letter in _HEX else _ESCAPES.get(letter, letter)
            except (ValueError, OverflowError):
                raise _Stop from None
        characters.append(character)
        offsets.append(at)
        at += width
    return characters, offsets
