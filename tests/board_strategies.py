"""Hypothesis strategies for small, varied boards that pass every check.

``boards()`` draws boards with any of the seven kinds of rule, settings, lamps, requirements, speed-ups and stretches
not judged. ``boards(feedback=False)`` draws boards in which a rule mentions inputs and earlier rules only, so nothing
hangs on itself. Passing the checks is not passing ``vet``: a drawn board may still contradict itself when it runs.
"""

from __future__ import annotations

from fractions import Fraction

from attrs import define, evolve, field
from boardgauge.language.expressions import (
    And,
    Comparison,
    Condition,
    Edge,
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
    Toggle,
    Together,
)
from boardgauge.language.quantities import EXACTLY, MS, Duration, Quantity, S, TimeRange, Tolerance
from boardgauge.language.quantity_reader import span
from boardgauge.language.scope import STATES, rule_times
from hypothesis import strategies as st

SENSOR_UNITS = ("°C", "%", "kPa")

plain_times = st.one_of(
    st.integers(1, 120).map(lambda n: n * S), st.integers(1, 5000).map(lambda n: n * MS), st.integers(1, 10**10)
)
percents = st.integers(1, 400).map(lambda n: Fraction(n, 1000))


@st.composite
def tolerances(draw: st.DrawFn) -> Tolerance:
    """Draw a tolerance that the language can say."""
    kind = draw(st.sampled_from(["exactly", "percent", "time", "both", "uneven"]))
    time = draw(st.integers(1, 900)) * MS
    percent = draw(percents)
    match kind:
        case "percent":
            return Tolerance(percent, percent)
        case "time":
            return Tolerance(less=time, more=time)
        case "both":
            return Tolerance(percent, percent, time, time)
        case "uneven":
            return draw(
                st.sampled_from(
                    [Tolerance(percent_less=percent, more=time), Tolerance(percent_more=percent, less=time)]
                )
            )
    return EXACTLY


@st.composite
def durations(draw: st.DrawFn, usual: Tolerance | None = None) -> Duration:
    """Draw a time with a tolerance; that of the board now and then."""
    if draw(st.integers(0, 4)) == 0:
        first, second = draw(plain_times), draw(plain_times)
        return span(min(first, second), max(first, second))
    tolerance = usual if usual is not None and draw(st.booleans()) else draw(tolerances())
    return Duration(draw(plain_times), tolerance)


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
        lists = ("on_off", "states", "reached", "sensors", "opening", "pressed", "expiring")
        return evolve(self, **{name: list(getattr(self, name)) for name in lists})

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


def _leaves(words: Vocabulary) -> st.SearchStrategy[Condition]:
    choices: list[st.SearchStrategy[Condition]] = []
    if words.on_off:
        choices.append(st.sampled_from(words.on_off).map(Name))
    if words.states:
        choices.append(st.sampled_from(words.states))
    if words.reached:
        choices.append(st.sampled_from(words.reached).map(Reached))
    if words.sensors:
        choices.append(st.sampled_from(words.sensors).flatmap(_comparisons))
    return st.one_of(choices)


@st.composite
def _comparisons(draw: st.DrawFn, sensor: tuple[str, str]) -> Comparison:
    name, unit = sensor
    rising = draw(st.booleans())
    limit = Fraction(draw(st.integers(-500, 500)), 10)
    op = draw(st.sampled_from([">", ">="] if rising else ["<", "<="]))
    if draw(st.booleans()):
        return Comparison(name, op, Quantity(limit, unit))  # type: ignore[arg-type]
    gap = Fraction(draw(st.integers(1, 50)), 10)
    until = limit - gap if rising else limit + gap
    until_op = draw(st.sampled_from(["<", "<="] if rising else [">", ">="]))
    return Comparison(name, op, Quantity(limit, unit), until_op, Quantity(until, unit))  # type: ignore[arg-type]


def conditions(words: Vocabulary, *, lasting: bool = True) -> st.SearchStrategy[Condition]:
    """Give conditions of one to some six words."""

    def longer(shorter: st.SearchStrategy[Condition]) -> st.SearchStrategy[Condition]:
        several = st.lists(shorter, min_size=2, max_size=3).map(tuple)
        choices = [shorter.map(Not), several.map(And), several.map(Or)]
        if lasting:
            choices.append(st.builds(For, shorter, durations(words.usual)))
        return st.one_of(choices)

    return st.recursive(_leaves(words), longer, max_leaves=5)


