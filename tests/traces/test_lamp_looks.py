"""A look at a lamp never rules out the line that is shown, and rules out the others in time."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Blink, Board, Flashes, Lamp
from boardgauge.language.quantities import MS, S
from boardgauge.traces import LampWatch, Recording, Trace, Wire, Wiring, condition
from boardgauge.traces.lamp_parts import parts_of
from boardgauge.traces.recording import channel_of
from traces.tarnbeck_by_hand import LAMP

BOARD = Board("b", "invented", lamps={"status": LAMP})
LONG = 40 * S
LINES = range(len(LAMP.lines))


def recorded(edges: list[tuple[int, float]], end: int, samples: np.ndarray | None, **facts: object) -> Trace:
    """Give the trace of a lamp with these levels, recorded as changes or at these times."""
    times, values = np.array([t for t, _ in edges]), np.array([v for _, v in edges])
    if samples is not None:
        values = values[np.searchsorted(times, samples, side="right") - 1]
        times = samples
    channels = {"status": channel_of("status", times, values)}
    start, stop = (0, end) if samples is None else (int(samples[0]), int(samples[-1]))
    recording = Recording("made", "VCD" if samples is None else "wide CSV", start, stop, channels, samples)
    wiring = Wiring("w", "", ("b",), (Wire("status", "status"), Wire("power", "power")), **facts)  # type: ignore[arg-type]
    return condition(recording, wiring, BOARD)


def shown(pattern: object, draw_part: object, phase: int, lamp: Lamp = LAMP) -> list[tuple[int, float]]:
    """Give the levels of a pattern from ``phase`` before 0 on, each part's length chosen by ``draw_part``."""
    match pattern:
        case Blink(lit=lit, dark=dark):
            cycle = [(1.0, lit), (0.0, dark)]
        case Flashes(number=number):
            assert lamp.flash is not None
            assert lamp.between_groups is not None
            cycle = [(1.0, lamp.flash.lit), (0.0, lamp.flash.dark)] * (number - 1)
            cycle += [(1.0, lamp.flash.lit), (0.0, lamp.between_groups)]
        case _:
            return [(0, 1.0 if type(pattern).__name__ == "Steady" else 0.0)]
    edges: list[tuple[int, float]] = []
    at = -phase
    while at < LONG:
        for level, nominal in cycle:
            edges.append((at, level))
            at += draw_part(nominal)  # type: ignore[operator]
    before = [edge for edge in edges if edge[0] <= 0]
    return [(0, before[-1][1]), *(edge for edge in edges if 0 < edge[0] < LONG)]


@st.composite
def lengths(draw: st.DrawFn) -> object:
    """A way to choose the length of each part inside the tolerance of a fifth: its ends, or anything between."""
    seed = draw(st.integers(0, 2**32 - 1))
    kind = draw(st.sampled_from(["short", "long", "any", "ends"]))
    chance = np.random.default_rng(seed)

    def choose(nominal: int) -> int:
        low, high = nominal * 4 // 5, nominal * 6 // 5
        match kind:
            case "short":
                return low
            case "long":
                return high
            case "ends":
                return int(chance.choice([low, high]))
        return int(chance.integers(low, high + 1))

    return choose


@st.composite
def sampling(draw: st.DrawFn) -> np.ndarray | None:
    """Sampling times: none at all, or up to 40 ms apart, regular or not, with rows lost."""
    gap = draw(st.sampled_from([0, 1, 5, 20, 40, 100, 333]))
    if not gap:
        return None
    chance = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    steps = np.full(LONG // (gap * MS), gap * MS)
    if draw(st.booleans()):
        steps = steps + chance.integers(-gap * MS // 4, gap * MS // 4 + 1, len(steps))
    times = np.cumsum(steps)
    if draw(st.booleans()):
        times = times[chance.random(len(times)) > 0.05]
    return times[times < LONG]


@settings(deadline=None, max_examples=60)
@given(st.sampled_from(LINES), lengths(), st.integers(0, 4 * S), sampling())
def test_the_line_that_is_shown_is_never_ruled_out(
    line: int, choose: object, phase: int, samples: np.ndarray | None
) -> None:
    """At any phase, with every part anywhere in its tolerance, sampled however coarsely."""
    trace = recorded(shown(LAMP.lines[line].shows, choose, phase), LONG, samples)
    watch = LampWatch(trace, LAMP)
    for since in (-10 * S, 0, 7 * S):
        assert watch.first_against(line, since) is None
    assert LampWatch(trace.nominal(), LAMP).first_against(line, -10 * S) is None


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(LINES), lengths(), st.integers(0, 4 * S), st.sampled_from([0, 1, 5, 20]))
def test_other_lines_are_ruled_out(line: int, choose: object, phase: int, gap: int) -> None:
    """A look of two groups is enough to rule out every other line, if samples are not too far apart."""
    samples = np.arange(0, LONG, gap * MS) if gap else None
    watch = LampWatch(recorded(shown(LAMP.lines[line].shows, choose, phase), LONG, samples), LAMP)
    for other in LINES:
        if other == line:
            continue
        found = watch.first_against(other, 0)
        assert found is not None
        assert found.known <= 3 * S + 15 * S
        assert line in found.allowed
        assert other not in found.allowed
        assert found.begins_earliest >= 3 * S


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(LINES), st.sampled_from(LINES), lengths(), st.integers(10 * S, 20 * S), st.integers(0, 500 * MS),
    sampling(),
)  # fmt: skip
def test_a_change_of_line_is_no_deviation(
    old: int, new: int, choose: object, change: int, late: int, samples: np.ndarray | None
) -> None:
    """The old pattern is cut off anywhere, the new one begins up to half a second later: neither line is ruled out."""
    first = shown(LAMP.lines[old].shows, choose, 0)
    second = [(at + change + late, level) for at, level in shown(LAMP.lines[new].shows, choose, 0)]
    edges = [edge for edge in first if edge[0] < change + late] + [edge for edge in second if edge[0] < LONG]
    watch = LampWatch(recorded(edges, LONG, samples), LAMP)
    against_old = watch.first_against(old, -10 * S)
    assert against_old is None or against_old.known >= change
    assert watch.first_against(new, change) is None


