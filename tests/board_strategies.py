"""Hypothesis strategies for small, varied boards that pass every check.

``boards()`` draws boards with any of the seven kinds of rule, settings, lamps, requirements, speed-ups and stretches
not judged. ``boards(feedback=False)`` draws boards in which a rule mentions inputs and earlier rules only, so nothing
hangs on itself. Passing the checks is not passing ``vet``: a drawn board may still contradict itself when it runs.
"""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Sequence as Sequence_
from fractions import Fraction
from typing import Any, Literal, TypeVar

from attrs import define, evolve, field
from hypothesis import strategies as st

from boardgauge.language.expressions import (
    And,
    Comparator,
    Comparison,
    Condition,
    Edge,
    EdgeWord,
    Event,
    EventOr,
    EventWhile,
    For,
    InState,
    LessThanAfter,
    Name,
    Not,
    Or,
    PowerUp,
    Reached,
    Trigger,
    TriggerOr,
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
from boardgauge.language.quantities import EXACTLY, MS, Duration, Quantity, S, TimeRange, Tolerance
from boardgauge.language.quantity_reader import span
from boardgauge.language.scope import STATES, rule_times
from boardgauge.language.units import convertible

SENSOR_UNITS = ("°C", "%", "kPa")

T = TypeVar("T")


@define
class Vocabulary:
    """What an expression may mention."""

    on_off: list[str] = field(factory=list)
    states: list[InState] = field(factory=list)
    reached: list[str] = field(factory=list)
    sensors: list[tuple[str, str]] = field(factory=list)
    opening: list[str] = field(factory=list)
    pressed: list[str] = field(factory=list)
    expiring: list[str] = field(factory=list)
    usual: Tolerance | None = None

    def copy(self) -> Vocabulary:
        """Give a vocabulary that can grow by itself."""
        return Vocabulary(
            list(self.on_off),
            list(self.states),
            list(self.reached),
            list(self.sensors),
            list(self.opening),
            list(self.pressed),
            list(self.expiring),
            self.usual,
        )

    def add_input(self, item: Input) -> None:
        """Let expressions mention an input."""
        kind = item.kind.value
        self.states += [InState(item.id, state) for state in STATES.get(kind, ())]  # type: ignore[arg-type]
        if kind in ("call", "signal"):
            self.on_off.append(item.id)
        elif kind == "sensor":
            self.sensors.append((item.id, str(item.unit)))
        elif kind == "button":
            self.pressed.append(item.id)
        else:
            self.opening.append(item.id)

    def add_rule(self, rule: Rule) -> None:
        """Let expressions mention a rule and its steps."""
        if isinstance(rule, (Count, Accumulator)):
            self.reached.append(rule.id)
            return
        self.on_off.append(rule.id)
        match rule:
            case Delay():
                self.expiring.append(rule.id)
            case Lockout(lasts=lasts) if lasts is not None:
                self.expiring.append(rule.id)
            case Mode(at_most=at_most) if at_most is not None:
                self.expiring.append(rule.id)
            case Sequence(steps=steps):
                self.on_off += [step.name for step in steps]
                self.expiring += [step.name for step in steps if step.lasts is not None]


def pick(draw: st.DrawFn, choices: Sequence_[T]) -> T:
    """Draw one of some choices; far cheaper than a strategy of its own for each list."""
    return choices[draw(st.integers(0, len(choices) - 1))]


def maybe(draw: st.DrawFn, make: Callable[[], T]) -> T | None:
    """Draw nothing, or what ``make`` draws."""
    return make() if draw(st.booleans()) else None


def a_time(draw: st.DrawFn) -> int:
    """Draw a time in microseconds."""
    number = draw(st.integers(1, 120))
    return number * pick(draw, (S, S, MS, 1, 250 * MS))


def a_tolerance(draw: st.DrawFn) -> Tolerance:
    """Draw a tolerance that the language can say."""
    time, percent = draw(st.integers(1, 900)) * MS, Fraction(draw(st.integers(1, 400)), 1000)
    return pick(
        draw,
        (
            EXACTLY,
            Tolerance(percent, percent),
            Tolerance(less=time, more=time),
            Tolerance(percent, percent, time, time),
            Tolerance(percent_less=percent, more=time),
            Tolerance(percent_more=percent, less=time),
        ),
    )


def a_duration(draw: st.DrawFn, usual: Tolerance | None) -> Duration:
    """Draw a time with a tolerance; that of the board now and then."""
    form = draw(st.integers(0, 4))
    if form == 0:
        first, second = a_time(draw), a_time(draw)
        return span(min(first, second), max(first, second))
    return Duration(a_time(draw), usual if usual is not None and form < 3 else a_tolerance(draw))


def a_comparison(draw: st.DrawFn, sensor: tuple[str, str]) -> Comparison:
    """Draw a comparison of a sensor, with the limit where it lets go now and then."""
    name, unit = sensor
    rising, wide = draw(st.booleans()), draw(st.booleans())
    limit = Fraction(draw(st.integers(-500, 500)), 10)
    op: Comparator = pick(draw, (">", ">=") if rising else ("<", "<="))
    if not wide:
        return Comparison(name, op, Quantity(limit, unit))
    gap = Fraction(draw(st.integers(1, 50)), 10)
    until_op: Comparator = pick(draw, ("<", "<=") if rising else (">", ">="))
    return Comparison(name, op, Quantity(limit, unit), until_op, Quantity(limit - gap if rising else limit + gap, unit))


def a_leaf(draw: st.DrawFn, words: Vocabulary) -> Condition:
    """Draw a condition of one word or two."""
    pools: list[list[Any]] = [pool for pool in (words.on_off, words.states, words.reached, words.sensors) if pool]
    pool = pick(draw, pools)
    chosen = pick(draw, pool)
    if pool is words.on_off:
        return Name(chosen)
    if pool is words.reached:
        return Reached(chosen)
    return chosen if isinstance(chosen, InState) else a_comparison(draw, chosen)


def a_condition(draw: st.DrawFn, words: Vocabulary, depth: int = 2) -> Condition:
    """Draw a condition of one to some six words."""
    form = draw(st.integers(0, 6)) if depth else 0
    if form < 3:
        return a_leaf(draw, words)
    inner = a_condition(draw, words, depth - 1)
    if form == 3:
        return Not(inner)
    if form == 4:
        return For(inner, a_duration(draw, words.usual))
    items = (inner, *(a_condition(draw, words, depth - 1) for _ in range(draw(st.integers(1, 2)))))
    return And(items) if form == 5 else Or(items)


def an_edge(draw: st.DrawFn, words: Vocabulary) -> Event:
    """Draw an edge, or ``power_up``."""
    pools: list[tuple[list[str], tuple[EdgeWord, ...]]] = [
        (words.on_off, ("begins", "ends", "changes")),
        (words.opening, ("opens", "closes")),
        (words.pressed, ("begins",)),
        (words.expiring, ("expires",)),
    ]
    full = [(pool, edge_words) for pool, edge_words in pools if pool]
    form = draw(st.integers(0, len(full) + 1))
    if form == 0:
        return PowerUp()
    if form <= len(full):
        pool, edge_words = full[form - 1]
        return Edge(Name(pick(draw, pool)), pick(draw, edge_words))
    of = a_condition(draw, words, 1)
    bare = isinstance(of, Name) and of.name not in words.on_off
    return PowerUp() if bare else Edge(of, pick(draw, ("begins", "ends", "changes")))


def an_event(draw: st.DrawFn, words: Vocabulary, *, in_requirement: bool = False) -> Event:
    """Draw an event: edges, several joined by ``or``, with ``while``, and in requirements ``less than ... after``."""
    edge, form = an_edge(draw, words), draw(st.integers(0, 5))
    if form == 3:
        return EventOr((edge, an_edge(draw, words)))
    if form == 4:
        return EventWhile(edge, a_condition(draw, words, 1))
    if form == 5 and in_requirement:
        return LessThanAfter(edge, Duration(a_time(draw), EXACTLY), an_edge(draw, words))
    return edge


def a_trigger(draw: st.DrawFn, words: Vocabulary) -> Trigger:
    """Draw a condition, an event, or both joined by ``or``."""
    form = draw(st.integers(0, 4))
    if form < 2:
        return a_condition(draw, words)
    if form < 4:
        return an_event(draw, words)
    return TriggerOr((an_edge(draw, words), a_leaf(draw, words)))


@st.composite
def conditions(draw: st.DrawFn, words: Vocabulary) -> Condition:
    """Give conditions over a vocabulary."""
    return a_condition(draw, words)


@st.composite
def triggers(draw: st.DrawFn, words: Vocabulary) -> Trigger:
    """Give triggers over a vocabulary; events and conditions are triggers too."""
    return a_trigger(draw, words)


@st.composite
def durations(draw: st.DrawFn, usual: Tolerance | None = None) -> Duration:
    """Give times with their tolerances."""
    return a_duration(draw, usual)


@st.composite
def tolerances(draw: st.DrawFn) -> Tolerance:
    """Give tolerances that the language can say."""
    return a_tolerance(draw)


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