def _edges(words: Vocabulary) -> st.SearchStrategy[Event]:
    edges: list[st.SearchStrategy[Event]] = [
        st.builds(Edge, conditions(words), st.sampled_from(["begins", "ends", "changes"])).filter(_unambiguous(words))
    ]
    if words.opening:
        edges.append(st.builds(Edge, st.sampled_from(words.opening).map(Name), st.sampled_from(["opens", "closes"])))
    if words.pressed:
        edges.append(st.builds(Edge, st.sampled_from(words.pressed).map(Name), st.just("begins")))
    if words.expiring:
        edges.append(st.builds(Edge, st.sampled_from(words.expiring).map(Name), st.just("expires")))
    edges.append(st.just(PowerUp()))
    return st.one_of(edges)


def _unambiguous(words: Vocabulary):  # type: ignore[no-untyped-def]
    return lambda edge: not isinstance(edge.of, Name) or edge.of.name in words.on_off


def events(words: Vocabulary, *, in_requirement: bool = False) -> st.SearchStrategy[Event]:
    """Give events: edges, several joined by ``or``, with ``while``, and in requirements ``less than ... after``."""
    edges = _edges(words)
    several = st.lists(edges, min_size=2, max_size=3).map(tuple).map(EventOr)
    choices = [edges, several, st.builds(EventWhile, edges, conditions(words))]
    if in_requirement:
        choices.append(st.builds(LessThanAfter, edges, plain_times.map(lambda t: Duration(t, EXACTLY)), edges))
    return st.one_of(choices)


def triggers(words: Vocabulary) -> st.SearchStrategy[Trigger]:
    """Give conditions, events and both joined by ``or``."""
    mixed = st.tuples(_edges(words), conditions(words)).map(TriggerOr)
    return st.one_of(conditions(words), events(words), mixed)


notes = st.builds(
    Note,
    title=st.none() | st.text(max_size=8),
    text=st.none() | st.sampled_from(['a "quoted" text', "two\nlines", "back\\slash", "45 °C ± 1 K"]),
    why=st.none() | st.text(max_size=8),
    clause=st.none() | st.sampled_from(["1.1", "table 4, row 2"]),
)


@st.composite
def inputs(draw: st.DrawFn, id_: str, board: Board) -> Input:
    """Draw one input."""
    kind = draw(st.sampled_from(InputKind))
    own = draw(st.booleans())
    filter_ = TimeRange(10 * MS, 80 * MS) if own else board.filter
    responds = 150 * MS if draw(st.booleans()) else board.responds_within
    contact = unit = accuracy = None
    if kind is InputKind.SWITCH:
        contact = draw(st.sampled_from(["normally open", "normally closed"]))
    if kind is InputKind.SENSOR:
        unit = draw(st.sampled_from(SENSOR_UNITS))
        accuracy = Quantity(Fraction(draw(st.integers(0, 30)), 10), unit)
    return Input(id_, kind, filter_, responds, contact, unit, accuracy, draw(notes))  # type: ignore[arg-type]


@st.composite
def settings(draw: st.DrawFn, id_: str, words: Vocabulary) -> Setting:
    """Draw a setting, chosen by a person or by an input that is in one state or the other."""
    read = draw(st.sampled_from(["at power-up", "always"]))
    times = durations(words.usual)
    if words.states and draw(st.booleans()):
        state = draw(st.sampled_from(words.states))
        positions = (Position(draw(times), when=state), Position(draw(times), when=Not(state)))
        return Setting(id_, positions, read, note=draw(notes))  # type: ignore[arg-type]
    names = draw(st.lists(st.sampled_from(["short", "2 min", "90"]), min_size=1, max_size=3, unique=True))
    positions_ = tuple(Position(draw(times), name=name) for name in names)
    return Setting(id_, positions_, read, draw(st.sampled_from(names)), draw(notes))  # type: ignore[arg-type]


def _lastings(words: Vocabulary, setting_ids: list[str]) -> st.SearchStrategy[Lasting]:
    times: st.SearchStrategy[Lasting] = durations(words.usual)
    return st.one_of(times, st.sampled_from(setting_ids).map(SettingRef)) if setting_ids else times


