"""Turn deeds into the steps of a plan, with the windows in which a good board answers.

Law of this module: a step waits for what shows wherever something shows, so that a plan goes by the board and not by
nominal times. Windows come from good boards carried through the sitting, as early, as late and as chance will have it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from operator import attrgetter, itemgetter

from attrs import evolve, frozen

from boardgauge.language.model import Board, InputKind, Lamp
from boardgauge.language.quantities import MS, S
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.machine.run import Value
from boardgauge.machine.settle import Engine
from boardgauge.plans.carrying import Carried, carry_out
from boardgauge.plans.growing import Grown
from boardgauge.plans.hand import OFF_FOR, Deed, looking_time, up_to_tenth
from boardgauge.plans.killing import Lengths
from boardgauge.plans.plan import Measure, Observe, PlanStep, Set, Sitting, Wait, WaitFor
from boardgauge.plans.side import Rows, Side

BEFORE = S
TRIED = (
    Lengths("nominal"),
    Lengths("earliest"),
    Lengths("latest"),
    *(Lengths("random", seed) for seed in range(11, 15)),
)
_FOR_EVER = 100 * 3_600 * S
_WIDER = 200 * MS
_TIME = attrgetter("time")


@frozen
class Piece:
    """One deed with what a good board at nominal times shows in it."""

    deed: Deed
    rows: Rows


def pieces_of(grown: Grown) -> tuple[Piece, ...]:
    """Give the pieces of a grown sitting."""
    return tuple(Piece(deed, done.rows) for deed, done in zip(grown.deeds, grown.done, strict=True))


def sitting_of(id_: str, grown: Grown, good: Side) -> tuple[Sitting, tuple[int, ...]]:
    """Give the sitting of deeds, its windows still wide open, and how many steps there are to the end of each deed."""
    upto: list[int] = []
    steps: list[PlanStep] = [Wait(BEFORE)]
    shown = good.dark()
    for index, piece in enumerate(pieces_of(grown)):
        deed, name = piece.deed, f"s{index + 1}"
        if deed.cycle:
            steps += [Set(power=False), Wait(OFF_FOR), Set(dict(deed.values), True, name)]
            shown = good.dark()
        elif index == 0:
            steps.append(Set(power=True, id=name))
        elif deed.pulse:
            before = {key: _before(grown, index)[key] for key in deed.values}
            steps += [Set(dict(deed.values)), Wait(deed.pulse), Set(before, id=name)]
        elif deed.values:
            steps.append(Set(dict(deed.values), id=name))
        steps += _waiting(
            deed, piece.rows, shown[0], good.outputs, name, timed=not (deed.values or index == 0 or deed.cycle)
        )
        shown = piece.rows[-1][1]
        upto.append(len(steps))
    # Nothing is left fitted: what a speed-up or a setting reads goes back to where it stood, the supply off.
    steps.append(Set(power=False))
    steps.append(Wait(BEFORE))
    back = links_back(good.board, _before(grown, len(grown.deeds) - 1))
    if back:
        steps += [Set(back, why="nothing is left fitted that was not there before"), Wait(BEFORE)]
    return Sitting(id_, tuple(steps), dict(grown.positions), dict(grown.start)), tuple(upto)


def links_back(board: Board, values: Mapping[str, Value]) -> dict[str, Value]:
    """Give the links that are fitted, to be taken off."""
    return {row.id: False for row in board.inputs.values() if row.kind is InputKind.LINK and values.get(row.id)}


def _before(grown: Grown, index: int) -> dict[str, Value]:
    return dict(grown.done[index].joint.values)


def _waiting(
    deed: Deed, rows: Rows, before: tuple[bool, ...], outputs: Sequence[str], name: str, *, timed: bool
) -> list[PlanStep]:
    """Give the steps in which a board answers a deed: wait for each change that shows, then let it stand."""
    steps: list[PlanStep] = []
    last = 0
    for at, (levels, _) in rows:
        changed = [(row, new) for row, old, new in zip(outputs, before, levels, strict=True) if old != new]
        if changed:
            output, level = changed[0]
            id_ = f"{name}_{output}" if not steps else f"{name}_{output}_{len(steps) + 1}"
            steps.append(WaitFor(output, level, 0, _FOR_EVER, _FOR_EVER, id=id_))
            last = at
        before = levels
    whole = deed.settle + deed.wait
    # A wait for an end is over when it came; a look goes on for as long as it was meant to.
    rest = deed.settle if timed and deed.settle and steps else max(0, whole - last)
    return [*steps, Wait(rest)] if rest else steps


# -- windows ---------------------------------------------------------------------------------------------------------


def good_boards(sitting: Sitting, engine: Engine, lengths: Sequence[Lengths] = TRIED) -> list[Carried]:
    """Carry a sitting out on good boards: as early, as late and as chance will have it; those that come to rest."""
    tried = [carry_out(sitting, engine, row.timings, row.seed) for row in lengths]
    return [row for row in tried if row.settled]


def with_windows(
    sitting: Sitting, board: Board, engine: Engine, wired: Sequence[str], carried: Sequence[Carried] | None = None
) -> Sitting:
    """Give a sitting with its windows, what is observed and what is measured, as good boards have them.

    ``carried``: the good boards, where they have been taken through it.
    """
    # A limit has to be known before the step it belongs to is over on a board that is late.
    carried = good_boards(sitting, engine) if carried is None else carried
    steps: list[PlanStep] = []
    since, since_index = "", -1
    for index, step in enumerate(sitting.steps):
        if isinstance(step, WaitFor):
            times = [row.times[index] for row in carried]
            from_ = [row.times[since_index].ended if since_index >= 0 else row.times[index].begun for row in carried]
            after = [time.ended - start for time, start in zip(times, from_, strict=True)]
            took = max(time.ended - time.begun for time in times)
            least, most = max(0, min(after) - _WIDER), max(after) + _WIDER
            steps.append(
                evolve(step, earliest=least, latest=most, at_most=up_to_tenth(took + took // 20 + S), since=since)
            )
        elif isinstance(step, Wait):
            looked = _observed(step, index, carried, board, engine)
            steps.append(_seen(looked, wired))
        else:
            steps.append(step)
        if step.id and not isinstance(step, (Wait, Observe)):
            since, since_index = step.id, index
    return evolve(sitting, steps=tuple(steps))


def _seen(step: PlanStep, wired: Sequence[str]) -> PlanStep:
    """Give a look at what the bench sees of it."""
    if not isinstance(step, Observe):
        return step
    outputs = {name: level for name, level in step.outputs.items() if name in wired}
    lamps = {name: shows for name, shows in step.lamps.items() if name in wired}
    if not outputs and not lamps:
        return Wait(step.held, step.id, step.why)
    return evolve(step, outputs=outputs, lamps=lamps)


def _observed(step: Wait, index: int, carried: Sequence[Carried], board: Board, engine: Engine) -> PlanStep:
    """Give a wait as a look, where every good board shows the same all through it."""
    held: set[tuple[tuple[bool, ...], tuple[int, ...]]] = set()
    for row in carried:
        time = row.times[index]
        if not row.run.power.at(time.begun) or time.ended - time.begun < S:
            return step
        for edges in row.run.outputs.values():
            after = bisect_right(edges.changes, time.begun, key=itemgetter(0))
            if after < len(edges.changes) and edges.changes[after][0] < time.ended:
                return step
        story = row.run.story
        first = bisect_right(story, time.begun, key=_TIME)
        configs = [e.config for e in story[max(0, first - 1) : bisect_left(story, time.ended, lo=first, key=_TIME)]]
        held |= {
            (tuple(bool(e.at(time.begun)) for e in row.run.outputs.values()), engine.lamp_lines(c)) for c in configs
        }
    if len(held) != 1:
        return step
    levels, lines = held.pop()
    lamps = {
        lamp.id: write_pattern(lamp.lines[line].shows)
        for place, (lamp, line) in enumerate(zip(board.lamps.values(), lines, strict=True))
        if line >= 0 and all(_readable(lamp, place, line, row, index, engine) for row in carried)
    }
    return Observe(step.time, dict(zip(board.outputs, levels, strict=True)), lamps, step.id, step.why)


def _readable(lamp: Lamp, place: int, line: int, row: Carried, index: int, engine: Engine) -> bool:
    """Tell whether a line of a lamp is looked at for long enough to be read, its grace over by then."""
    time, look = row.times[index], looking_time(lamp, lamp.lines[line].shows)
    stood = time.begun
    story = row.run.story
    for number in range(bisect_left(story, time.ended, key=_TIME) - 1, -1, -1):
        if engine.lamp_lines(story[number].config)[place] != line:
            break
        stood = min(stood, story[number].time)
    grace = max(lamp.changes_within, lamp.not_judged_for)
    return time.ended - time.begun >= look and time.ended - stood >= grace + look


def with_measures(sitting: Sitting, engine: Engine) -> Sitting:
    """Give a sitting with the measuring of a timing after each step that waits for the end of one."""
    return evolve(sitting, steps=tuple(_measuring(sitting, engine)))


def _measuring(sitting: Sitting, engine: Engine) -> Iterator[PlanStep]:
    nominal = carry_out(sitting, engine)
    ends = {time.ended: row.id for row, time in zip(sitting.steps, nominal.times, strict=True) if row.id}
    # The first step to be over at a moment is what a timing counts from there.
    starts: dict[int, str] = {}
    for row, time in zip(sitting.steps, nominal.times, strict=True):
        if row.id:
            starts.setdefault(time.ended, row.id)
    measured = {}
    for stretch in nominal.run.stretches:
        timing = engine.machine.timings[stretch.timing]
        if stretch.how != "expired" or timing.role in {"requirement", "not judged", "window", "target"}:
            continue
        since, until = starts.get(stretch.origin), ends.get(stretch.end)
        duration = timing.choices[0]
        inside = duration.shortest <= stretch.end - stretch.origin <= duration.longest
        if inside and len(timing.choices) == 1 and since and until and since != until:
            measured[until] = (timing.name, since, duration.shortest, duration.longest)
    lags = {row.output: row.lag for row in engine.machine.outputs}
    for step in sitting.steps:
        yield step
        if isinstance(step, WaitFor) and step.id in measured:
            what, since, shortest, longest = measured[step.id]
            yield Measure(what, since, step.id, shortest, longest + lags[step.signal])
