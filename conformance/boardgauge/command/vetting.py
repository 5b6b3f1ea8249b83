"""``boardgauge vet``."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, UNUSABLE
from boardgauge.command.finding import spec_path
from boardgauge.language import Advice, Board, UnusableSpec, advise, read_board

if TYPE_CHECKING:
    from boardgauge.command.proving import Proofs
    from boardgauge.machine.explore import Exploration
    from boardgauge.machine.table import Machine


def is_another_file(given: str) -> bool:
    """Tell, and say, whether a file is TOML but no board spec: none of the tables that only a spec has stands in it.

    What cannot be read is not passed over, since nobody knows what it was to be.
    """
    from boardgauge.language.keys import SECTIONS, VARIANT_TABLES
    from boardgauge.language.nodes import read_nodes
    from boardgauge.language.text_file import text_of

    path = spec_path(given)
    try:
        root = read_nodes(text_of(path), str(path)).value
    except UnusableSpec:
        return False
    assert isinstance(root, dict)
    tables = {name for name, node in root.items() if isinstance(node.value, dict)}
    # A wiring has settings too, and a scenario or a plan names its board; only a spec has a table of it.
    if tables & {"board", *SECTIONS, *VARIANT_TABLES} - {"settings"}:
        return False
    click.echo(f"{path}: no board spec, passed over")
    return True


def vet_spec(given: str, thorough: bool, explore: bool, proofs: Proofs | None = None) -> int:
    """Print what is wrong with a spec, what to look at again, and what is proved of it; give the exit status.

    ``proofs`` says how to prove, None not to.
    """
    path = spec_path(given)
    try:
        board = read_board(path)
    except UnusableSpec as error:
        for problem in error.problems:
            click.echo(str(problem))
        number = len(error.problems)
        click.echo(f"{path}: cannot be used: {number} error{'' if number == 1 else 's'}")
        return UNUSABLE
    advice = [*advise(board), *_curves_that_cannot_be_had(board)]
    for row in advice:
        click.echo(f"{row.at}: advice: {row.key}: {row.message}")
    usable = True
    explored = "" if explore else ", not explored, nothing proved"
    if explore:
        from boardgauge.drawings import words
        from boardgauge.machine.compile import compile_board
        from boardgauge.machine.explore import explore as explore_machine
        from boardgauge.machine.restless import how_to_mend, place_of

        machine = compile_board(board)
        found = explore_machine(machine, together=thorough)
        for finding in found.findings:
            usable = False
            at, key = place_of(board, finding.rules)
            where = f"{at}: {key}" if key else str(at)
            click.echo(f"{where}: it does not come to rest: {finding.reason}; {how_to_mend(board, finding.rules)}")
            for line in words.scenario(machine, finding.scenario):
                click.echo(f"    {line}")
        if usable and found.complete and board.lamps:
            alike = _what_looks_alike(machine, found)
            advice += alike
            for row in alike:
                click.echo(f"{row.at}: advice: {row.key}: {row.message}")
        how = "every" if found.complete else "not every"
        explored = f", {how} state explored ({len(found.configs)} of them)"
    refuted = 0
    if usable and explore and proofs is not None:
        from boardgauge.command.proving import prove_spec

        refuted, proved = prove_spec(given, board, proofs)
        explored += proved
    rows = (("rule", len(board.rules)), ("output", len(board.outputs)), ("piece of advice", len(advice)))
    counted = ", ".join(_counted(number, word) for word, number in rows)
    click.echo(f"{path}: {'can' if usable else 'cannot'} be used: {counted}{explored}")
    return UNUSABLE if not usable else DEVIATES if refuted else CONFORMS


def _counted(number: int, word: str) -> str:
    first, *rest = word.split(" ", 1)
    return " ".join((str(number), first + ("" if number == 1 else "s"), *rest))


def _what_looks_alike(machine: Machine, found: Exploration) -> list[Advice]:
    """Tell of the lines of a lamp behind which lockouts or steps cannot be told apart, one piece of advice a line."""
    from boardgauge.identifying import Knowledge, likeness_words, likenesses
    from boardgauge.machine.operating import overview
    from boardgauge.machine.settle import Engine

    seen = overview(machine, found=found, most_states=len(found.configs) + 1, most_edges=len(found.edges) + 1)
    known = Knowledge(machine, Engine(machine), found, seen)
    return [
        Advice(one.lamp.at, f"lamps.{one.lamp.id}.lines", f"line {one.line + 1}: {likeness_words(known, one)}")
        for one in likenesses(known)
    ]


def _curves_that_cannot_be_had(board: Board) -> Iterator[Advice]:
    """Tell of sensors whose curve is not there; the board can be used without, its ohms cannot be read."""
    rows = [row for row in board.inputs.values() if row.curve is not None]
    if not rows:
        return
    from boardgauge.sensors.curve_reader import BadCurve
    from boardgauge.sensors.library import UnknownCurve
    from boardgauge.traces.sensor_pickup import spec_curve

    for row in rows:
        try:
            spec_curve(row)
        except (UnknownCurve, BadCurve) as error:
            message = f"its curve cannot be had, so recordings of its ohms cannot be read: {error}"
            yield Advice(row.at, f"inputs.{row.id}.curve", message)
