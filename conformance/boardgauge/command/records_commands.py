"""What the program does with records (list, show, export, verify, judge again, figures, lots), and the certificate.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from boardgauge.command.failing import explained
from boardgauge.command.options import setting_option, start_option, wiring_option

_WANTED = (
    click.option("--serial", metavar="NO", help="Only boards of this serial number; * stands for anything."),
    click.option("--board", metavar="ID", help="Only boards of this spec."),
    click.option("--verdict", type=click.Choice(["conforms", "deviates", "undecided"]), help="Only this verdict."),
    click.option("--lot", metavar="NAME", help="Only this lot."),
    click.option("--operator", metavar="NAME", help="Only what this person measured."),
    click.option("--since", metavar="WHEN", help="Only what was measured on or after: 2026-03-02 or 2026-03-02T09:30."),
    click.option("--until", metavar="WHEN", help="Only what was measured before; a day without a time is included."),
)
_simulated_option = click.option("--simulated", is_flag=True, help="Count simulated boards too.")
_json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


def _wanted_options(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(_WANTED):
        command = option(command)
    return command


class _AfterDatabase(click.Group):
    """A group whose commands come after the database, or before it; without one, it lists."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the database first, and ``list`` where no command is named."""
        if len(args) > 1 and args[0] in self.commands and not args[1].startswith("-") and not Path(args[0]).exists():
            args = [args[1], args[0], *args[2:]]
        if args and not args[0].startswith("-") and (len(args) == 1 or args[1].startswith("-")):
            args = [args[0], "list", *args[1:]]
        return super().parse_args(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write each command with the whole of its first sentence."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, self.commands[name].get_short_help_str(limit=200)) for name in self.commands])


@click.group(cls=_AfterDatabase, subcommand_metavar="[COMMAND] [ARGS]...")
@click.argument("database")
@click.pass_context
def records(ctx: click.Context, database: str) -> None:
    """Look into the records that `judge --record` and the bench keep of boards.

    DATABASE is a file (SQLite) or the SQLAlchemy URL of a database. Without a COMMAND its runs are listed:
    `boardgauge records bench.db --lot 26-14`. `boardgauge records bench.db list --help` has the options.
    """
    ctx.obj = database


@records.command("list")
@_wanted_options
@_json_option
@click.pass_obj
@explained
def list_(database: str, /, as_json: bool, **wanted: Any) -> None:
    """List runs, in the order in which they were measured."""
    from boardgauge.command.records_telling import list_runs

    list_runs(database, wanted, as_json)


@records.command()
@click.argument("run", type=click.IntRange(min=1))
@_json_option
@click.option("--recording", metavar="FOLDER", type=click.Path(), help="Also write the recording into this folder.")
@click.pass_obj
@explained
def show(database: str, /, run: int, as_json: bool, recording: str | None) -> None:
    """Show one run: what came of it, what was measured, what it was judged by."""
    from boardgauge.command.records_telling import show_run

    show_run(database, run, as_json, recording)


@records.command()
@click.argument("output", type=click.Path(dir_okay=False))
@_wanted_options
@click.pass_obj
@explained
def export(database: str, /, output: str, **wanted: Any) -> None:
    """Write runs and measured times as a table, a row a run: a .csv or .parquet file."""
    from boardgauge.command.records_telling import export_runs

    export_runs(database, output, wanted)


@records.command()
@_wanted_options
@_json_option
@click.pass_obj
@explained
def verify(database: str, /, as_json: bool, **wanted: Any) -> None:
    """Hold recordings and specs against the digests under which they were kept.

    Exit status: 0 all is as it was, 1 evidence is missing or changed, 2 the records could not be read, 3 a spec says
    something else today than when a board was judged by it.
    """
    from boardgauge.command.records_keeping import verify_records

    sys.exit(verify_records(database, wanted, as_json))


@records.command()
@click.argument("run", nargs=-1, type=click.IntRange(min=1))
@_wanted_options
@click.option("--by-spec-of-today", is_flag=True, help="By the spec as it is now; by default as it was then.")
@click.option("--keep", is_flag=True, help="Keep what comes of it as new runs; whole visits are judged then.")
@click.pass_obj
@explained
def again(database: str, /, run: tuple[int, ...], by_spec_of_today: bool, keep: bool, **wanted: Any) -> None:
    """Judge kept recordings again: the runs of these numbers, or all that the options ask for.

    Exit status: 0 every verdict is as it was kept, 1 one is another, 2 one could not be judged.
    """
    from boardgauge.command.records_keeping import judge_runs_again

    sys.exit(judge_runs_again(database, run, wanted, by_spec_of_today, keep))


@records.command()
@click.argument("timing", nargs=-1)
@_wanted_options
@click.option(
    "-o", "--output", type=click.Path(dir_okay=False), help="Draw the histogram of one TIMING: .svg, .png or .pdf."
)
@_simulated_option
@_json_option
@click.pass_obj
@explained
def timings(
    database: str, /, timing: tuple[str, ...], output: str | None, simulated: bool, as_json: bool, **wanted: Any
) -> None:
    """Tell how each timing spreads over the boards: histogram, mean, capability, trend, and drift from lot to lot.

    Exit status: 0 nothing moves, 1 a trend or a drift was found, 2 something could not be used.
    """
    from boardgauge.command.figures_telling import tell_figures

    sys.exit(tell_figures(database, timing, wanted, output, as_json, simulated=simulated))


@records.command()
@click.argument("name")
@click.option(
    "--size",
    "sizes",
    multiple=True,
    required=True,
    metavar="[LOT=]NUMBER",
    help="How many boards a lot has: a number for all lots, LOT=NUMBER for one; may be repeated.",
)
@click.option("--limit", default="1.0", show_default=True, help="Acceptable quality limit, per cent of bad boards.")
@click.option("--board", metavar="ID", help="The spec of its boards; needed only if the lot has boards of several.")
@click.option("--reduced", is_flag=True, help="Inspect fewer boards where the lots before allow it.")
@click.option(
    "--corrected",
    multiple=True,
    metavar="LOT",
    help="Before this lot, what was wrong was put right: inspection that was discontinued begins again.",
)
@_simulated_option
@_json_option
@click.pass_obj
@explained
def lot(
    database: str,
    /,
    name: str,
    sizes: tuple[str, ...],
    limit: str,
    board: str | None,
    reduced: bool,
    corrected: tuple[str, ...],
    simulated: bool,
    as_json: bool,
) -> None:
    """Accept lot NAME or not, by single sampling of ISO 2859-1, level II.

    The lots of the same boards before it decide how strictly: normal, tightened or reduced inspection. Exit status: 0
    accept, 1 do not accept, 2 something could not be used, 3 more boards have to be judged.
    """
    from boardgauge.command.lot_telling import tell_lot

    sys.exit(tell_lot(database, name, sizes, limit, board, reduced, corrected, as_json, simulated=simulated))


@click.command()
@click.argument("board")
@click.argument("recordings", metavar="[RECORDING]...", nargs=-1, type=click.Path())
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    required=True,
    type=click.Path(dir_okay=False),
    help="A .pdf (the certificate, one page), .html (charts to look into), .xml (JUnit) or .json; may be repeated.",
)
@click.option("--serial", metavar="NO", help="The serial number of the board; a certificate asks for it.")
@click.option(
    "--record", metavar="DATABASE", help="Take the recordings of the board's last visit out of these records."
)
@click.option("--lot", metavar="NAME", help="The lot that the board is of.")
@click.option("--operator", metavar="NAME", help="Who measured.")
@click.option("--measured", metavar="WHEN", help="When the recordings were made: 2026-03-02 or 2026-03-02T09:30.")
@wiring_option
@start_option
@setting_option
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@explained
def certificate(
    board: str,
    recordings: tuple[str, ...],
    outputs: tuple[str, ...],
    serial: str | None,
    record: str | None,
    lot: str | None,
    operator: str | None,
    measured: str | None,
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    paper: str,
) -> None:
    """Certify one board: judge its recordings and write what came of it, on one page or for a machine.

    All RECORDINGs are of the one board; or with --record they are taken out of the records. Exit status: 0 it conforms,
    1 it deviates, 2 something could not be read or used, 3 it is undecided.
    """
    from boardgauge.command.certifying import About, write_certificate

    about = About(serial, lot, operator, measured)
    sys.exit(write_certificate(board, recordings, wiring, start, setting, record, about, outputs, paper))
