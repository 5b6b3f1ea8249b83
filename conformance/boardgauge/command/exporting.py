"""``boardgauge export``: the machine of a board for other programs.

Law of this module: it names the files and writes them; what the format cannot hold is told with the rule.
"""

from __future__ import annotations

from pathlib import Path

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, settings_of
from boardgauge.exports.cannot_export import CannotExport
from boardgauge.exports.scxml import write_scxml
from boardgauge.language.model import Board
from boardgauge.language.problems import Unreadable

FORMATS = ("scxml", "c", "interface")


def export_board(
    given: str,
    format_: str | None,
    output: str | None,
    settings: tuple[str, ...],
    tick: str | None = None,
    *,
    unfiltered: bool = False,
    for_rig: bool = False,
) -> list[Path]:
    """Write a board in a format; give the files."""
    board = find_board(given)
    if format_ is None and output is not None and Path(output).suffix == ".scxml":
        format_ = "scxml"
    if format_ is None:
        raise Unusable("say what to write: --scxml, --c or --interface")
    asked = {"--tick": tick is not None, "--unfiltered": unfiltered, "--for-rig": for_rig}
    strays = [name for name, yes in asked.items() if yes and format_ != "c"]
    if strays:
        raise Unusable(f"{strays[0]} goes with --c alone")
    if settings and format_ != "scxml":
        raise Unusable("--setting goes with --scxml alone; in C the settings are told with the inputs")
    if format_ == "scxml":
        return [_write_scxml(given, board, output, settings)]
    folder = Path(output or ".")
    if folder.is_file():
        raise Unusable(f"{folder} is a file; -o names the folder to write C into")
    files = _c_files(given, board, tick, unfiltered, for_rig) if format_ == "c" else _interface(board)
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in files]


def _write_scxml(given: str, board: Board, output: str | None, settings: tuple[str, ...]) -> Path:
    path = Path(output or f"{board.id}.scxml")
    try:
        text = write_scxml(board, settings_of(settings, board))
    except CannotExport as error:
        raise Unusable(f"{given} cannot be written as SCXML: {error}") from None
    path.write_text(text, encoding="utf-8")
    return path


def _c_files(given: str, board: Board, tick: str | None, unfiltered: bool, for_rig: bool) -> dict[str, str]:
    from boardgauge.exports.c99.writing import write_c

    try:
        files = write_c(board, _tick(tick), filtered=not unfiltered, for_rig=for_rig)
    except CannotExport as error:
        raise Unusable(f"{given} cannot be written as C: {error}") from None
    return {**files, **_interface(board)} if for_rig else files


def _tick(given: str | None) -> int:
    from boardgauge.exports.c99.writing import LONGEST_TICK, TICK
    from boardgauge.language.quantity_reader import read_plain_time

    if given is None:
        return TICK
    try:
        tick = read_plain_time(given)
    except Unreadable:
        tick = 0
    if not 1 <= tick <= LONGEST_TICK:
        raise Unusable(f"--tick: {given!r} is no length of a tick; write it as 1 ms, 0.1 ms or 10 ms, at most 1 s")
    return tick


def _interface(board: Board) -> dict[str, str]:
    """Give the header of the interface, with the names of a board."""
    from boardgauge.exports.c99.comments import block
    from boardgauge.rigs.library import HEADER, interface_header

    settings = [
        f"{row.id} ({', '.join(f'{i} {p.name}' for i, p in enumerate(row.positions))})"
        for row in board.settings.values()
        if row.positions[0].name is not None
    ]
    inputs = [f"{row.id} ({row.unit or row.kind.value})" for row in board.inputs.values()]
    told = [f"The names of the board {board.id}.", "", f"Inputs: {', '.join(['power', *inputs])}."]
    told += [f"Settings, with the numbers of their positions: {', '.join(settings)}."] if settings else []
    told.append(f"Outputs and lamps: {', '.join([*board.outputs, *board.lamps])}.")
    return {HEADER: interface_header() + "\n" + "\n".join(block(told)) + "\n"}
