"""What a technician can do next, what may come of it, and which of it tells the most for the least.

Law of this module: what costs least is done first: look at a lamp, then measure a terminal, then wait, then change an
input, then switch the supply off and on (common practice, no source). Of what costs the same, what leaves the fewest
situations at worst is taken, then the first in the board's order. Only a call or a button is ever changed: never a
safety switch, a link or a sensor.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from attrs import frozen

from boardgauge.drawings import words
from boardgauge.identifying.knowledge import Candidate, Knowledge, Look
from boardgauge.identifying.passing import passing
from boardgauge.language.expressions import Comparison
from boardgauge.language.model import InputKind
from boardgauge.language.quantity_writer import write_quantity
from boardgauge.machine.explore import POWER_LOSS
from boardgauge.machine.table import Level

Kind = Literal["look", "measure", "wait", "change an input", "power cycle"]
COSTS: tuple[Kind, ...] = ("look", "measure", "wait", "change an input", "power cycle")
"""What can be done, the cheapest first."""


@frozen
class Outcome:
    """One thing that may come of an experiment, and the candidates that are left then."""

    text: str
    left: frozenset[Candidate]


@frozen
class Experiment:
    """One thing to do. ``id`` names it in data; ``within`` is how long to wait (microseconds), 0 where not at all."""

    kind: Kind
    id: str
    text: str
    outcomes: tuple[Outcome, ...]
    within: int = 0


def next_experiment(
    known: Knowledge, left: frozenset[Candidate], without: Iterable[str] = (), pokes: bool = True
) -> Experiment | None:
    """Give the cheapest experiment that splits what is left, None where none does.

    ``without``: ids of experiments that cannot be done; ``pokes``: whether inputs and supply may be changed.
    """
    without = set(without)
    before = len({origin for origin, _ in left})
    if before < 2:
        return None
    for kind in COSTS:
        if kind in {"change an input", "power cycle"} and not pokes:
            continue
        best: tuple[tuple[int, int], Experiment] | None = None
        for one in _of_kind(known, left, kind):
            sizes = [len({origin for origin, _ in outcome.left}) for outcome in one.outcomes]
            if one.id in without or len(sizes) < 2 or min(sizes) == before:
                continue
            rank = (max(sizes), sum(sizes))
            if best is None or rank < best[0]:
                best = rank, one
        if best is not None:
            return best[1]
    return None


def _of_kind(known: Knowledge, left: frozenset[Candidate], kind: Kind) -> Iterator[Experiment]:
    match kind:
        case "look":
            yield from _lamps(known, left)
        case "measure":
            yield from _terminals(known, left)
        case "wait":
            yield from _wait(known, left)
        case "change an input":
            yield from _changes(known, left)
        case "power cycle":
            yield _power_cycle(known, left)


# -- without touching anything ---------------------------------------------------------------------------------------


def _lamps(known: Knowledge, left: frozenset[Candidate]) -> Iterator[Experiment]:
    board = known.machine.board
    for number, lamp in enumerate(board.lamps.values()):
        by_text: dict[str, set[Candidate]] = {}
        for text in [words.pattern(line.shows) for line in lamp.lines] + ["dark"]:
            by_text.setdefault(text, set())
        for one in sorted(left):
            by_text[shown(known, number, known.looks[one[1]])].add(one)
        text = f"Look at the {words.thing(board, lamp.id)}: what does it show?"
        yield Experiment("look", f"look {lamp.id}", text, _outcomes(by_text))


def shown(known: Knowledge, lamp: int, look: Look) -> str:
    """Say what a lamp shows."""
    row = tuple(known.machine.board.lamps.values())[lamp]
    line = look.lines[lamp]
    return "dark" if line < 0 else words.pattern(row.lines[line].shows)


def _terminals(known: Knowledge, left: frozenset[Candidate]) -> Iterator[Experiment]:
    board, machine = known.machine.board, known.machine
    if len({known.looks[config].powered for _, config in left}) == 2:
        power = {
            word: {one for one in left if known.looks[one[1]].powered is on}
            for word, on in (("yes", True), ("no", False))
        }
        yield Experiment("measure", "measure power", "Measure the supply: does the board have power?", _outcomes(power))
    for row in machine.outputs:
        split = {
            word: {one for one in left if known.looks[one[1]].outputs[row.index] is on}
            for word, on in (("on", True), ("off", False))
        }
        text = f"Measure {labelled(known, row.output)}: on or off?"
        yield Experiment("measure", f"measure {row.output}", text, _outcomes(split))
    for level in machine.levels:
        may: dict[bool, set[Candidate]] = {}
        for on in (True, False):
            may[on] = {one for one in left if _may_stand(known, one[1], level.index, on)}
        kind = board.inputs[level.input].kind
        if level.comparison is not None:
            yield _reading(known, level, level.comparison, may)
        elif kind is not InputKind.BUTTON:
            low, high = words.states(kind)
            text = f"Measure {labelled(known, level.input)}: {high} or {low}?"
            yield Experiment("measure", f"measure {level.input}", text, _outcomes({high: may[True], low: may[False]}))


def _reading(known: Knowledge, level: Level, limit: Comparison, may: dict[bool, set[Candidate]]) -> Experiment:
    """Give the question for a sensor: beyond its limit, beyond where it lets go again, or between the two."""
    other = {"<": ">=", "<=": ">", ">": "<=", ">=": "<"}[limit.op]
    answers = {f"{limit.op} {write_quantity(limit.limit)}": may[True]}
    if limit.until is None or limit.until_op is None:
        answers[f"{other} {write_quantity(limit.limit)}"] = may[False]
    else:
        answers["between"] = may[True] | may[False]
        answers[f"{limit.until_op} {write_quantity(limit.until)}"] = may[False]
    name = f"measure {level.input} {limit.op} {write_quantity(limit.limit)}"
    return Experiment(
        "measure", name, f"Measure {labelled(known, level.input)}: what does it read?", _outcomes(answers)
    )


def _may_stand(known: Knowledge, config: int, level: int, on: bool) -> bool:
    """Tell whether an input may stand so: without power a board knows nothing of its inputs."""
    return not known.looks[config].powered or known.found.configs[config].levels[level] is on


def labelled(known: Knowledge, name: str) -> str:
    """Give a terminal's name with its id beside it."""
    label = words.thing(known.machine.board, name)
    return label if label == name else f"{label} ({name})"


