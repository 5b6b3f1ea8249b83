"""The library of boards: invented control boards, and standard functions, as specs that ship with the tool.

Law of this package: a board's name is the name of its file and the id in it; so is a wiring's. Nothing here reads a
spec: importing it is light, and paths are all it gives.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

_HERE = Path(__file__).parent
_WIRINGS = _HERE / "wirings"
_FOLDERS = (_HERE, _HERE / "iec", _HERE / "relays")

__all__ = [
    "UnknownBoard",
    "UnknownWiring",
    "board_names",
    "board_path",
    "description_path",
    "wiring_names",
    "wiring_path",
    "wirings_for",
]


class _NotInTheLibrary(LookupError):
    what = "entry"

    def __init__(self, name: str, known: Iterable[str]) -> None:
        from boardgauge.language.problems import nearest_of

        self.name = name
        self.known = tuple(known)
        self.nearest = nearest_of(name, self.known)
        message = f"the library has no {self.what} {name!r}"
        if self.nearest is not None:
            message += f"; did you mean {self.nearest!r}?"
        else:
            message += "; it has " + ", ".join(self.known)
        super().__init__(message)


class UnknownBoard(_NotInTheLibrary):
    """There is no such board. ``nearest`` is the name most like it, None where none is like it."""

    what = "board"


class UnknownWiring(_NotInTheLibrary):
    """There is no such wiring. ``nearest`` is the name most like it, None where none is like it."""

    what = "wiring"


def _stem(path: Path) -> str:
    """Give what files are sorted by: a board then stands before its variants."""
    return path.stem


@cache
def _boards() -> dict[str, Path]:
    return {path.stem: path for folder in _FOLDERS for path in sorted(folder.glob("*.toml"), key=_stem)}


@cache
def _wirings() -> dict[str, Path]:
    return {path.stem: path for path in sorted(_WIRINGS.glob("*.toml"), key=_stem)}


def board_names() -> tuple[str, ...]:
    """Give the names of all boards: the invented ones in order of the alphabet, then blocks, then relays."""
    return tuple(_boards())


def board_path(name: str) -> Path:
    """Give the file of a board's spec. Raises UnknownBoard."""
    if name not in _boards():
        raise UnknownBoard(name, board_names())
    return _boards()[name]


def description_path(name: str) -> Path | None:
    """Give the sheet in prose that a board's clauses cite: its own, that of its base, or the one of its folder.

    A folder of small boards has one sheet for all of them, called like the folder. None where there is none. Raises
    UnknownBoard.
    """
    path = board_path(name)
    while not path.with_suffix(".md").is_file():
        base = _top_level(path).get("base")
        if not isinstance(base, str) or not path.with_name(base).is_file():
            folder = path.with_name(f"{path.parent.name}.md")
            return folder if folder.is_file() else None
        path = path.with_name(base)
    return path.with_suffix(".md")


def wiring_names() -> tuple[str, ...]:
    """Give the names of all wirings, in order of the alphabet."""
    return tuple(_wirings())


def wiring_path(name: str) -> Path:
    """Give the file of a wiring. Raises UnknownWiring."""
    if name not in _wirings():
        raise UnknownWiring(name, wiring_names())
    return _wirings()[name]


def wirings_for(board: str) -> tuple[str, ...]:
    """Give the names of the wirings that are for a board, by its id; the one called like the board comes first."""
    found = [name for name, path in _wirings().items() if board in _listed(_top_level(path).get("board"))]
    return tuple(sorted(found, key=lambda name: (name != board, name)))


def _listed(value: object) -> list[object]:
    return value if isinstance(value, list) else [value]


@cache
def _top_level(path: Path) -> dict[str, object]:
    import tomllib

    return tomllib.loads(path.read_text(encoding="utf-8"))
