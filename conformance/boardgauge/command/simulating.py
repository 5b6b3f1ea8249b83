"""``boardgauge simulate``."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import NoReturn

import click

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, find_wiring, spec_path
from boardgauge.language import UnusableSpec
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.narrate import narrate
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.scenario import ScenarioStuck, play
from boardgauge.machine.scenario_reader import read_scenario
from boardgauge.machine.settle import Engine
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.writing import CannotWrite, target_of, write_recording


def wants_a_scenario(given: str) -> NoReturn:
    """Tell that a scenario is missing, with one to begin with. Raises Unusable."""
    from boardgauge.command.first_scenario import first_scenario

    raise Unusable(
        f"a scenario is missing, which says what is done to the board: boardgauge simulate {shlex.quote(given)} "
        f"SCENARIO. One to begin with, to be put into a file and changed:\n\n{first_scenario(find_board(given))}"
    )


def simulate_board(
    given: str,
    scenario: str,
    timings: str,
    seed: int,
    output: str | None,
    wiring: str | None,
    quiet: bool,
    fault: str | None = None,
) -> None:
    """Simulate, tell what happened, and write the trace; with ``fault``, of a board that has this fault.

    A faulty board may never do what a step waits for: then the run ends there, which is told.
    """
    board = find_board(given)
    try:
        target = None if output is None else target_of(output)
    except CannotWrite as error:
        raise Unusable(str(error)) from None
    stuck: str | None = None
    engine = Engine(compile_board(board)) if fault is None else _with_fault(board, fault)
    machine = engine.machine
    try:
        steps = read_scenario(Path(scenario), board)
        run = play(machine, steps, timings, seed, engine)  # type: ignore[arg-type]  # click gives one of the words
    except UnusableSpec as error:
        raise Unusable(f"{scenario} cannot be used:\n{error}") from None
    except ScenarioStuck as error:
        run = error.run
        if fault is None:
            for line in () if quiet else narrate(machine, run):
                click.echo(line)
            raise Unusable(str(error)) from None
        stuck = str(error)
    except CannotSettle as error:
        what = given if fault is None else f"{given} with the fault {fault}"
        raise Unusable(f"{what} does not come to rest on this scenario: {error}") from None
    if not quiet:
        for line in narrate(machine, run):
            click.echo(line)
    if stuck is not None:
        click.echo(f"boardgauge: with this fault the scenario ends here: {stuck}", err=True)
    if target is not None:
        # As ``judge`` reads it without being told a wiring.
        wired = find_wiring(wiring, board, spec_path(given))
        write_recording(recording_of(run, board, wired, target.path.name), target)
        click.echo(f"written: {target.path}")


def _with_fault(board: Board, fault: str) -> Engine:
    from boardgauge.faults import UnknownFault, engine_of, fault_of

    try:
        return engine_of(fault_of(board, fault))
    except UnknownFault as error:
        raise Unusable(f"--fault {fault}: {error}") from None