@st.composite
def rules(draw: st.DrawFn, id_: str, kind: type, words: Vocabulary, setting_ids: list[str]) -> Rule:
    """Draw a rule of a kind."""
    times = _lastings(words, setting_ids)
    kept, note = draw(st.booleans()), draw(notes)
    maybe_time = st.none() | times
    if kind is Delay:
        again = draw(st.sampled_from(["starts over", "runs on"]))
        cut = draw(st.none() | triggers(words))
        return Delay(id_, draw(events(words)), draw(times), again, cut, kept, note)  # type: ignore[arg-type]
    if kind is Lockout:
        clears = draw(st.none() | triggers(words))
        return Lockout(id_, draw(triggers(words)), clears, draw(maybe_time), kept, note)
    if kind is Count:
        forgets = draw(st.none() | triggers(words))
        return Count(id_, draw(events(words)), draw(st.integers(1, 4)), draw(maybe_time), forgets, kept, note)
    if kind is Accumulator:
        resets = draw(st.none() | triggers(words))
        return Accumulator(id_, draw(conditions(words)), draw(times), resets, kept, note)
    if kind is Mode:
        ends = draw(triggers(words))
        return Mode(id_, draw(triggers(words)), ends, None, draw(maybe_time), kept, note)
    if kind is Sequence:
        return Sequence(id_, draw(triggers(words)), draw(triggers(words)), draw(_steps(id_, words, times)), kept, note)
    return Toggle(id_, draw(events(words)), kept, note)


@st.composite
def _steps(draw: st.DrawFn, id_: str, words: Vocabulary, times: st.SearchStrategy[Lasting]) -> tuple[Step, ...]:
    names = [f"{id_}_step{index}" for index in range(draw(st.integers(1, 3)))]
    followers = [*names[1:], "end"]
    anywhere = st.sampled_from([*names, "end"])
    steps = []
    for name, follower in zip(names, followers, strict=True):
        lasts = draw(st.none() | times)
        until = draw(st.none() | conditions(words))
        leaves = lasts is not None or until is not None
        then = draw(anywhere) if leaves and draw(st.booleans()) else follower
        if_not = draw(anywhere) if lasts is not None and until is not None else None
        steps.append(Step(name, then, lasts, until, if_not))
    return tuple(steps)


@st.composite
def outputs(draw: st.DrawFn, id_: str, words: Vocabulary) -> Output:
    """Draw an output with ``on``, or with ``starts`` and ``stops``."""
    contact = draw(st.sampled_from(["normally open", "normally closed"]))
    lag = draw(st.sampled_from([0, 20 * MS]))
    on, starts, stops = draw(conditions(words)), None, None
    if draw(st.integers(0, 3)) == 0:
        on, starts, stops = None, on, draw(conditions(words))  # type: ignore[assignment]
    return Output(id_, on, starts, stops, contact, lag, draw(notes))  # type: ignore[arg-type]


_blinks = st.builds(Blink, st.integers(1, 20).map(lambda n: n * 50 * MS), st.integers(1, 20).map(lambda n: n * 50 * MS))


@st.composite
def lamps(draw: st.DrawFn, id_: str, words: Vocabulary, board: Board) -> Lamp:
    """Draw a lamp with one to four lines."""
    patterns: st.SearchStrategy[Pattern] = st.one_of(
        st.just(Steady()), st.just(Dark()), _blinks, st.integers(1, 6).map(Flashes)
    )
    whens = [*draw(st.lists(conditions(words), max_size=3)), None]
    lines = tuple(LampLine(when, draw(patterns), None, draw(st.none() | st.just("a meaning"))) for when in whens)
    tolerance = board.tolerance if board.tolerance is not None else draw(tolerances())
    changes = draw(st.sampled_from([board.responds_within, 500 * MS]))
    flash = Blink(250 * MS, 250 * MS)
    return Lamp(id_, lines, tolerance, flash, 1500 * MS, changes, draw(st.sampled_from([0, 3 * S])), draw(notes))


@st.composite
def requirements(draw: st.DrawFn, id_: str, words: Vocabulary, output_ids: list[str]) -> Requirement:
    """Draw a requirement of one of the four sorts."""
    event = events(words, in_requirement=True)
    demands = [
        st.builds(Never, st.one_of(conditions(words), event)),
        st.builds(Always, conditions(words)),
        st.builds(Follows, event, triggers(words), plain_times),
    ]
    if len(output_ids) > 1:
        both = st.just(tuple(output_ids[:2]))
        demands.append(st.builds(Together, both, plain_times, st.none() | event))
    unless = draw(st.none() | conditions(words))
    return Requirement(id_, draw(st.one_of(demands)), unless, draw(notes))


