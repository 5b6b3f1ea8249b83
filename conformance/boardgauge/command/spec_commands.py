"""What the program does with specs: draft, vet, compare, export, list.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, UNUSABLE, explained
from boardgauge.command.options import setting_option


@click.command()
@click.argument("name", required=False)
@click.option("-o", "--output", type=click.Path(), help="File to write; by default NAME.toml.")
@click.option("--like", metavar="BOARD", help="Ask nothing: a variant of this board of the library, to be changed.")
@click.option("--answers", type=click.Path(), help="A file of answers; asks only for what it leaves open.")
@click.option("--answer", multiple=True, metavar="KEY=TEXT", help="One answer; may be repeated.")
@click.option("--no-asking", is_flag=True, help="Take the default where no answer is given.")
@click.option("--every-key", is_flag=True, help="Ask also for what is seldom needed.")
@click.option("--overwrite", is_flag=True, help="Write over a file that is there.")
@explained
def new(
    name: str | None,
    output: str | None,
    like: str | None,
    answers: str | None,
    answer: tuple[str, ...],
    no_asking: bool,
    every_key: bool,
    overwrite: bool,
) -> None:
    """Draft the spec of a board by asking about it.

    What is wrong with an answer is told at once. Broken off by Ctrl-C, the answers are kept in a file to go on from.
    Exit status: 0 the spec is written, 2 it cannot be used or written, 130 broken off.
    """
    from boardgauge.command.asking import new_spec
    from boardgauge.command.draft_files import Wanted

    sys.exit(new_spec(Wanted(name, output, like, answers, answer, not no_asking, every_key, overwrite)))


@click.command()
@click.argument("specs", metavar="BOARD...", nargs=-1, required=True)
@click.option("--thorough", is_flag=True, help="Also try every two things that can happen at one moment.")
@click.option("--no-exploring", is_flag=True, help="Only read the spec; do not run it through its states.")
@click.option("--no-proving", is_flag=True, help="Do not prove its requirements, nor that each part can come about.")
@click.option("--skip-others", is_flag=True, help="Pass over TOML files that are no board specs.")
@click.option("--most", type=click.IntRange(min=1), default=400_000, show_default=True, help="Zones kept in a proof.")
@click.option("--scenarios", type=click.Path(file_okay=False), help="Write the scenario of each refutation into it.")
@explained
def vet(
    specs: tuple[str, ...],
    thorough: bool,
    no_exploring: bool,
    no_proving: bool,
    skip_others: bool,
    most: int,
    scenarios: str | None,
) -> None:
    """Check board specs: errors with their places, then advice, then what can be proved of them.

    Proved or refuted: that the board always comes to rest, that each rule, line of a lamp and timing can come about,
    and every requirement. Exit status: 0 nothing is refuted, 1 something is, 2 a spec cannot be used.
    """
    from boardgauge.command.vetting import is_another_file, vet_spec

    if skip_others:
        specs = tuple(spec for spec in specs if not is_another_file(spec))
    proofs = None
    if not no_proving:
        from boardgauge.command.proving import Proofs

        proofs = Proofs(most, None if scenarios is None else Path(scenarios))
    results = [vet_spec(spec, thorough, not no_exploring, proofs) for spec in specs]
    sys.exit(max(results, key=(CONFORMS, DEVIATES, UNUSABLE).index, default=CONFORMS))


@click.command()
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


@click.command()
@click.argument("board")
@click.option("--scxml", "format_", flag_value="scxml", help="A state chart (W3C SCXML) at nominal times.")
@click.option("--c", "format_", flag_value="c", help="C99 at nominal times, a header and a source, for a firmware.")
@click.option("--interface", "format_", flag_value="interface", help="The C header by which a rig drives a firmware.")
@click.option("-o", "--output", type=click.Path(), help="File to write, with --scxml; else the folder.")
@click.option("--tick", metavar="TIME", help="Of --c: how long one tick lasts.  [default: 1 ms]")
@click.option("--unfiltered", is_flag=True, help="Of --c: take in each input at once; you filter them.")
@click.option("--for-rig", is_flag=True, help="Of --c: with what makes it firmware for a rig of kind library.")
@setting_option
@explained
def export(
    board: str,
    format_: str | None,
    output: str | None,
    tick: str | None,
    unfiltered: bool,
    for_rig: bool,
    setting: tuple[str, ...],
) -> None:
    """Write the machine of BOARD for another program to run: a state chart, or C.

    What the format cannot hold is refused, with its place in the spec.
    """
    from boardgauge.command.exporting import export_board

    for path in export_board(board, format_, output, setting, tick, unfiltered=unfiltered, for_rig=for_rig):
        click.echo(path)


@click.command()
@click.argument("name", required=False)
@explained
def boards(name: str | None) -> None:
    """List the boards of the library, or tell about one."""
    from boardgauge.command.library import list_boards, tell_board

    if name is None:
        list_boards()
    else:
        tell_board(name)
