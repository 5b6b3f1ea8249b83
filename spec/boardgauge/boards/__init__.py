"""The library of boards: specs, their wirings and the sheets that describe them, all invented.

Law of this package: it finds files and reads none. A board goes by its id, which is its file's name without the ending.
"""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).parent


class UnknownBoard(LookupError):
    """There is no board (or wiring) of this name in the library."""


def board_names() -> tuple[str, ...]:
    """Give the ids of the boards, in the order of the alphabet."""
    return tuple(sorted(path.stem for path in _specs()))


def _specs() -> list[Path]:
    return [path for path in _HERE.rglob("*.toml") if path.parent.name != "wirings"]


def board_path(name: str) -> Path:
    """Give the file of a board. Raises UnknownBoard, with the nearest name there is."""
    for path in _specs():
        if path.stem == name:
            return path
    raise UnknownBoard(_unknown("board", name, board_names()))


def description_path(name: str) -> Path | None:
    """Give the sheet that describes a board in prose, None if there is none of its own."""
    return next((path for path in _HERE.rglob("*.md") if path.stem == name), None)


def wiring_names() -> tuple[str, ...]:
    """Give the ids of the wirings, in the order of the alphabet."""
    return tuple(sorted(path.stem for path in _HERE.rglob("wirings/*.toml")))


def wiring_path(name: str) -> Path:
    """Give the file of a wiring. Raises UnknownBoard, with the nearest name there is."""
    for path in _HERE.rglob("wirings/*.toml"):
        if path.stem == name:
            return path
    raise UnknownBoard(_unknown("wiring", name, wiring_names()))


def wirings_for(board: str) -> tuple[str, ...]:
    """Give the ids of the wirings made for a board: those called like it, or like it and more."""
    return tuple(name for name in wiring_names() if name == board or name.startswith(f"{board}-"))


def _unknown(what: str, name: str, names: tuple[str, ...]) -> str:
    # Imported here: only a mistake needs it.
    from boardgauge.language.problems import nearest_of

    near = nearest_of(name, names)
    hint = f"; did you mean {near!r}?" if near else ""
    return f"the library has no {what} {name!r}{hint}"
