"""Find boards, wirings and recordings from what was given on the command line.

Law of this module: a name of the library or a path; a path wins if it exists. Everything wrong comes out as
``Unusable``, with the file's own places.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from boardgauge.command.failing import Unusable

if TYPE_CHECKING:
    from boardgauge.language.model import Board
    from boardgauge.traces import Trace, Wiring


def spec_path(given: str) -> Path:
    """Give the path of a board spec: the file of this name, or the library's board of this id."""
    from boardgauge.boards import UnknownBoard, board_path

    path = Path(given)
    if path.is_file():
        return path
    if path.is_dir() or path.suffix == ".toml" or len(path.parts) > 1:
        what = "is a folder, not a board spec" if path.is_dir() else "no such file"
        raise Unusable(f"{given}: {what}")
    try:
        return board_path(given)
    except UnknownBoard as error:
        own = path.with_name(f"{path.name}.toml")
        if own.is_file():
            raise Unusable(f"the library has no board {given!r}; did you mean the file {own}?") from None
        if error.nearest is not None:
            raise Unusable(f"{error} (nor is there a file of that name)") from None
        # The library is long: its names would hide what is wrong.
        raise Unusable(
            f"{given}: neither a file nor a board of the library; `boardgauge boards` lists the library, "
            "`boardgauge new` drafts a spec"
        ) from None


def of_the_library(given: str) -> bool:
    """Tell whether a board was given that comes with the tool."""
    from boardgauge.boards import board_names, board_path

    path = spec_path(given)
    return path.stem in board_names() and path.resolve() == board_path(path.stem).resolve()


def plan_beside(spec: Path) -> Path:
    """Give where the plan of a spec is kept: in the folder ``plans`` beside it, under the name of its file."""
    return spec.parent / "plans" / f"{spec.stem}.toml"


def find_board(given: str) -> Board:
    """Read a board spec by path or by its id in the library."""
    from boardgauge.language import UnusableSpec, read_board

    path = spec_path(given)
    try:
        return read_board(path)
    except UnusableSpec as error:
        raise Unusable(f"{path} cannot be used:\n{error}") from None


def find_wiring(given: str | None, board: Board, spec: Path) -> Wiring:
    """Read a wiring by path or by its id; without one, the board's own, else channels by their names."""
    from boardgauge.boards import UnknownWiring, wiring_path
    from boardgauge.traces import BadWiring, default_wiring, read_wiring

    try:
        if given is not None:
            path = Path(given)
            if path.is_file():
                return read_wiring(path)
            beside = spec.parent / "wirings" / f"{given}.toml"
            if beside.is_file():
                return read_wiring(beside)
            return read_wiring(wiring_path(given))
        folder = spec.parent / "wirings"
        own = folder / f"{board.id}.toml"
        candidates = [own] if own.is_file() else sorted(folder.glob("*.toml")) if folder.is_dir() else []
        for path in candidates:
            wiring = read_wiring(path)
            if board.id in wiring.boards:
                return wiring
        return default_wiring(board)
    except BadWiring as error:
        raise Unusable(f"the wiring cannot be used:\n{error}") from None
    except UnknownWiring as error:
        # A path that leads nowhere is told as one; the names of the library do not help there.
        if given is not None and (Path(given).is_dir() or given.endswith(".toml") or len(Path(given).parts) > 1):
            what = "is a folder, not a wiring" if Path(given).is_dir() else "no such file"
            raise Unusable(f"{given}: {what}") from None
        raise Unusable(f"{error} (nor is there a file of that name)") from None


def wirings_beside(board: Board, spec: Path) -> tuple[str, ...]:
    """Give the names of the wirings for a board in the folder ``wirings`` beside its spec."""
    from boardgauge.traces import BadWiring, read_wiring

    try:
        return tuple(
            path.stem
            for path in sorted((spec.parent / "wirings").glob("*.toml"))
            if board.id in read_wiring(path).boards
        )
    except BadWiring as error:
        raise Unusable(f"the wiring cannot be used:\n{error}") from None


def find_trace(recording: str, wiring: Wiring, board: Board, *more: str) -> Trace:
    """Read a recording (with ``more``: the parts that follow it) and condition it for a board."""
    from boardgauge.many.judging_one import CannotRead, trace_of

    try:
        return trace_of((recording, *more), wiring, board)
    except CannotRead as error:
        raise Unusable(str(error)) from None


def settings_of(given: tuple[str, ...], board: Board) -> dict[str, str]:
    """Read ``--setting NAME=POSITION`` options; a position chosen by jumpers is read from them and cannot be given."""
    from boardgauge.language.problems import nearest_of

    chosen: dict[str, str] = {}
    for text in given:
        name, sign, position = text.partition("=")
        if not sign:
            raise Unusable(f"--setting {text}: expected NAME=POSITION")
        row = board.settings.get(name)
        if row is None:
            near = nearest_of(name, board.settings)
            hint = f"; did you mean {near!r}?" if near else ""
            raise Unusable(f"--setting {text}: {board.id} has no setting {name!r}{hint}")
        names = [p.name for p in row.positions if p.name is not None]
        if position not in names:
            told = f"expected one of {', '.join(names)}" if names else "its position is read from the board's inputs"
            raise Unusable(f"--setting {text}: {told}")
        chosen[name] = position
    return chosen