def square(half: int, end: int) -> list[tuple[int, float]]:
    return [(at, float(1 - (at // half) % 2)) for at in range(0, end, half)]


def test_wrong_rate() -> None:
    """Half a second lit and dark is none of the lines; each is ruled out by the parts, and the words say so."""
    watch = LampWatch(recorded(square(500 * MS, LONG), LONG, None), LAMP)
    found = watch.first_against(2, 0)
    assert found is not None
    assert (found.kind, found.seen, found.allowed) == ("stretch", "lit for 0.5 s", frozenset())
    assert (found.begins_earliest, found.known) == (3 * S, 3_500_000)


def test_no_light() -> None:
    """A lamp that stays dark rules out the slow line a grace and its longest dark part after it came on."""
    watch = LampWatch(recorded([(0, 0.0)], LONG, None), LAMP)
    found = watch.first_against(2, 5 * S)
    assert found is not None
    assert (found.begins_earliest, found.known) == (8 * S, 9_200_001)
    assert found.seen == "dark for 1.2 s and on"
    assert watch.deadline(0, 5 * S) == 8 * S


def test_tenth_of_a_second_at_fifty_samples() -> None:
    """0.1 s lit, 0.1 s dark sampled each 20 ms shows five samples, give or take one: never evidence against it."""
    for phase in range(0, 200, 7):
        edges = shown(Blink(104 * MS, 104 * MS), lambda n: n, phase * MS)
        assert LampWatch(recorded(edges, LONG, np.arange(0, LONG, 20 * MS)), LAMP).first_against(1, -10 * S) is None


def test_aliasing() -> None:
    """Sampled each 0.2 s, a lamp blinking at that rate looks steady; the line is not ruled out for it."""
    watch = LampWatch(recorded(square(100 * MS, LONG), LONG, np.arange(50 * MS, LONG, 200 * MS)), LAMP)
    assert watch.first_against(1, -10 * S) is None
    assert watch.first_against(7, -10 * S) is not None


def test_power_cuts_a_look() -> None:
    """A lit part cut off by the loss of power is no short part, and a group across it no group."""
    edges = shown(LAMP.lines[2].shows, lambda n: n, 0)
    off, on = 10_300 * MS, 12_000 * MS
    again = [(at + on, level) for at, level in edges if at < 18 * S]
    lit = [*(edge for edge in edges if edge[0] < off), (off, 0.0), *again]
    channels = {
        "status": channel_of("status", np.array([t for t, _ in lit]), np.array([v for _, v in lit])),
        "power": channel_of("power", np.array([0, off, on]), np.array([1.0, 0.0, 1.0])),
    }
    recording = Recording("made", "VCD", 0, 30 * S, channels)
    wiring = Wiring("w", "", ("b",), (Wire("status", "status"), Wire("power", "power")))
    assert LampWatch(condition(recording, wiring, BOARD), LAMP).first_against(2, -10 * S) is None


def test_clock_error_counts_for_the_part_only() -> None:
    """A recorder 1 % off still tells a part of 1 s from one of 1.3 s, however late in the recording it is."""
    from fractions import Fraction

    edges = square(1300 * MS, LONG)
    watch = LampWatch(recorded(edges, LONG, None, clock_error=Fraction(1, 100)), LAMP)
    assert watch.first_against(2, 30 * S) is not None
    honest = LampWatch(recorded(square(1205 * MS, LONG), LONG, None, clock_error=Fraction(1, 100)), LAMP)
    assert honest.first_against(2, -10 * S) is None


def test_groups_need_to_know_a_flash() -> None:
    """A lamp with groups that does not say what a flash is cannot be looked at."""
    with pytest.raises(ValueError, match="what a flash is"):
        parts_of(Flashes(2), evolve(LAMP, flash=None))
