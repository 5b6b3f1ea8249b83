"""Hypothesis strategies for small, varied boards that pass every check.

``boards()`` draws boards with any of the seven kinds of rule, settings, lamps, requirements, speed-ups and stretches
not judged. ``boards(feedback=False)`` draws boards in which a rule mentions inputs and earlier rules only, so nothing
hangs on itself. Passing the checks is not passing ``vet``: a drawn board may still contradict itself when it runs.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Literal

from attrs import evolve
from hypothesis import strategies as st

from boardgauge.language.expressions import (
    Not,
    Trigger,
)
from boardgauge.language.model import (
    Accumulator,
    Always,
    Blink,
    Board,
    Contact,
    Count,
    Dark,
    Delay,
    Flashes,
    Follows,
    Input,
    InputKind,
    Lamp,
    LampLine,
    Lasting,
    Lockout,
    Mode,
    NamedCondition,
    Never,
    Note,
    NotJudged,
    Output,
    Pattern,
    Position,
    Requirement,
    Rule,
    Sequence,
    Setting,
    SettingRef,
    SpeedUp,
    Steady,
    Step,
    Together,
    Toggle,
)
from boardgauge.language.quantities import MS, Duration, Quantity, S, TimeRange
from boardgauge.language.scope import rule_times
from boardgauge.language.units import convertible
from expression_strategies import (
    Vocabulary,
    a_condition,
    a_duration,
    a_time,
    a_tolerance,
    a_trigger,
    an_event,
    maybe,
    pick,
)

SENSOR_UNITS = ("°C", "%", "kPa")


def a_note(draw: st.DrawFn) -> Note:
    """Draw what people wrote about a table; nothing, most of the time."""
    if draw(st.integers(0, 3)):
        return Note()
    text = pick(draw, (None, 'a "quoted" text', "two\nlines", "back\\slash", "45 °C ± 1 K"))
    return Note(draw(_prose), text, draw(_prose), pick(draw, (None, "1.1", "table 4, row 2")))


_prose = st.none() | st.text(max_size=8)
_CONTACTS: tuple[Contact, ...] = ("normally open", "normally closed")


def an_input(draw: st.DrawFn, id_: str, board: Board) -> Input:
    """Draw an input."""
    kind = pick(draw, tuple(InputKind))
    filter_ = TimeRange(10 * MS, 80 * MS) if draw(st.booleans()) else board.filter
    responds = 150 * MS if draw(st.booleans()) else board.responds_within
    contact: Contact | None = pick(draw, _CONTACTS) if kind is InputKind.SWITCH else None
    unit = accuracy = None
    if kind is InputKind.SENSOR:
        unit = pick(draw, SENSOR_UNITS)
        accuracy = Quantity(Fraction(draw(st.integers(0, 30)), 10), unit)
    curve = pick(draw, (None, "ntc-10k", "own curve.toml")) if unit is not None and convertible(unit, "°C") else None
    return Input(id_, kind, filter_, responds, contact, unit, accuracy, a_note(draw), curve)


def a_setting(draw: st.DrawFn, id_: str, words: Vocabulary) -> Setting:
    """Draw a setting, chosen by a person or by an input that is in one state or the other."""
    read: Literal["at power-up", "always"] = pick(draw, ("at power-up", "always"))
    by_input: bool = draw(st.booleans())
    if words.states and by_input:
        state = pick(draw, words.states)
        first = Position(a_duration(draw, words.usual), when=state)
        return Setting(id_, (first, Position(a_duration(draw, words.usual), when=Not(state))), read, note=a_note(draw))
    names = ("short", "2 min", "90")[: draw(st.integers(1, 3))]
    positions = tuple(Position(a_duration(draw, words.usual), name=name) for name in names)
    return Setting(id_, positions, read, pick(draw, names), a_note(draw))


def a_rule(draw: st.DrawFn, id_: str, kind: type, words: Vocabulary, setting_ids: list[str]) -> Rule:
    """Draw a rule of a kind."""

    def time() -> Lasting:
        if setting_ids and draw(st.integers(0, 2)) == 0:
            return SettingRef(pick(draw, setting_ids))
        return a_duration(draw, words.usual)

    def trigger() -> Trigger:
        return a_trigger(draw, words)

    kept, note = draw(st.booleans()), a_note(draw)
    if kind is Delay:
        again: Literal["starts over", "runs on"] = pick(draw, ("starts over", "runs on"))
        return Delay(id_, an_event(draw, words), time(), again, maybe(draw, trigger), kept, note)
    if kind is Lockout:
        return Lockout(id_, trigger(), maybe(draw, trigger), maybe(draw, time), kept, note)
    if kind is Count:
        limit = draw(st.integers(1, 4))
        return Count(id_, an_event(draw, words), limit, maybe(draw, time), maybe(draw, trigger), kept, note)
    if kind is Accumulator:
        return Accumulator(id_, a_condition(draw, words), time(), maybe(draw, trigger), kept, note)
    if kind is Mode:
        least, most = maybe(draw, time), maybe(draw, time)
        if isinstance(least, Duration) and isinstance(most, Duration) and least.nominal > most.nominal:
            least, most = most, least
        return Mode(id_, trigger(), trigger(), least, most, kept, note)
    if kind is Sequence:
        return Sequence(id_, trigger(), trigger(), some_steps(draw, id_, words, time), kept, note)
    return Toggle(id_, an_event(draw, words), kept, note)


def some_steps(draw: st.DrawFn, id_: str, words: Vocabulary, time: Callable[[], Lasting]) -> tuple[Step, ...]:
    """Draw the steps of a sequence."""
    names = [f"{id_}_step{index}" for index in range(draw(st.integers(1, 3)))]
    anywhere = [*names, "end"]
    steps = []
    for name, follower in zip(names, anywhere[1:], strict=True):
        lasts = maybe(draw, time)
        until = maybe(draw, lambda: a_condition(draw, words))
        leaves = lasts is not None or until is not None
        then = pick(draw, anywhere) if leaves and draw(st.booleans()) else follower
        if_not = pick(draw, anywhere) if lasts is not None and until is not None else None
        steps.append(Step(name, then, lasts, until, if_not))
    return tuple(steps)


def an_output(draw: st.DrawFn, id_: str, words: Vocabulary) -> Output:
    """Draw an output with ``on``, or with ``starts`` and ``stops``."""
    contact, lag = pick(draw, _CONTACTS), pick(draw, (0, 20 * MS))
    condition = a_condition(draw, words)
    if draw(st.integers(0, 3)):
        return Output(id_, condition, None, None, contact, lag, a_note(draw))
    return Output(id_, None, condition, a_condition(draw, words), contact, lag, a_note(draw))


def a_pattern(draw: st.DrawFn) -> Pattern:
    """Draw what a lamp shows."""
    lit, dark = draw(st.integers(1, 20)) * 50 * MS, draw(st.integers(1, 20)) * 50 * MS
    patterns: tuple[Pattern, ...] = (Steady(), Dark(), Blink(lit, dark), Flashes(draw(st.integers(1, 6))))
    return pick(draw, patterns)


def a_lamp(draw: st.DrawFn, id_: str, words: Vocabulary, board: Board) -> Lamp:
    """Draw a lamp with one to four lines."""
    whens = [*(a_condition(draw, words) for _ in range(draw(st.integers(0, 3)))), None]
    lines = tuple(
        LampLine(when, a_pattern(draw), None, pick(draw, (None, "a meaning")), pick(draw, (None, "a remedy")))
        for when in whens
    )
    tolerance = board.tolerance if board.tolerance is not None else a_tolerance(draw)
    changes, unjudged = pick(draw, (board.responds_within, 500 * MS)), pick(draw, (0, 3 * S))
    return Lamp(id_, lines, tolerance, Blink(250 * MS, 250 * MS), 1500 * MS, changes, unjudged, a_note(draw))


def a_requirement(draw: st.DrawFn, id_: str, words: Vocabulary, output_ids: list[str]) -> Requirement:
    """Draw a requirement of one of the four sorts."""
    form = draw(st.integers(0, 4 if len(output_ids) > 1 else 3))
    demand: Never | Always | Follows | Together
    if form == 0:
        demand = Never(a_condition(draw, words))
    elif form == 1:
        demand = Never(an_event(draw, words, in_requirement=True))
    elif form == 2:
        demand = Always(a_condition(draw, words))
    elif form == 3:
        demand = Follows(an_event(draw, words, in_requirement=True), a_trigger(draw, words), a_time(draw))
    else:
        demand = Together(tuple(output_ids[:2]), a_time(draw), maybe(draw, lambda: an_event(draw, words)))
    return Requirement(id_, demand, maybe(draw, lambda: a_condition(draw, words)), a_note(draw))


KINDS = (Delay, Lockout, Count, Accumulator, Mode, Sequence, Toggle)


def the_board(draw: st.DrawFn) -> Board:
    """Draw the ``[board]`` table alone."""
    return Board(
        "drawn-board",
        draw(st.text(max_size=10)),
        tolerance=maybe(draw, lambda: a_tolerance(draw)),
        responds_within=pick(draw, (0, 300 * MS)),
        filter=pick(draw, (TimeRange(), TimeRange(40 * MS, 150 * MS))),
        same_moment=pick(draw, (0, 100 * MS)),
        clock=pick(draw, _CLOCKS),
        rides_through=pick(draw, (TimeRange(), TimeRange(20 * MS, 200 * MS))),
        source=pick(draw, (None, "an invented sheet")),
    )


_CLOCKS: tuple[Literal["independent", "shared"], ...] = ("independent", "shared")


@st.composite
def boards(draw: st.DrawFn, *, feedback: bool = True) -> Board:
    """Draw a board that passes every check."""
    board = the_board(draw)
    words = Vocabulary(usual=board.tolerance)
    board_inputs = [an_input(draw, f"in{index}", board) for index in range(draw(st.integers(1, 4)))]
    for item in board_inputs:
        words.add_input(item)
    given = words.copy()
    board_settings = [a_setting(draw, f"set{index}", given) for index in range(draw(st.integers(0, 2)))]
    kinds = [pick(draw, KINDS) for _ in range(draw(st.integers(0, 5)))]
    board_rules = some_rules(draw, kinds, words, [item.id for item in board_settings], feedback)
    named = []
    for index in range(draw(st.integers(0, 2))):
        named.append(NamedCondition(f"cond{index}", a_condition(draw, words), a_note(draw)))
        words.on_off.append(f"cond{index}")
    board_outputs = []
    for index in range(draw(st.integers(1, 3))):
        board_outputs.append(an_output(draw, f"out{index}", words))
        words.on_off.append(f"out{index}")
    output_ids = [item.id for item in board_outputs]
    board_lamps = [a_lamp(draw, f"lamp{index}", words, board) for index in range(draw(st.integers(0, 1)))]
    demands = [a_requirement(draw, f"req{index}", words, output_ids) for index in range(draw(st.integers(0, 2)))]
    board = evolve(
        board,
        inputs={item.id: item for item in board_inputs},
        settings={item.id: item for item in board_settings},
        conditions={item.id: item for item in named},
        rules={item.id: item for item in board_rules},
        outputs={item.id: item for item in board_outputs},
        lamps={item.id: item for item in board_lamps},
        requirements={item.id: item for item in demands},
    )
    return evolve(board, speed_ups=_speed_ups(draw, board, given), not_judged=_not_judged(draw, board, words))


def _speed_ups(draw: st.DrawFn, board: Board, given: Vocabulary) -> dict[str, SpeedUp]:
    timed = [id_ for id_, rule in board.rules.items() if any(rule_times(rule).values())]
    if not timed or not given.states or draw(st.booleans()):
        return {}
    what = tuple(timed[: draw(st.integers(1, len(timed)))])
    return {"fast": SpeedUp("fast", pick(draw, given.states), draw(st.integers(2, 60)), what)}


def _not_judged(draw: st.DrawFn, board: Board, words: Vocabulary) -> tuple[NotJudged, ...]:
    if draw(st.booleans()):
        return ()
    signals = (*board.outputs, *board.lamps)
    chosen = pick(draw, (signals, signals[:1], signals[1:] or signals))
    return (NotJudged(chosen, an_event(draw, words), a_duration(draw, board.tolerance), "1.2"),)


def some_rules(
    draw: st.DrawFn, kinds: list[type], words: Vocabulary, setting_ids: list[str], feedback: bool
) -> list[Rule]:
    """Draw the rules; their names go into the vocabulary before any is drawn (feedback), or each after it is."""
    plain = words.copy()
    if feedback:
        for index, kind in enumerate(kinds):
            (words.reached if kind in (Count, Accumulator) else words.on_off).append(f"rule{index}")
    found = []
    for index, kind in enumerate(kinds):
        rule = a_rule(draw, f"rule{index}", kind, words if feedback else plain, setting_ids)
        plain.add_rule(rule)
        found.append(rule)
    for name in ("on_off", "reached", "expiring"):
        setattr(words, name, list(dict.fromkeys([*getattr(words, name), *getattr(plain, name)])))
    return found
