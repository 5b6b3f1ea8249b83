"""The program ``boardgauge`` and its commands.

Law of this module: a command parses, calls one function and prints; whatever takes long to import is imported where it
is used, so that ``--help`` answers at once.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any, Literal

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, UNUSABLE, Unusable, explained

CAUTION = (
    "Boards on the bench carry line voltage and charged capacitors, and units refrigerant pressure, gas and moving "
    "fans. Follow local codes; leave live work to licensed people; never leave a speed-up link or a jumper on a safety "
    "switch."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]}, epilog=CAUTION)
@click.version_option(package_name="boardgauge", message="%(prog)s %(version)s")
def main() -> None:
    """Hold a control board against its spec.

    BOARD is the path of a board spec (a TOML file) or the id of a board of the library; `boardgauge boards` lists them.

    Exit status: 0 all conform, 1 at least one deviates, 2 something could not be read or used, 3 none deviates but
    some are undecided.
    """
    # numpy would start a thread on every core, here and in each worker, for algebra that nothing of this needs.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


@main.command()
@click.argument("specs", metavar="BOARD...", nargs=-1, required=True)
@click.option("--thorough", is_flag=True, help="Also try every two things that can happen at one moment.")
@click.option("--no-exploring", is_flag=True, help="Only read the spec; do not run it through its states.")
@click.option("--no-proving", is_flag=True, help="Do not prove its requirements, nor that each part can come about.")
@click.option("--most", type=click.IntRange(min=1), default=400_000, show_default=True, help="Zones kept in a proof.")
@click.option("--scenarios", type=click.Path(file_okay=False), help="Write the scenario of each refutation into it.")
@explained
def vet(
    specs: tuple[str, ...], thorough: bool, no_exploring: bool, no_proving: bool, most: int, scenarios: str | None
) -> None:
    """Check board specs: errors with their places, then advice, then what can be proved of them.

    Proved or refuted: that the board always comes to rest, that each rule, line of a lamp and timing can come about,
    and every requirement. Exit status: 0 nothing is refuted, 1 something is, 2 a spec cannot be used.
    """
    from boardgauge.command.vetting import vet_spec

    proofs = None
    if not no_proving:
        from boardgauge.command.proving import Proofs

        proofs = Proofs(most, None if scenarios is None else Path(scenarios))
    results = [vet_spec(spec, thorough, not no_exploring, proofs) for spec in specs]
    sys.exit(max(results, key=(CONFORMS, DEVIATES, UNUSABLE).index))


@main.command()
@click.argument("board")
@click.option(
    "--what",
    metavar="WHAT",
    help="overview; ids of rules or outputs, by commas; a kind, as lockouts or delays; or all.  [default: overview]",
)
@click.option(
    "--state", metavar="NAME", help="One operating state, named as in the overview, with all ways in and out."
)
@click.option("--path", metavar="SCENARIO|RECORDING", type=click.Path(), help="The overview with the way it takes.")
@click.option("--full", is_flag=True, help="Tell states apart by every output, on as many pages as it takes.")
@click.option("--wiring", help="Of the recording of --path: what its channels mean. By default the board's own.")
@click.option("-o", "--output", type=click.Path(), help="File to write (a folder with --what all).")
@click.option("--format", "format_", type=click.Choice(["svg", "png", "pdf", "dot"]), help="By default from the file.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@explained
def draw(
    board: str,
    what: str | None,
    state: str | None,
    path: str | None,
    full: bool,
    wiring: str | None,
    output: str | None,
    format_: str | None,
    paper: str,
) -> None:
    """Draw a board: its operating states, one of them, some of its rules, or the path of a run.

    On paper (.pdf, .png) what would be too small to read is split over pages, joined by lettered connectors.
    """
    from boardgauge.command.drawing import draw_board

    for written in draw_board(board, what, output, format_, paper, state, path, full, wiring):
        click.echo(written)


@main.command()
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
@click.option("--setting", multiple=True, metavar="NAME=POSITION", help="The position of a setting; may be repeated.")
@click.option("--from", "start", metavar="TIME", help="Where the chart begins: 90s, 1.5min.")
@click.option("--to", "end", metavar="TIME", help="Where it ends.")
@click.option("--signals", metavar="NAMES", help="Only these, by commas: signals, timings, rules, conditions.")
@explained
def chart(board: str, source: str, output: str | None, format_: str | None, **asked: Any) -> None:
    """Draw the timing chart of a scenario (as simulated) or of a recording of BOARD.

    Waves of what changes, timings as ramps with the window in which each may be over, and arrows from what brings a
    change about to the change.
    """
    from boardgauge.command.charting import chart_of_file

    for path in chart_of_file(board, source, output, format_, **asked):
        click.echo(path)


@main.command()
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


@main.command()
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


@main.command()
@click.argument("board")
@click.argument("scenario", type=click.Path())
@click.option(
    "--timings",
    type=click.Choice(["nominal", "earliest", "latest", "random"]),
    default="nominal",
    show_default=True,
    help="Which durations inside their ranges the board uses.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="For random timings.")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="Write the trace: any file that convert writes.")
@click.option("--wiring", help="Name the channels as this wiring does (an id or a file).")
@click.option("--fault", metavar="ID", help="Of a board with this fault; boardgauge faults lists them.")
@click.option("--quiet", is_flag=True, help="Do not tell what happened.")
@explained
def simulate(
    board: str,
    scenario: str,
    timings: str,
    seed: int,
    output: str | None,
    wiring: str | None,
    fault: str | None,
    quiet: bool,
) -> None:
    """Run the reference machine of BOARD on SCENARIO, a TOML file of steps."""
    from boardgauge.command.simulating import simulate_board

    simulate_board(board, scenario, timings, seed, output, wiring, quiet, fault)


@main.command()
@click.argument("board")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def faults(board: str, as_json: bool) -> None:
    """List the single faults that BOARD can have, worked out from its spec, with their likely causes."""
    from boardgauge.command.faulting import list_faults

    list_faults(board, as_json)


@main.command()
@click.argument("board")
@click.argument("recording", type=click.Path())
@click.option("--wiring", help="What the channels mean: the id of a wiring or a file. By default the board's own.")
@click.option(
    "--start",
    type=click.Choice(["power-up", "unknown"]),
    help="What is known of the board before the recording: that it was fresh, or nothing. By default read from it.",
)
@click.option("--setting", multiple=True, metavar="NAME=POSITION", help="The position of a setting; may be repeated.")
@click.option("--pairs", is_flag=True, help="Also try two faults at once (bounded, and slower).")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def diagnose(
    board: str,
    recording: str,
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    pairs: bool,
    as_json: bool,
) -> None:
    """Say which single faults of BOARD explain RECORDING, the likeliest first, and what would tell them apart.

    Exit status: 0 consistent with a good board, 1 a fault, 2 something could not be read or used, 3 undecided.
    """
    from boardgauge.command.diagnosing import diagnose_recording

    sys.exit(diagnose_recording(board, recording, wiring, start, setting, pairs, as_json))


@main.command()
@click.argument("board")
@click.argument("recordings", metavar="RECORDING...", nargs=-1, required=True, type=click.Path())
@click.option("--wiring", help="What the channels mean: the id of a wiring or a file. By default the board's own.")
@click.option(
    "--start",
    type=click.Choice(["power-up", "unknown"]),
    help="What is known of the board before the recording: that it was fresh, or nothing. By default read from it.",
)
@click.option("--setting", multiple=True, metavar="NAME=POSITION", help="The position of a setting; may be repeated.")
@click.option("--joined", is_flag=True, help="The recordings are parts of one, one after the other.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a recording, each on a line of its own.")
@click.option(
    "--explain",
    metavar="PATH",
    type=click.Path(),
    help="Draw each deviation as a timing chart: into a folder, or a .svg, .png or .pdf file (more are numbered).",
)
@click.option(
    "--table",
    metavar="FILE",
    type=click.Path(),
    help="Write verdicts and measured timings, a row a recording: a .csv or .parquet file.",
)
@click.option("--jobs", type=click.IntRange(min=1), help="How many cores to use at most. By default all.")
@click.option("--cluster", metavar="ADDRESS", help="Judge on the Dask cluster with its scheduler at this address.")
@explained
def judge(
    board: str,
    recordings: tuple[str, ...],
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    joined: bool,
    as_json: bool,
    explain: str | None,
    table: str | None,
    jobs: int | None,
    cluster: str | None,
) -> None:
    """Judge what a real board did, as a logger or an analyser recorded it, against its spec.

    RECORDING is a file, a folder (all recordings in it, told by their endings) or a pattern such as 'logs/*.vcd'.
    """
    from boardgauge.command.judging import judge_recordings

    sys.exit(
        judge_recordings(
            board,
            recordings,
            wiring,
            start,
            setting,
            joined=joined,
            as_json=as_json,
            explain=explain,
            table=table,
            jobs=jobs,
            cluster=cluster,
        )
    )


@main.command()
@click.argument("trace", metavar="RECORDING", type=click.Path())
@click.option("--board", help="Also hold the names and the looks of the channels against this board.")
@click.option(
    "--wiring", help="What the channels mean: the id of a wiring or a file. By default their names are matched."
)
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="Draft a wiring for the board into this file.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def look(trace: str, board: str | None, wiring: str | None, output: str | None, as_json: bool) -> None:
    """Tell what is in a recording: span, rate, channels, and what looks wrong. Drafts a wiring."""
    from boardgauge.command.looking import look as look_into

    look_into(trace, board, wiring, output, as_json)


@main.command()
@click.argument("recording", type=click.Path())
@click.argument("output", type=click.Path(dir_okay=False))
@click.option(
    "--format",
    "format_",
    type=click.Choice(["vcd", "csv", "jsonl", "parquet", "arrow", "arrows"]),
    help="By default from the name of OUTPUT.",
)
@click.option("--wide", "shape", flag_value="wide", help="A row for each sample; so by default if there are samples.")
@click.option("--long", "shape", flag_value="long", help="A row for each change; so by default if there are none.")
@click.option(
    "--delimiter", type=click.Choice(["comma", "semicolon", "tab"]), help="Between the columns of a CSV file."
)
@click.option("--decimal-comma", is_flag=True, help="Write 0,5 and not 0.5 in a CSV file.")
@explained
def convert(
    recording: str,
    output: str,
    format_: str | None,
    shape: Literal["wide", "long"] | None,
    delimiter: str | None,
    decimal_comma: bool,
) -> None:
    """Write a recording in another format: it reads back the same.

    The name of OUTPUT says how it is written: .vcd; .csv, .tsv; .jsonl, .ndjson; .parquet; .arrow, .feather (a file) or
    .arrows (a stream). A text file is packed if .gz, .xz, .bz2 or .zst follows. What a format cannot hold is kept in a
    note in the file, and told.
    """
    from boardgauge.command.converting import convert_recording

    convert_recording(recording, output, format_, shape, delimiter, decimal_comma)


@main.command()
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


@main.command()
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


@main.command()
@click.argument("board")
@click.argument("recording", type=click.Path())
@click.option("--wiring", help="What the channels mean: the id of a wiring or a file. By default the board's own.")
@click.option("--lamp", "lamps", multiple=True, metavar="NAME", help="Only this lamp; may be repeated.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def lamp(board: str, recording: str, wiring: str | None, lamps: tuple[str, ...], as_json: bool) -> None:
    """Tell what the lamps of BOARD showed over time, by its table: how sure that is, and what could look the same."""
    from boardgauge.command.lamp_telling import tell_lamps

    tell_lamps(board, recording, wiring, lamps, as_json)


@main.command()
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


@main.command()
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


@main.command()
@click.argument("first", metavar="BOARD")
@click.argument("second", metavar="[OTHER]", required=False)
@click.option("--replaces", is_flag=True, help="Ask only whether OTHER may replace BOARD: all it does, BOARD may do.")
@click.option("--renaming", type=click.Path(dir_okay=False), help="A mapping file: what terminals are called on OTHER.")
@click.option("--since", metavar="REVISION", help="Compare BOARD with what its file was at a git revision.")
@click.option("--scenarios", type=click.Path(file_okay=False), help="Write the scenarios, for either board, into it.")
@click.option("--most", type=click.IntRange(min=1), default=2_000, show_default=True, help="States tried in a search.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def compare(
    first: str,
    second: str | None,
    replaces: bool,
    renaming: str | None,
    since: str | None,
    scenarios: str | None,
    most: int,
    as_json: bool,
) -> None:
    """Compare two boards: the same, or a scenario on which a bench can tell them apart, and all that differs.

    Exit status: 0 the same (or OTHER may replace BOARD), 1 different, 2 not comparable, 3 not decided.
    """
    from boardgauge.command.comparing import Asked, main_status

    sys.exit(main_status(first, second, since, Asked(replaces, renaming, scenarios, as_json, most)))


@main.command()
@click.argument("board")
@click.option("--scxml", "format_", flag_value="scxml", help="A state chart (W3C SCXML) at nominal times.")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write; by default the board's id.")
@click.option("--setting", multiple=True, metavar="NAME=POSITION", help="The position of a setting; may be repeated.")
@explained
def export(board: str, format_: str | None, output: str | None, setting: tuple[str, ...]) -> None:
    """Write the machine of BOARD for another program to run."""
    from boardgauge.command.exporting import export_board

    click.echo(export_board(board, format_, output, setting))


@main.command()
@click.argument("name", required=False)
@explained
def boards(name: str | None) -> None:
    """List the boards of the library, or tell about one."""
    from boardgauge.command.library import list_boards, tell_board

    if name is None:
        list_boards()
    else:
        tell_board(name)


@main.command()
@explained
def demo() -> None:
    """Judge a shipped good and a shipped faulty recording, and say what to try next. Needs no file."""
    from boardgauge.command.demonstrating import demonstrate

    demonstrate()