KINDS = (Delay, Lockout, Count, Accumulator, Mode, Sequence, Toggle)


@st.composite
def boards(draw: st.DrawFn, *, feedback: bool = True) -> Board:
    """Draw a board that passes every check."""
    board = Board(
        "drawn-board",
        draw(st.text(max_size=10)),
        tolerance=draw(st.none() | tolerances()),
        responds_within=draw(st.sampled_from([0, 300 * MS])),
        filter=draw(st.sampled_from([TimeRange(), TimeRange(40 * MS, 150 * MS)])),
        same_moment=draw(st.sampled_from([0, 100 * MS])),
        clock=draw(st.sampled_from(["independent", "shared"])),
        rides_through=draw(st.sampled_from([TimeRange(), TimeRange(20 * MS, 200 * MS)])),
        source=draw(st.none() | st.just("an invented sheet")),
    )
    words = Vocabulary(usual=board.tolerance)
    board_inputs = [draw(inputs(f"in{index}", board)) for index in range(draw(st.integers(1, 4)))]
    for item in board_inputs:
        words.add_input(item)
    given = words.copy()
    board_settings = [draw(settings(f"set{index}", given)) for index in range(draw(st.integers(0, 2)))]
    kinds = draw(st.lists(st.sampled_from(KINDS), max_size=5))
    board_rules = _rules(draw, kinds, words, [item.id for item in board_settings], feedback)
    named = []
    for index in range(draw(st.integers(0, 2))):
        named.append(NamedCondition(f"cond{index}", draw(conditions(words)), draw(notes)))
        words.on_off.append(f"cond{index}")
    board_outputs = []
    for index in range(draw(st.integers(1, 3))):
        board_outputs.append(draw(outputs(f"out{index}", words)))
        words.on_off.append(f"out{index}")
    output_ids = [item.id for item in board_outputs]
    board_lamps = [draw(lamps(f"lamp{index}", words, board)) for index in range(draw(st.integers(0, 1)))]
    demands = [draw(requirements(f"req{index}", words, output_ids)) for index in range(draw(st.integers(0, 2)))]
    timed = [rule.id for rule in board_rules if any(rule_times(rule).values())]
    speed_ups = []
    if timed and given.states and draw(st.booleans()):
        what = tuple(draw(st.lists(st.sampled_from(timed), min_size=1, unique=True)))
        speed_ups.append(SpeedUp("fast", draw(st.sampled_from(given.states)), draw(st.integers(2, 60)), what))
    signals = [*output_ids, *(item.id for item in board_lamps)]
    stretches = []
    if draw(st.booleans()):
        chosen = draw(st.just(signals) | st.lists(st.sampled_from(signals), min_size=1, unique=True))
        stretches.append(NotJudged(tuple(chosen), draw(events(words)), draw(durations(board.tolerance)), "1.2"))
    return evolve(
        board,
        inputs={item.id: item for item in board_inputs},
        settings={item.id: item for item in board_settings},
        conditions={item.id: item for item in named},
        rules={item.id: item for item in board_rules},
        outputs={item.id: item for item in board_outputs},
        lamps={item.id: item for item in board_lamps},
        requirements={item.id: item for item in demands},
        speed_ups={item.id: item for item in speed_ups},
        not_judged=tuple(stretches),
    )


def _rules(draw: st.DrawFn, kinds: list[type], words: Vocabulary, setting_ids: list[str], feedback: bool) -> list[Rule]:
    """Draw the rules; what they are called goes into the vocabulary, before (feedback) or after each is drawn."""
    plain = words.copy()
    if feedback:
        for index, kind in enumerate(kinds):
            (words.reached if kind in (Count, Accumulator) else words.on_off).append(f"rule{index}")
    found = []
    for index, kind in enumerate(kinds):
        rule = draw(rules(f"rule{index}", kind, words if feedback else plain, setting_ids))
        plain.add_rule(rule)
        found.append(rule)
    for name in ("on_off", "reached", "expiring"):
        setattr(words, name, list(dict.fromkeys([*getattr(words, name), *getattr(plain, name)])))
    return found
