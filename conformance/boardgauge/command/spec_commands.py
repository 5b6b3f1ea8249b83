"""What the program does with specs: vet, compare, export, list.

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
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write; by default the board's id.")
@setting_option
@explained
def export(board: str, format_: str | None, output: str | None, setting: tuple[str, ...]) -> None:
    """Write the machine of BOARD for another program to run."""
    from boardgauge.command.exporting import export_board

    click.echo(export_board(board, format_, output, setting))


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
