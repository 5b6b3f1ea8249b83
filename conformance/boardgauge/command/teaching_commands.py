"""What the program makes for people: handouts, tables, pages, worksheets, and answers at the bench.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import sys
from typing import Any, Literal

import click

from boardgauge.command.failing import Unusable, explained


@click.command()
@click.argument("board")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write: .pdf or .html (one file).")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@click.option("--with", "wanted", metavar="SHEETS", help="Only these sheets, separated by commas.")
@click.option("--without", "unwanted", metavar="SHEETS", help="All sheets but these.")
@click.option("--units", type=click.Choice(["C", "F"]), help="Degrees for the reader. By default as the spec has them.")
@click.option("--title", help="Printed on the cover in place of the board's title.")
@click.option("--scenario", multiple=True, type=click.Path(), help="Add the story and chart of a scenario; repeatable.")
@explained
def handout(
    board: str,
    output: str | None,
    paper: str,
    wanted: str | None,
    unwanted: str | None,
    units: str | None,
    title: str | None,
    scenario: tuple[str, ...],
) -> None:
    """Make a handout of BOARD for paper or the web, with cautions.

    Sheets: overview, terminals, outputs, lamps, sequence, charts, timings, settings, sensors, rules; and identify, the
    decision tree, where --with asks for it.
    """
    from boardgauge.command.handing_out import write_handout

    click.echo(write_handout(board, output, paper, wanted, unwanted, units, title, scenario))


@click.command()
@click.argument("board")
@click.argument("what", metavar="WHAT")
@click.option("--units", type=click.Choice(["C", "F"]), help="Degrees for the reader. By default as the spec has them.")
@click.option("--json", "as_json", is_flag=True, help="Print data instead of text.")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="Write to a .txt, .md or .json file.")
@explained
def show(board: str, what: str, units: str | None, as_json: bool, output: str | None) -> None:
    """Print one sheet of BOARD as text.

    WHAT: terminals, outputs, lamps, sequence, timings, settings or sensors.
    """
    from boardgauge.command.handing_out import show as show_sheet

    show_sheet(board, what, units, as_json, output)


@click.command()
@click.argument("board")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write; by default the board's id.")
@explained
def page(board: str, output: str | None) -> None:
    """Write a page on which BOARD is played: one HTML file for any browser, with no network.

    Inputs to click, outputs, lamps and timers to watch, a timing chart, what happened in words, undo, and a mode in
    which a class predicts what the board does next. It plays the spec; it is not the real board.
    """
    from boardgauge.command.playing import write_page

    click.echo(write_page(board, output))


@click.command()
@click.argument("board")
@click.option(
    "--lamp", multiple=True, metavar="PATTERN", help="What the lamp shows: '3 flashes', fast, steady, 'line 2'."
)
@click.option("--on", "--running", multiple=True, metavar="TERMINAL", help="An output, call or signal that is on.")
@click.option("--off", "--standing", multiple=True, metavar="TERMINAL", help="One that is off. `power` counts as one.")
@click.option("--open", multiple=True, metavar="TERMINAL", help="A switch or link that is open.")
@click.option("--closed", multiple=True, metavar="TERMINAL", help="A switch that is closed.")
@click.option("--fitted", multiple=True, metavar="TERMINAL", help="A link that is fitted.")
@click.option("--pressed", multiple=True, metavar="TERMINAL", help="A button that is pressed.")
@click.option("--released", multiple=True, metavar="TERMINAL", help="A button that is released.")
@click.option("--reads", multiple=True, metavar="SENSOR=READING", help="What a sensor measures: coil=-5C.")
@click.option("--for", "stood_for", metavar="TIME", help="How long all has stood so, with nothing touched: 90s, 5min.")
@click.option("--hands-off", is_flag=True, help="Suggest nothing that changes an input or the supply.")
@click.option("--ask/--no-ask", default=None, help="Ask question after question. By default on a terminal.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--tree", is_flag=True, help="Draw the decision tree of what is left in place of answering.")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="With --tree: a .pdf, .svg, .png or .html file.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@explained
def identify(
    board: str,
    stood_for: str | None,
    hands_off: bool,
    ask: bool | None,
    as_json: bool,
    tree: bool,
    output: str | None,
    paper: Literal["letter", "a4"],
    **told: tuple[str, ...],
) -> None:
    """Find out which state BOARD is in by what is seen of it, and what to measure next.

    All options of what is seen may be repeated. A terminal goes by its id or by words of its title.
    """
    from boardgauge.command import identifying

    if tree:
        for path in identifying.draw_tree(board, told, stood_for, not hands_off, output, paper):
            click.echo(path)
    elif output is not None:
        raise Unusable("-o goes with --tree; what identify tells is printed")
    else:
        identifying.identify(board, told, stood_for, not hands_off, as_json, ask)


@click.command()
@click.argument("board")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write: .pdf or .html (one file).")
@click.option("--level", type=click.IntRange(1, 3), default=1, show_default=True, help="How much is asked at once.")
@click.option("--exercises", type=click.IntRange(1, 40), default=6, show_default=True, help="How many exercises.")
@click.option("--faults", type=click.IntRange(0), help="How many of them are on faulty boards.  [default: a quarter]")
@click.option("--seed", type=int, default=0, show_default=True, help="The same seed makes the same sheet.")
@click.option("--key", type=click.Path(dir_okay=False), help="Write the key into this file, not behind the exercises.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@click.option("--units", type=click.Choice(["C", "F"]), help="Degrees for the reader. By default as the spec has them.")
@explained
def worksheet(
    board: str,
    output: str | None,
    level: Literal[1, 2, 3],
    exercises: int,
    faults: int | None,
    seed: int,
    key: str | None,
    paper: Literal["letter", "a4"],
    units: Literal["C", "F"] | None,
) -> None:
    """Make a worksheet of BOARD: exercises with room to write, and a key worked out by simulating the board.

    Level 1: one event, which output and what the lamp shows. Level 2: sequences and times, faulty boards. Level 3:
    lockouts, counts, loss of power, limits, charts to draw, faulty boards.
    """
    from boardgauge.command.working import write_worksheet

    for path in write_worksheet(board, output, level, exercises, seed, paper, key, units, faults):
        click.echo(path)


@click.command()
@click.argument("curve", required=False)
@click.option("--at", metavar="TEMP", help="Check: the sensor's temperature, 25C or 77F.")
@click.option("--ohms", metavar="OHMS", help="Check: what the meter shows, 9.8k; OL where it is over its range.")
@click.option("--meter", metavar="PERCENT", help="How far the meter may be off.  [default: 1%]")
@click.option("--thermometer", metavar="KELVIN", help="How far the thermometer may be off.  [default: 0.5K]")
@click.option("--tolerance", metavar="TOL", help="How far the sensor may be off: '± 1 K', '± 5 %', 'class A'.")
@click.option("--to-chassis", metavar="OHMS", help="Check: what the meter shows from the leads to the chassis.")
@click.option("--from", "low", metavar="TEMP", help="Chart: where it begins.  [default: -30C, or the curve's end]")
@click.option("--to", "high", metavar="TEMP", help="Chart: where it ends.  [default: 100C, or the curve's end]")
@click.option("--step", metavar="DEGREES", help="Chart: from row to row.  [default: 5 °C or 10 °F]")
@click.option("--fahrenheit", is_flag=True, help="Chart: rows at whole steps of °F.")
@click.option("--fixed", metavar="OHMS", help="Chart: the fixed resistor of a divider; adds a column.")
@click.option("--supply", metavar="VOLTS", help="Chart: the divider's supply; the column is volts.")
@click.option("--counts", type=click.IntRange(2), help="Chart: the converter's full scale; the column is counts.")
@click.option(
    "--sensor-at",
    type=click.Choice(["top", "bottom"]),
    help="Chart: where in the divider the sensor stands: to the supply or to ground.  [default: bottom]",
)
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="Draw the chart: a .svg, .png or .pdf file.")
@click.option("--format", "format_", type=click.Choice(["svg", "png", "pdf"]), help="By default from the file.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), help="[default: letter]")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def sensor(curve: str | None, as_json: bool, **given: Any) -> None:
    """Print a sensor's chart, or check a sensor against its curve.

    CURVE is the name of a curve, a curve file, or BOARD:INPUT where a spec names one; without it, the curves are
    listed. A check leaves with 0 (good), 1 (bad, open or shorted) or 3 (doubtful).
    """
    from boardgauge.command.sensing import Asked, list_curves, tell_sensor

    sys.exit(list_curves(as_json) if curve is None else tell_sensor(curve, Asked(as_json=as_json, **given)))
