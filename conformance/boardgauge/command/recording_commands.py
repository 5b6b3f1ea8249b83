"""What the program does with recordings: judge, diagnose, look at, convert, read a lamp.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import sys
from typing import Any, Literal

import click

from boardgauge.command.failing import Unusable, explained
from boardgauge.command.options import record_options, setting_option, start_option, wiring_option


@click.command()
@click.argument("board")
@click.argument("recordings", metavar="RECORDING...", nargs=-1, type=click.Path())
@wiring_option
@start_option
@setting_option
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
@record_options
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
    **asked: Any,
) -> None:
    """Judge what a real board did, as a logger or an analyser recorded it, against its spec.

    RECORDING is a file, a folder (all recordings in it, told by their endings) or a pattern such as 'logs/*.vcd'.
    """
    if not recordings:
        raise Unusable(
            f"{board} is taken for the board, and no recording is given: boardgauge judge BOARD RECORDING...\n"
            "boardgauge boards lists the boards of the library; boardgauge look RECORDING needs none"
        )
    from boardgauge.command.judging import judge_recordings
    from boardgauge.command.keeping import Asked

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
            asked=Asked(**asked),
        )
    )


@click.command()
@click.argument("board")
@click.argument("recording", type=click.Path())
@wiring_option
@start_option
@setting_option
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


@click.command()
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


@click.command()
@click.argument("recording", type=click.Path())
@click.option("-o", "--output", required=True, type=click.Path(dir_okay=False), help="File to write.")
@click.option(
    "--format",
    "format_",
    type=click.Choice(["vcd", "csv", "jsonl", "parquet", "arrow", "arrows"]),
    help="By default from the name of the file.",
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

    The name of the file says how it is written: .vcd; .csv, .tsv; .jsonl, .ndjson; .parquet; .arrow, .feather (a file)
    or .arrows (a stream). A text file is packed if .gz, .xz, .bz2 or .zst follows. What a format cannot hold is kept
    in a note in the file, and told.
    """
    from boardgauge.command.converting import convert_recording

    convert_recording(recording, output, format_, shape, delimiter, decimal_comma)


@click.command()
@click.argument("board")
@click.argument("recording", type=click.Path())
@wiring_option
@click.option("--lamp", "lamps", multiple=True, metavar="NAME", help="Only this lamp; may be repeated.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def lamp(board: str, recording: str, wiring: str | None, lamps: tuple[str, ...], as_json: bool) -> None:
    """Tell what the lamps of BOARD showed over time, by its table: how sure that is, and what could look the same.

    Exit status: 0 as a rule, 1 if something was shown that no line of the table explains, 2 if something could not be
    read or used.
    """
    from boardgauge.command.lamp_telling import tell_lamps

    sys.exit(tell_lamps(board, recording, wiring, lamps, as_json))
