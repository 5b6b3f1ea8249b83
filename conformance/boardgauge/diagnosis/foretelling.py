"""Say what each explanation predicts next, which cannot be told apart, and the step that would part the others best.

Law of this module: nothing is predicted that the boards themselves do not do when simulated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import combinations

from attrs import evolve, frozen

from boardgauge.diagnosis.explanation import Explanation, NextStep
from boardgauge.diagnosis.rehearsing import Look, Poke, Rehearsal, Told
from boardgauge.faults.naming import spoken
from boardgauge.language.model import Board

_GOOD = "good"


@frozen
class Foretold:
    """Explanations with what they predict and the groups they fall in, and the step that parts the groups."""

    explanations: tuple[Explanation, ...]
    next_step: NextStep | None


def foretell(rehearsal: Rehearsal, explanations: Sequence[Explanation], boards: Sequence[Board]) -> Foretold:
    """Rehearse the explanations (each with its board) on every poke."""
    pokes = rehearsal.pokes()
    names = [_GOOD, *(str(number) for number in range(len(boards)))]
    all_boards = [rehearsal.board, *boards]
    seen: dict[tuple[str, int], list[tuple[int, Look]] | None] = {}
    for name, board in zip(names, all_boards, strict=True):
        for number, poke in enumerate(pokes):
            seen[name, number] = rehearsal.looks(name, board, poke)

    def from_good(number: int, poke: int) -> Told | None:
        mine, good = seen[str(number), poke], seen[_GOOD, poke]
        return None if mine is None or good is None else rehearsal.parts(mine, good)

    def alike(one: int, other: int) -> bool:
        runs = [(seen[str(one), poke], seen[str(other), poke]) for poke in range(len(pokes))]
        if not any(a is not None and b is not None for a, b in runs):
            # What cannot be rehearsed is not known to look like anything.
            return False
        return not any((a is None) != (b is None) or (a and b and rehearsal.parts(a, b)) for a, b in runs)

    classes = in_classes(len(boards), alike)
    found = tuple(
        evolve(
            explanations[number],
            group=group,
            predicts=_prediction(rehearsal.board, pokes, partial(from_good, number)),
        )
        for group, members in enumerate(classes, 1)
        for number in members
    )
    leaders = {group: str(members[0]) for group, members in enumerate(classes, 1)}
    return Foretold(found, _best(rehearsal, pokes, leaders, seen))


def in_classes(count: int, alike: Callable[[int, int], bool]) -> list[list[int]]:
    """Give the numbers up to ``count`` in classes: each comes to the first of which it is alike to every member.

    To be alike within a tolerance does not carry over from one to the next; so it is asked of each pair.
    """
    classes: list[list[int]] = []
    for number in range(count):
        home = next((members for members in classes if all(alike(other, number) for other in members)), None)
        if home is None:
            classes.append([number])
        else:
            home.append(number)
    return classes


def _prediction(board: Board, pokes: Sequence[Poke], told: Callable[[int], Told | None]) -> str | None:
    for number, poke in enumerate(pokes):
        where = told(number)
        if where is not None:
            first = "if nothing is done" if not poke.changes else f"if you {poke.words}"
            when = poke.moment(where.after)
            mine, good = _differing(board, where.one, where.other)
            if not poke.changes and where.after < 1_000_000:
                return f"from the end of the recording on: {mine} (a good board: {good})"
            return f"{first}, {when}: {mine} (a good board: {good})"
    return None


def _differing(board: Board, one: Look, other: Look) -> tuple[str, str]:
    mine, good = [], []
    for number, output in enumerate(board.outputs):
        if one[0][number] != other[0][number]:
            mine.append(f"{spoken(board, output)} {'on' if one[0][number] else 'off'}")
            good.append("on" if other[0][number] else "off")
    for number, lamp in enumerate(board.lamps):
        if one[1][number] != other[1][number]:
            mine.append(f"lamp {spoken(board, lamp)} {one[1][number]}")
            good.append(other[1][number])
    return ", ".join(mine), ", ".join(good)


def _best(
    rehearsal: Rehearsal,
    pokes: Sequence[Poke],
    leaders: dict[int, str],
    seen: dict[tuple[str, int], list[tuple[int, Look]] | None],
) -> NextStep | None:
    """Give the poke after which the most groups show different things."""
    if len(leaders) < 2:
        return None
    best: tuple[tuple[int, int, int], NextStep] | None = None
    for number, poke in enumerate(pokes):
        looks = {group: seen[name, number] for group, name in leaders.items()}
        runnable = {group: row for group, row in looks.items() if row is not None}
        when: list[int] = []
        for a, b in combinations(runnable.values(), 2):
            where = rehearsal.parts(a, b)
            if where is not None:
                when.append(where.after)
        for after in sorted(set(when)):
            shown = {group: _held(row, after) for group, row in runnable.items()}
            kinds = len(set(shown.values()))
            key = (kinds, -poke.cost, -after)
            if kinds > 1 and (best is None or key > best[0]):
                best = (key, _step(rehearsal.board, poke, after, shown))
    return None if best is None else best[1]


def _held(row: Sequence[tuple[int, Look]], after: int) -> Look:
    """Give what shows so long after the poke, and stays a moment."""
    found = row[0][1]
    for when, look in row:
        if when > after + 1_000_000:
            break
        found = look
    return found


def _step(board: Board, poke: Poke, after: int, shown: dict[int, Look]) -> NextStep:
    if after < 1_000_000 and not poke.takes:
        when = ""
    else:
        when = f", and look {poke.moment(after)}" if poke.changes else f" {after / 1_000_000:.0f} s"
    outputs = [n for n in range(len(board.outputs)) if len({look[0][n] for look in shown.values()}) > 1]
    lamps = [n for n in range(len(board.lamps)) if len({look[1][n] for look in shown.values()}) > 1]
    names, lamp_names = list(board.outputs), list(board.lamps)
    rows = []
    for group, look in sorted(shown.items()):
        words = [f"{spoken(board, names[n])} {'on' if look[0][n] else 'off'}" for n in outputs]
        words += [f"lamp {spoken(board, lamp_names[n])} {look[1][n]}" for n in lamps]
        rows.append((group, ", ".join(words)))
    return NextStep(poke.words + when, tuple(rows))