def _wait(known: Knowledge, left: frozenset[Candidate]) -> Iterator[Experiment]:
    times = [
        when
        for _, config in left
        for when, _ in passing(known, config).turns.values()
        if when is not None and passing(known, config).surely
    ]
    within = max(times, default=0)
    by_text: dict[str, set[Candidate]] = {"It stays as it is.": set()}
    for origin, config in sorted(left):
        ahead = passing(known, config)
        for at, until in ahead.stands.items():
            if until is None or until > within:
                by_text["It stays as it is."].add((origin, at))
        for at in ahead.turns:
            text = change_of_look(known, known.looks[config], known.looks[at])
            by_text.setdefault(text, set()).add((origin, at))
    if within:
        yield Experiment("wait", "wait", "Wait, touch nothing, and watch.", _outcomes(by_text), within)


# -- touching --------------------------------------------------------------------------------------------------------


def _changes(known: Knowledge, left: frozenset[Candidate]) -> Iterator[Experiment]:
    board, machine = known.machine.board, known.machine
    for level in machine.levels:
        if board.inputs[level.input].kind not in {InputKind.CALL, InputKind.BUTTON}:
            continue
        stands = {known.found.configs[config].levels[level.index] for _, config in left}
        if len(stands) != 1 or not all(known.looks[config].powered for _, config in left):
            continue
        new = not stands.pop()
        by_text: dict[str, set[Candidate]] = {}
        for origin, config in sorted(left):
            for edge in known.by_hand[config]:
                if edge.step.levels == ((level.index, new),) and not edge.step.expired and not edge.step.dropped:
                    text = change_of_look(known, known.looks[config], known.looks[edge.target])
                    by_text.setdefault(text, set()).add((origin, edge.target))
        label = labelled(known, level.input)
        verb = {(True, True): "Press", (True, False): "Release", (False, True): "Give", (False, False): "Take away"}[
            board.inputs[level.input].kind is InputKind.BUTTON, new
        ]
        text = f"{verb} {label}, and watch."
        yield Experiment("change an input", f"change {level.input}", text, _outcomes(by_text))


def _power_cycle(known: Knowledge, left: frozenset[Candidate]) -> Experiment:
    by_text: dict[str, set[Candidate]] = {}
    for origin, config in sorted(left):
        levels = known.found.configs[config].levels
        off = [edge.target for edge in known.by_hand[config] if edge.step == POWER_LOSS]
        off = off if known.looks[config].powered else [config]
        for dead in off:
            for edge in known.by_hand[dead]:
                same = known.found.configs[edge.target].levels == levels or not known.looks[config].powered
                if edge.step.power and same:
                    text = f"Then it shows: {look_in_words(known, known.looks[edge.target])}"
                    by_text.setdefault(text, set()).add((origin, edge.target))
    text = "Switch the supply off and on again, inputs as they are, and look at once."
    return Experiment("power cycle", "power cycle", text, _outcomes(by_text))


def _outcomes(by_text: dict[str, set[Candidate]]) -> tuple[Outcome, ...]:
    return tuple(Outcome(text, frozenset(found)) for text, found in by_text.items() if found)


# -- words -----------------------------------------------------------------------------------------------------------


def change_of_look(known: Knowledge, before: Look, after: Look) -> str:
    """Say what is seen to change."""
    board = known.machine.board
    said = []
    for value, verb in ((True, "on"), (False, "off")):
        names = [
            words.thing(board, row.output)
            for row in known.machine.outputs
            if after.outputs[row.index] is value and before.outputs[row.index] is not value
        ]
        if names:
            said.append(f"{' and '.join(names)} {('goes ' if len(names) == 1 else 'go ') + verb}")
    for number, lamp in enumerate(board.lamps.values()):
        old, new = shown(known, number, before), shown(known, number, after)
        if old != new:
            said.append(f"the {words.thing(board, lamp.id)} shows {new}")
    if not said:
        return "Nothing is seen to change."
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}."


def look_in_words(known: Knowledge, look: Look) -> str:
    """Say what a board shows: its lamps, and what is on."""
    board = known.machine.board
    lamps = [f"{words.thing(board, lamp)} {shown(known, n, look)}" for n, lamp in enumerate(board.lamps)]
    on = [words.thing(board, row.output) for row in known.machine.outputs if look.outputs[row.index]]
    return "; ".join([*lamps, f"on: {', '.join(on)}" if on else "every output off"]) + "."
