"""The ways in which a recording can be read before a board is asked about it.

Law of this module: what a filter lets through, which short gaps of the supply were a loss, what a comparison remembers,
which changes were one moment: each is decided by the clauses from the recording alone, or is open, and then every way
is a reading of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise, product
from math import prod

from attrs import frozen

from boardgauge.cases.case import Case
from boardgauge.language.model import Board
from oracle import sensing
from oracle.trace import Trace, ticks

LEAD = 1_000_000
MOST = 64
"""So many ways of one thing, and so many readings in all."""

Level = tuple[tuple[int, bool | None], ...]
"""A row of levels with the times from which they are; None where a level is not known."""


@frozen
class Reading:
    """A board without sensors, and a trace without anything that its filters hold back."""

    board: Board
    trace: Trace


def readings(case: Case, board: Board, sampled: bool, held: bool = False) -> Iterator[Reading]:
    """Give every reading of a case; ``sampled``: with changes anywhere between two samples.

    ``held``: what is not known stayed as it was, or at rest if it was never known; else it may have changed.
    """
    assert case.end is not None
    lead = LEAD if case.start == "power-up" else 0
    end = case.end + lead
    sensed = sensing.comparisons(board)
    if sensed and sum(row.signal == "power" for row in case.rows) > 1:
        raise NotImplementedError("a sensor through a loss of power")
    restings = list(product((False, True), repeat=len(sensed) if sensing.edges(board) else 0)) or [()]
    supplies = _supplies(_rows(case, "power", lead, True), board, end)
    for resting in restings:
        plain = sensing.without_sensors(board, sensed, resting or [False] * len(sensed))
        rows = _levels(case, board, plain, sensed, lead, end)
        names = list(rows)
        ways = [[seen for row in rows[n] for seen in _filtered(row, plain, n, end, case, sampled)] for n in names]
        number = len(restings) * len(supplies)
        for way in ways:
            number *= len(way)
        if number > MOST:
            raise NotImplementedError("too many readings")
        for supply, *seen in product(supplies, *ways):
            inputs = dict(zip(names, seen, strict=True))
            yield Reading(plain, _trace(case, plain, {"power": supply, **inputs}, lead, end, sampled, held))


def not_known(case: Case) -> bool:
    """Tell whether some input is not known all of the time."""
    return bool(case.not_recorded) or any(row.value is None for row in case.rows)


def nominal(case: Case, board: Board) -> tuple[Board, dict[str, list[tuple[int, bool]]]]:
    """Give the board without sensors, and what comes at its inputs, where nothing of that is open.

    Raises NotImplementedError where something is.
    """
    sensed = sensing.comparisons(board)
    plain = sensing.without_sensors(board, sensed, [False] * len(sensed))
    rows = {n: [(r.time, bool(r.value)) for r in case.rows if r.signal == n] for n in ("power", *board.inputs)}
    rows = {name: row for name, row in rows.items() if name == "power" or name in plain.inputs}
    rows["power"] = rows["power"] or [(0, True)]
    for comparison in sensed:
        ways = list(sensing.levels(board, comparison, _values(case, comparison.sensor, 0)))
        if len(ways) > 1 or any(side is None for _, side in ways[0]) or sensing.edges(board):
            raise NotImplementedError("a comparison that may go either way")
        rows[comparison.name] = [(time, bool(side)) for time, side in ways[0]]
    return plain, rows


def _rows(case: Case, name: str, lead: int, otherwise: bool) -> Level:
    """Give a signal's levels as recorded: with samples, from the first sample that is not before each."""
    rows = [(row.time, None if row.value is None else bool(row.value)) for row in case.rows if row.signal == name]
    if name == "power":
        if any(value is None for _, value in rows):
            raise NotImplementedError("a supply that is not known")
        first: bool | None = case.start != "power-up"
        rows = rows or [(0, True)] if first is False else []
    else:
        first = next((value for time, value in reversed(rows) if time <= 0), otherwise)
        rows = [row for row in rows if row[0] > 0]
    if name in case.not_recorded:
        return ((0, None),)
    every = case.sampled_every
    moved = [(t + lead if not every else -(-(t + lead) // every) * every, v) for t, v in rows]
    return tuple(_changes([(0, first), *moved]))


def _changes(rows: Sequence[tuple[int, bool | None]]) -> Level:
    found: list[tuple[int, bool | None]] = []
    for time, value in rows:
        if found and found[-1][0] == time:
            found.pop()
        if not found or found[-1][1] is not value:
            found.append((time, value))
    return tuple(found)


def _levels(
    case: Case, board: Board, plain: Board, sensed: Sequence[sensing.Sensed], lead: int, end: int
) -> dict[str, list[Level]]:
    found = {}
    for name, row in plain.inputs.items():
        if name in board.inputs:
            found[name] = [_rows(case, name, lead, row.contact == "normally closed")]
    for comparison in sensed:
        values = _values(case, comparison.sensor, lead)
        found[comparison.name] = [_changes(way) for way in sensing.levels(board, comparison, values)]
    return found


def _values(case: Case, sensor: str, lead: int) -> list[tuple[int, Fraction]]:
    rows = [(row.time, row.value) for row in case.rows if row.signal == sensor]
    if case.sampled_every or not any(time <= 0 for time, _ in rows) or any(value is None for _, value in rows):
        raise NotImplementedError("a sensor that is not known all of the time")
    first = next(value for time, value in reversed(rows) if time <= 0)
    found = [(0, first), *((time + lead, value) for time, value in rows if time > 0)]
    return [(time, Fraction(value)) for time, value in found if value is not None]


# -- what is let through ----------------------------------------------------------------------------------------------


def _filtered(row: Level, board: Board, name: str, end: int, case: Case, sampled: bool) -> Iterator[Level]:
    """Give the ways in which a filter may let the changes of an input through."""
    least, greatest = board.inputs[name].filter.least, board.inputs[name].filter.greatest
    loose = (case.sampled_every or 0) if sampled else 0
    comes_on = [time for time, on in _rows(case, "power", LEAD if case.start == "power-up" else 0, True) if on]
    choices: list[tuple[bool, ...]] = []
    for index, (time, value) in enumerate(row):
        lasts = row[index + 1][0] - time if index + 1 < len(row) else None
        known = index > 0 and value is not None and row[index - 1][1] is not None
        if not known or (lasts is None and end - time > greatest):
            choices.append((True,))
        elif lasts is None:
            choices.append((True, False))
        elif row[index + 1][1] is None:
            choices.append((True, False) if lasts - loose <= greatest else (True,))
        else:
            looked_at = any(time - loose <= on <= time + lasts for on in comes_on)
            choices.append((True,) * (looked_at or lasts + loose >= least) + (False,) * (lasts - loose <= greatest))
    flickers = bool(loose) and least >= loose
    for seen in dict.fromkeys(product(*choices)):
        taken = _changes([change for change, yes in zip(row, seen, strict=True) if yes])
        yield from _flickered(taken, loose, least) if flickers else (taken,)


def _flickered(row: Level, gap: int, least: int) -> Iterator[Level]:
    """Give the ways in which flicker too short to count, less than the filter's first time from a change, may have put
    it off or forward."""
    by = [gap * number for number in range(1, (least - 1) // gap + 2)]
    moves = [(0,) if not index or None in {value, row[index - 1][1]} else (0, *by, *(-time for time in by))
             for index, (_, value) in enumerate(row)]  # fmt: skip
    if prod(map(len, moves)) > MOST:
        raise NotImplementedError("too many readings")
    for way in product(*moves):
        moved = [(time + move, value) for (time, value), move in zip(row, way, strict=True)]
        if all(first < then for (first, _), (then, _) in pairwise(moved)):
            yield tuple(moved)


def _supplies(row: Level, board: Board, end: int) -> list[Level]:
    """Give the ways in which gaps of the supply may have been losses."""
    least, greatest = board.rides_through.least, board.rides_through.greatest
    gaps = [i for i, (_, on) in enumerate(row) if on is False and i > 0]
    choices = []
    for index in gaps:
        lasts = row[index + 1][0] - row[index][0] if index + 1 < len(row) else None
        if lasts is None and end - row[index][0] <= greatest:
            choices.append((True, False))
        elif lasts is None or not greatest:
            choices.append((True,))
        else:
            choices.append((True,) * (lasts >= least) + (False,) * (lasts <= greatest))
    found = []
    for lost in product(*choices):
        gone = {n for i, yes in zip(gaps, lost, strict=True) if not yes for n in (i, i + 1)}
        found.append(tuple(change for i, change in enumerate(row) if i not in gone))
    return found


# -- the trace --------------------------------------------------------------------------------------------------------


def _trace(
    case: Case, board: Board, given: Mapping[str, Level], lead: int, end: int, sampled: bool, held: bool
) -> Trace:
    signals, free = {}, {}
    for name, row in given.items():
        # A sensor close to its limit is known: it is the board that may decide either way.
        known = name not in case.not_recorded and not any(r.signal == name and r.value is None for r in case.rows)
        if held and not known:
            row = _held(row, board.inputs[name].contact == "normally closed")
        edges = [*row, (end, None)]
        free[name] = tuple((a, b) for (a, value), (b, _) in pairwise(edges) if value is None and b > a)
        first = row[0][1]
        signals[name] = tuple((time, bool(value)) for time, value in row if value is not None and time > 0)
        signals[name] = ((0, bool(first)), *signals[name])
    unseen = frozenset(case.not_recorded) & board.outputs.keys()
    for name in board.outputs:
        rows = _rows(case, name, lead, False) if name not in unseen else ((0, False),)
        if case.start == "power-up" and name not in unseen:
            # What a row says at 0 of an output is what it shows then, not how it stood before.
            shown = [(row.time + lead, bool(row.value)) for row in case.rows if row.signal == name]
            every = case.sampled_every
            rows = ticks([(0, False), *((-(-t // every) * every if every else t, v) for t, v in shown)])
        signals[name] = tuple((time, bool(value)) for time, value in rows)
    lamps = {}
    for name in board.lamps:
        if name not in case.not_recorded:
            shows = [(row.time + lead, bool(row.value)) for row in case.rows if row.signal == name]
            lamps[name] = ticks([(0, False), *shows])
    if lamps and (case.sampled_every or any(r.value is None for r in case.rows if r.signal in lamps)):
        raise NotImplementedError("a lamp that is not seen all of the time")
    every = (case.sampled_every or 0) if sampled else 0
    hides = {n: row.filter.least for n, row in board.inputs.items() if row.filter.least < every}
    return Trace(
        signals,
        end,
        {name: parts for name, parts in free.items() if parts},
        unseen,
        every,
        hides,
        _moments(board, signals, every),
        lamps,
        case.start == "power-up",
    )


def _held(row: Level, was: bool) -> Level:
    found = []
    for time, value in row:
        was = was if value is None else value
        found.append((time, was))
    return _changes(found)


def _moments(board: Board, signals: Mapping[str, Level], every: int) -> dict[tuple[str, int], int]:
    """Give the changes that are taken in together: chains of one moment that fit inside it as a whole."""
    compared = [name for name in board.inputs if name.startswith("compared ")]
    changes = sorted((t, n, i) for n in board.inputs for i, (t, _) in enumerate(signals[n]) if i)
    if every and board.same_moment:
        raise NotImplementedError("changes of one moment that were sampled")
    found: dict[tuple[str, int], int] = {}
    chains: list[list[tuple[int, str, int]]] = []
    for change in changes:
        together = bool(chains) and change[0] - chains[-1][-1][0] < board.same_moment
        sensor = bool(chains) and change[0] == chains[-1][-1][0] and {change[1], chains[-1][-1][1]} <= set(compared)
        if together or sensor:
            chains[-1].append(change)
        else:
            chains.append([change])
    for number, chain in enumerate(chains, 1):
        names = [name for _, name, _ in chain]
        spread = chain[-1][0] - chain[0][0]
        whole = spread < board.same_moment or spread == 0
        if len(chain) > 1 and whole and len(set(names)) == len(names):
            if any(board.inputs[name].responds_within < spread for name in names):
                raise NotImplementedError("one moment that is longer than a response")
            found |= {(name, index): number for _, name, index in chain}
        elif len(chain) > 1 and any(board.inputs[name].responds_within < board.same_moment for name in names):
            raise NotImplementedError("changes that may be of one moment, and answers sooner than one is over")
    return found
