"""What the program does at the bench: plans, and runs of them on a rig.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import sys

import click
from click.core import ParameterSource

from boardgauge.command.failing import Unusable, explained


@click.command()
@click.argument("board", metavar="SPEC")
@click.option("--rig", required=True, metavar="RIG", type=click.Path(), help="The rig file: what stands on the bench.")
@click.option("--serial", required=True, metavar="NO", help="The serial number of the board on the bench.")
@click.option(
    "--plan",
    metavar="PLAN",
    type=click.Path(),
    help="The plan to carry out; else that of the board (plans/NAME.toml beside its spec), which is made if need be.",
)
@click.option("--planning-time", metavar="TIME", help="How long to look where a plan is made; 10 min unless said.")
@click.option("--operator", default="", metavar="NAME", help="Who stands at the bench; kept with the run.")
@click.option("-o", "--output", metavar="FOLDER", type=click.Path(), help="Where the run goes; bench-NO unless said.")
@click.option("--record", metavar="DATABASE", help="Keep a run that came to its end in these records.")
@click.option("--lot", metavar="NAME", help="The lot that the board is of, for --record.")
@click.option("--resume", is_flag=True, help="Go on with the run in that folder from its last safe point.")
@click.option("--stop-at-first", is_flag=True, help="End the run at the first deviation.")
@click.option("--yes", is_flag=True, help="Ask nothing: the cautions were read, and settings are as they should be.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@explained
def bench(
    board: str,
    rig: str,
    serial: str,
    plan: str | None,
    planning_time: str | None,
    operator: str,
    output: str | None,
    record: str | None,
    lot: str | None,
    resume: bool,
    stop_at_first: bool,
    yes: bool,
    as_json: bool,
) -> None:
    """Carry out a plan on a rig, judge the board while it runs, and keep what was seen whatever happens.

    Without --plan it is the plan that comes with the board, or the one kept beside the spec; where there is none, one
    is made for this rig and kept there, so that all boards of a batch run the same.

    Exit status: 0 the board passes the plan, 1 it deviates, 2 something could not be read or used, 3 undecided or the
    plan was not shown whole, 4 the rig failed, 5 a person said no; 130 or 143 after Ctrl-C or an order to end.
    """
    from boardgauge.command.benching import run_bench

    sys.exit(
        run_bench(
            board,
            rig,
            serial,
            plan,
            operator,
            output,
            planning_time=planning_time,
            resume=resume,
            stop_at_first=stop_at_first,
            yes=yes,
            as_json=as_json,
            record=record,
            lot=lot,
        )
    )


@click.command()
@click.argument("board", metavar="SPEC")
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    metavar="FILE",
    type=click.Path(dir_okay=False),
    help="Write the plan: .toml for a rig, .pdf or .txt for a person; may be repeated.",
)
@click.option(
    "--kept",
    is_flag=True,
    help="Plan nothing: write out the plan that comes with the board, or is kept beside its spec.",
)
@click.option("--table", is_flag=True, help="Print every step, with what a board in order shows.")
@click.option("--at-most", metavar="TIME", help="The most bench time, like 30 min: what shows most for its time first.")
@click.option("--faults", "groups", metavar="KINDS", help="Find faults of these kinds only, with commas between them.")
@click.option("--wired", metavar="NAMES", help="The outputs and lamps that the bench sees; by default all of them.")
@click.option("--wiring", help="The bench sees what this wiring names (an id or a file).")
@click.option(
    "--rig",
    metavar="RIG",
    type=click.Path(),
    help="Plan what this rig file drives and sees, and nothing that it says is never driven.",
)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="For the random lengths tried.")
@click.option(
    "--planning-time",
    metavar="TIME",
    default="10 min",
    show_default=True,
    help="Look no further then; what was found is still judged, and the plan says how far it came.",
)
@click.option("--jobs", type=click.IntRange(min=1), help="How many cores to use at most. By default all.")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True, help="For a PDF.")
@click.option("--enter", "entered", metavar="PLAN", type=click.Path(), help="Judge what a person wrote on its sheet.")
@click.option("--times", metavar="FILE", type=click.Path(), help="What was written, for --enter; else it is asked for.")
@click.option("--reaction", metavar="TIME", help="How far a written time may be off, for --enter; 0.5 s unless said.")
@click.option("--record", metavar="DATABASE", help="Keep what was written in these records, for --enter.")
@click.option("--serial", metavar="NO", help="The serial number of the board, for --record.")
@click.option("--lot", metavar="NAME", help="The lot that the board is of, for --record.")
@click.option("--operator", metavar="NAME", help="Who did it, for --record.")
@click.option("--measured", metavar="WHEN", help="When it was done, for --record; now unless said.")
@click.option("--note", default="", metavar="TEXT", help="What else is to be known, for --record.")
@explained
def plan(
    board: str,
    outputs: tuple[str, ...],
    kept: bool,
    table: bool,
    at_most: str | None,
    groups: str | None,
    wired: str | None,
    wiring: str | None,
    rig: str | None,
    seed: int,
    planning_time: str,
    jobs: int | None,
    paper: str,
    entered: str | None,
    times: str | None,
    reaction: str | None,
    record: str | None,
    serial: str | None,
    lot: str | None,
    operator: str | None,
    measured: str | None,
    note: str,
) -> None:
    """Plan what to do at the bench so that no single fault of SPEC stays unseen, in as little time as can be.

    With --kept, nothing is planned: a plan that there is is written out. With --enter, judge what a person wrote on
    the sheet of a plan. Exit status: 0 the plan was written, or what was entered conforms; 1 it deviates; 2 something
    could not be read or used; 3 undecided.
    """
    from boardgauge.command.keeping import Asked
    from boardgauge.command.planning import plan_board, write_kept
    from boardgauge.command.sheet_entering import enter

    if kept:
        _only_what_is_kept(click.get_current_context())
        write_kept(board, outputs, paper=paper, table=table)
        return
    if entered is None:
        if times is not None or reaction is not None:
            raise Unusable("--times and --reaction go with --enter")
        if note or any(text is not None for text in (record, serial, lot, operator, measured)):
            raise Unusable("--record, and what goes with it, keeps what was written: it goes with --enter")
        plan_board(
            board,
            outputs,
            at_most=at_most,
            groups=groups,
            wired=wired,
            wiring=wiring,
            rig=rig,
            seed=seed,
            planning_time=planning_time,
            jobs=jobs,
            paper=paper,
            table=table,
        )
        return
    if outputs or table or at_most or groups or wired or wiring or rig or jobs:
        raise Unusable("--enter judges a plan that is made: only --times, --reaction and --record go with it")
    records = Asked(record, serial, False, lot, operator, measured, note)
    sys.exit(enter(board, entered, times, reaction, records))


def _only_what_is_kept(context: click.Context) -> None:
    """Refuse with --kept what only a plan that is made now, or judged, can heed."""
    heeded = {"board", "outputs", "kept", "table", "paper"}
    for parameter in context.command.params:
        name = parameter.name or ""
        if name not in heeded and context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            raise Unusable(f"{parameter.opts[0]} does not go with --kept: the plan that is kept is written as it is")
