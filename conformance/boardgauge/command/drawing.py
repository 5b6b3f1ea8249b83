"""``boardgauge draw``."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, cast

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, find_trace, find_wiring, spec_path
from boardgauge.drawings import NothingToDraw
from boardgauge.drawings.gallery import pages
from boardgauge.drawings.overview_pages import overview_pages
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.print_pages import print_pages
from boardgauge.drawings.run_path import path_pages
from boardgauge.drawings.state_diagram import drawable
from boardgauge.drawings.zoom import NoSuchState, state_called, zoomed
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.operating import Overview, overview
from boardgauge.machine.settle import Engine

Format = Literal["svg", "png", "pdf", "dot"]
Paper = Literal["letter", "a4"]
_ALL = 10_000
"""More operating states than anybody draws: nothing is left out."""
FORMATS = ("svg", "png", "pdf", "dot")


def draw_board(
    given: str,
    drawings: tuple[str, ...],
    output: str | None,
    format_: str | None,
    paper: str,
    state: str | None = None,
    path: str | None = None,
    full: bool = False,
    wiring: str | None = None,
) -> list[Path]:
    """Draw and write; give the files written."""
    what = ",".join(drawings) or None
    if sum(one is not None for one in (what, state, path)) > 1:
        raise Unusable("--what, --state and --path each say what to draw; give one of them")
    if what is not None and what != "all" and "all" in what.split(","):
        raise Unusable(f"--what {what}: all of them are drawn by all alone")
    board = find_board(given)
    target = None if output is None else Path(output)
    drawing = what or "overview"
    chosen = cast(Format, _format_of(target, drawing, format_))
    if drawing == "all":
        return _write_all(board, target, chosen, cast(Paper, paper))
    # A drawing for the screen has a size of its own; one for paper is split where it would not be legible.
    on = None if chosen in {"svg", "dot"} else cast(Paper, paper)
    engine = Engine(compile_board(board))
    try:
        if path is not None:
            pictures = _path(engine, given, path, on, full, wiring)
        elif state is not None:
            seen = _seen(engine, full)
            pictures = zoomed(seen, state_called(seen, state), on)
        elif full and drawing == "overview":
            pictures = overview_pages(_seen(engine, full), on)
        else:
            pictures = pages(engine.machine, drawing, on)
    except (NothingToDraw, NoSuchState) as error:
        raise Unusable(str(error)) from None
    first = target or Path(f"{board.id}-{pictures[0].name}.{chosen}")
    return _write(pictures, board, first, chosen, cast(Paper, paper))


def _write(pictures: tuple[Picture, ...], board: Board, first: Path, chosen: Format, paper: Paper) -> list[Path]:
    """Write pictures into one file, or into one for each that has a number after its name."""
    made = print_pages(pictures, board, chosen, paper)
    if len(made) == 1:
        names = [first]
    else:
        names = [first.with_name(f"{first.stem}-{number}{first.suffix}") for number in range(1, len(made) + 1)]
    for name, data in zip(names, made, strict=True):
        name.write_bytes(data)
    return names


def _write_all(board: Board, target: Path | None, chosen: Format, paper: Paper) -> list[Path]:
    folder = target or Path(f"{board.id}-drawings")
    folder.mkdir(parents=True, exist_ok=True)
    machine = compile_board(board)
    on = None if chosen in {"svg", "dot"} else paper
    paths = []
    for name in ("overview", *drawable(machine)):
        paths += _write(pages(machine, name, on), board, folder / f"{name}.{chosen}", chosen, paper)
    return paths


def _seen(engine: Engine, full: bool) -> Overview:
    if full:
        return overview(engine.machine, most_states=_ALL, most_edges=_ALL)
    return overview(engine.machine)


def _path(
    engine: Engine, given: str, source: str, paper: Paper | None, full: bool, wiring: str | None
) -> tuple[Picture, ...]:
    from boardgauge.command.charting import played

    if source.endswith(".toml"):
        if wiring is not None:
            raise Unusable("--wiring is for recordings; a scenario names the signals itself")
        run, title = played(engine, Path(source), "nominal", 0)
        return path_pages(engine, _seen(engine, full), run, f"path of: {title}", None, paper)
    from boardgauge.judging.fitted import fitted_run

    board = engine.machine.board
    trace = find_trace(source, find_wiring(wiring, board, spec_path(given)), board)
    fitted = fitted_run(engine, trace)
    if fitted is None:
        raise Unusable(
            f"{source}: its path cannot be followed; that takes a recording that begins before power-up, with a "
            "channel for the supply and one for every sensor"
        )
    until = None if fitted.whole else fitted.until
    return path_pages(engine, _seen(engine, full), fitted.run, f"path of {Path(source).name}", until, paper)


def _format_of(target: Path | None, what: str, asked: str | None) -> str:
    if target is None or what == "all":
        return asked or "svg"
    ending = target.suffix.lstrip(".").lower()
    if asked is not None:
        if ending in FORMATS and ending != asked:
            raise Unusable(f"{target}: its name says {ending} and --format says {asked}; leave one of them out")
        return asked
    if ending not in FORMATS:
        raise Unusable(
            f"{target}: the format is not plain from the name; end it in .{', .'.join(FORMATS)} or say --format"
        )
    return ending
