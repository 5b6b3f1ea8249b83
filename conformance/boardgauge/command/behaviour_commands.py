"""What the program shows of how boards behave: simulated, faulty, and the demonstration.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import click

from boardgauge.command.failing import explained


@click.command()
@click.argument("board")
@click.argument("scenario", type=click.Path(), required=False, metavar="SCENARIO")
@click.option(
    "--timings",
    type=click.Choice(["nominal", "earliest", "latest", "random"]),
    default="nominal",
    show_default=True,
    help="Which durations inside their ranges the board uses.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="For random timings.")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="Write the trace: any file that convert writes.")
@click.option(
    "--wiring",
    help="The channels are as this wiring names them (an id or a file). By default the board's own.",
)
@click.option("--fault", metavar="ID", help="Of a board with this fault; boardgauge faults lists them.")
@click.option("--quiet", is_flag=True, help="Do not tell what happened.")
@explained
def simulate(
    board: str,
    scenario: str | None,
    timings: str,
    seed: int,
    output: str | None,
    wiring: str | None,
    fault: str | None,
    quiet: bool,
) -> None:
    """Run the reference machine of BOARD on SCENARIO, a TOML file of steps."""
    from boardgauge.command.simulating import simulate_board, wants_a_scenario

    if scenario is None:
        wants_a_scenario(board)
    simulate_board(board, scenario, timings, seed, output, wiring, quiet, fault)


@click.command()
@click.argument("board")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def faults(board: str, as_json: bool) -> None:
    """List the single faults that BOARD can have, worked out from its spec, with their likely causes."""
    from boardgauge.command.faulting import list_faults

    list_faults(board, as_json)


@click.command()
@explained
def demo() -> None:
    """Judge a shipped good and a shipped faulty recording, and say what to try next. Needs no file."""
    from boardgauge.command.demonstrating import demonstrate

    demonstrate()
