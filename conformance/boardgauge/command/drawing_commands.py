"""What the program draws: operating states and rules, timing charts.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

from typing import Any

import click

from boardgauge.command.failing import explained
from boardgauge.command.options import once, setting_option


@click.command()
@click.argument("board")
@click.option(
    "--what",
    metavar="WHAT",
    multiple=True,
    help="overview; ids of rules or outputs, by commas; a kind, as lockouts or delays; or all. May be repeated.  "
    "[default: overview]",
)
@click.option(
    "--state",
    metavar="NAME",
    callback=once,
    multiple=True,
    help="One operating state, named as in the overview, with all ways in and out.",
)
@click.option(
    "--path",
    metavar="SCENARIO|RECORDING",
    callback=once,
    multiple=True,
    type=click.Path(),
    help="The overview with the way it takes.",
)
@click.option("--full", is_flag=True, help="Tell states apart by every output, on as many pages as it takes.")
@click.option("--wiring", help="Of the recording of --path: what its channels mean. By default the board's own.")
@click.option("-o", "--output", type=click.Path(), help="File to write (a folder with --what all).")
@click.option("--format", "format_", type=click.Choice(["svg", "png", "pdf", "dot"]), help="By default from the file.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@explained
def draw(
    board: str,
    what: tuple[str, ...],
    state: str | None,
    path: str | None,
    full: bool,
    wiring: str | None,
    output: str | None,
    format_: str | None,
    paper: str,
) -> None:
    """Draw a board: its operating states, one of them, some of its rules, or the path of a run.

    On paper (.pdf, .png) what would be too small to read is split over pages, joined by lettered connectors. What
    takes several files gets a number behind the name: one a picture of .svg, one a page of .png.
    """
    from boardgauge.command.drawing import draw_board

    for written in draw_board(board, what, output, format_, paper, state, path, full, wiring):
        click.echo(written)


@click.command()
@click.argument("board")
@click.argument("source", metavar="SCENARIO.toml|RECORDING", type=click.Path())
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write: .svg, .png or .pdf.")
@click.option("--format", "format_", type=click.Choice(["svg", "png", "pdf"]), help="By default from the file.")
@click.option(
    "--timings",
    type=click.Choice(["nominal", "earliest", "latest", "random"]),
    help="Of a scenario: which durations inside their ranges the board uses.  [default: nominal]",
)
@click.option("--seed", type=int, default=0, show_default=True, help="For random timings.")
@click.option("--wiring", help="Of a recording: what the channels mean. By default the board's own.")
@setting_option
@click.option("--from", "start", metavar="TIME", help="Where the chart begins: 90s, 1.5min.")
@click.option("--to", "end", metavar="TIME", help="Where it ends.")
@click.option("--signals", metavar="NAMES", help="Only these, by commas: signals, timings, rules, conditions.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@explained
def chart(board: str, source: str, output: str | None, format_: str | None, **asked: Any) -> None:
    """Draw the timing chart of a scenario (as simulated) or of a recording of BOARD.

    Waves of what changes, timings as ramps with the window in which each may be over, and arrows from what brings a
    change about to the change. On paper (.pdf, .png) rows that would be too small to read go on more pages.
    """
    from boardgauge.command.charting import chart_of_file

    for path in chart_of_file(board, source, output, format_, **asked):
        click.echo(path)
