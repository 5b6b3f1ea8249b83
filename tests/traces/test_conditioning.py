"""A channel becomes a signal of the board with each change in the interval the recording leaves it, and no other."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.language.model import Board, Input, InputKind, Lamp, LampLine, Output, Steady
from boardgauge.language.quantities import TimeRange, Tolerance
from boardgauge.traces import NEVER, BadWiring, Recording, Trace, Wire, Wiring, condition
from boardgauge.traces.recording import channel_of

NAN = float("nan")
ANY = TimeRange()
BOARD = Board(
    "b",
    "invented",
    inputs={"s": Input("s", InputKind.SWITCH, ANY, 0), "y": Input("y", InputKind.CALL, ANY, 0)},
    outputs={"q": Output("q"), "nc": Output("nc", contact="normally closed")},
    lamps={"lamp": Lamp("lamp", (LampLine(None, Steady()),), Tolerance())},
)


def trace(
    wires: list[Wire], samples: list[int] | None = None, end: int = 1000, start: int = 0, rounded: bool = False,
    channels: dict[str, list[tuple[int, float]]] | None = None, **facts: object,
) -> Trace:  # fmt: skip
    made = {}
    for name, values in (channels or {}).items():
        made[name] = channel_of(name, np.array([t for t, _ in values]), np.array([v for _, v in values]))
    rows = None if samples is None else np.array(samples)
    recording = Recording("f", "VCD" if rows is None else "wide CSV", start, end, made, rows, rounded)
    return condition(recording, Wiring("w", "", ("b",), tuple(wires), **facts), BOARD)  # type: ignore[arg-type]


SQUARE = {"c": [(0, 0.0), (100, 1.0), (300, 0.0)]}


def test_changes_stand_where_they_were_recorded() -> None:
    """In a recording of changes a change is known to the microsecond."""
    found = trace([Wire("c", "s")], channels=SQUARE)
    assert found.waves["s"].initial is False
    assert found.waves["s"].changes() == [(100, 100, True), (300, 300, False)]
    assert (found.seen_by(77), found.longest_gap, found.gaps(0)) == (77, 0, [])


def test_samples_leave_an_interval() -> None:
    """In a sampled one it lies between the sample before and its own; what was lost or found again is so at once."""
    samples = [0, 100, 200, 300, 400]
    found = trace([Wire("c", "s")], samples, 400, channels=SQUARE)
    assert found.waves["s"].changes() == [(0, 100, True), (200, 300, False)]
    assert [found.seen_by(t) for t in (0, 1, 100, 399, 401)] == [0, 100, 100, 400, NEVER]
    lost = trace([Wire("c", "s")], samples, 400, channels={"c": [(0, 1.0), (200, NAN), (300, 0.0)]})
    assert lost.waves["s"].changes() == [(100, 100, None), (300, 300, False)]
    rows = trace([Wire("c", "s")], samples, 400, channels=SQUARE, rows="changes")
    assert (rows.samples, rows.waves["s"].changes()) == (None, [(100, 100, True), (300, 300, False)])


def test_uncertainties_add_up() -> None:
    """Skew widens both ways, rounding later, and the clock by the time since the start."""
    found = trace([Wire("c", "s")], channels=SQUARE, skew=10, rounded=True, clock_error=Fraction(1, 10))
    assert found.waves["s"].changes() == [(80, 123, True), (260, 343, False)] or found.waves["s"].changes() == [
        (81, 123, True),
        (261, 343, False),
    ]
    assert found.nominal().waves["s"].changes() == [(100, 100, True), (300, 300, False)]
    assert found.seen_by(100) >= 100 + 10 + 10


@pytest.mark.parametrize(
    ("wire", "first"),
    [
        (Wire("c", "s"), False),
        (Wire("c", "s", inverted=True), True),
        (Wire("c", "nc"), True),
        (Wire("c", "nc", inverted=True), False),
        (Wire("c", "q"), False),
    ],
)
def test_levels(wire: Wire, first: bool) -> None:
    """Level 1 is on; inverted, or through a normally closed contact, it is off; through both, on again."""
    assert trace([wire], channels=SQUARE).waves[wire.signal].initial is first


def test_unpowered_levels() -> None:
    """Without power the unpowered level is off, whatever it would mean with power; any other level is read."""
    channels = {"power": [(0, 0.0), (100, 1.0), (500, 0.0)], "c": [(0, 0.0), (200, 1.0), (400, 0.0)]}
    wires = [Wire("power", "power"), Wire("c", "lamp", inverted=True)]
    assert trace(wires, channels=channels).waves["lamp"].recorded_changes() == [
        (100, True), (200, False), (400, True), (500, False),
    ]  # fmt: skip
    pulled = [wires[0], Wire("c", "lamp", inverted=True, unpowered="high")]
    assert trace(pulled, channels=channels).waves["lamp"].initial is True
    unknown = {"power": [(0, NAN), (100, 1.0)], "c": [(0, 0.0)]}
    assert trace(wires, channels=unknown).waves["lamp"].initial is None
    # An input is there without power.
    assert trace([wires[0], Wire("c", "s", inverted=True)], channels=channels).waves["s"].initial is True


def test_bounce() -> None:
    """Edges within the bounce are one change from the first to the last; a burst that comes to nothing stays."""
    bouncing = {"c": [(0, 0.0), (100, 1.0), (103, 0.0), (106, 1.0), (500, 0.0), (505, 1.0)]}
    found = trace([Wire("c", "q", bounce=10)], channels=bouncing).waves["q"]
    assert found.changes() == [(100, 106, True), (500, 500, False), (505, 505, True)]
    assert found.nominal().changes()[0] == (106, 106, True)


def test_threshold() -> None:
    """A measured level is on above the threshold, and changes only at the far side of the differential."""
    level = {"c": [(0, 2.4), (100, 2.8), (200, 2.4), (300, 2.2), (400, NAN), (500, 2.5), (600, 2.1)]}
    plain = trace([Wire("c", "s", threshold=Fraction(5, 2))], channels=level).waves["s"]
    assert plain.recorded_changes() == [(100, True), (200, False), (400, None), (500, False)]
    wide = trace([Wire("c", "s", threshold=Fraction(5, 2), differential=Fraction(2, 5))], channels=level).waves["s"]
    assert wide.initial is None
    assert wide.recorded_changes() == [(100, True), (300, False), (400, None), (600, False)]
    with pytest.raises(BadWiring, match="neither 0 nor 1"):
        trace([Wire("c", "s")], channels=level)


def test_what_does_not_fit() -> None:
    """Unknown signals come with the nearest name; all misfits are told at once; a foreign board is refused."""
    with pytest.raises(BadWiring, match=r"did you mean 'lamp'") as error:
        trace([Wire("c", "lmp"), Wire("d", "s", scale=Fraction(2))], channels=SQUARE, settings={"x": "1"})
    assert len(error.value.problems) == 3
    with pytest.raises(BadWiring, match="none of the channels zz is in f, which has c"):
        trace([Wire("zz", "s")], channels=SQUARE)
    recording = Recording("f", "VCD", 0, 1, {})
    with pytest.raises(BadWiring, match="this wiring is for other"):
        condition(recording, Wiring("w", "", ("other",), ()), BOARD)


def test_wiring_for_several_boards() -> None:
    """A wiring for more than one board may name a signal that only another of them has; its channel is ignored."""
    recording = Recording("f", "VCD", 0, 1, {name: channel_of(name, np.array([0]), np.array([1.0])) for name in "cd"})
    wires = (Wire("c", "s"), Wire("d", "elsewhere"))
    assert condition(recording, Wiring("w", "", ("b", "b2"), wires), BOARD).ignored == ("d",)
    with pytest.raises(BadWiring, match="elsewhere"):
        condition(recording, Wiring("w", "", ("b",), wires), BOARD)


def test_lists() -> None:
    """What has no channel and what has no signal are listed; without power, power is on."""
    found = trace([Wire("c", "s")], channels={**SQUARE, "d": [(0, 1.0)]})
    assert found.unwired == ("power", "y", "q", "nc", "lamp")
    assert found.ignored == ("d",)
    assert (found.power.initial, len(found.power)) == (True, 0)


def test_gaps() -> None:
    """A gap between samples hides what is shorter; a declared least pulse shows through."""
    samples = [0, 10, 20, 60, 70, 110, 150]
    channels = {"c": [(0, 0.0), (60, 1.0), (110, 0.0), (150, 1.0)]}
    found = trace([Wire("c", "s")], samples, 150, channels=channels)
    assert found.gaps(20) == [(20, 60), (70, 110), (110, 150)]
    assert found.blinded("s", 20).changes() == [
        (20, 20, None), (60, 60, True), (70, 70, None), (150, 150, True),
    ]  # fmt: skip
    caught = trace([Wire("c", "s")], samples, 150, channels=channels, least_pulse=40)
    assert caught.blinded("s", 20).changes() == caught.waves["s"].changes()


@given(st.lists(st.integers(1, 50), min_size=1, max_size=15), st.integers(1, 60), st.integers(0, 30))
def test_the_true_change_lies_in_its_interval(steps: list[int], gap: int, phase: int) -> None:
    """Whatever the sampling, each change that is seen really happened within the interval given for it."""
    times = np.cumsum([gap, *steps])
    true = channel_of("c", times, np.arange(len(times)) % 2 * 1.0)
    samples = np.arange(phase, int(times[-1]) + 2 * gap + phase, gap)
    index = np.searchsorted(true.times, samples, side="right") - 1
    values = np.where(index < 0, NAN, true.values[np.maximum(index, 0)])
    recording = Recording(
        "f", "wide CSV", int(samples[0]), int(samples[-1]), {"c": channel_of("c", samples, values)}, samples
    )
    found = condition(recording, Wiring("w", "", ("b",), (Wire("c", "s"),)), BOARD)
    for early, late, value in found.waves["s"].changes():
        if value is not None and early < late:
            inside = (true.times >= early) & (true.times <= late) & (true.values == value)
            assert inside.any()
    assert evolve(found).nominal().nominal().measured is not None


def pulses(on: int, off: int, end: int) -> list[tuple[int, float]]:
    """Half-wave pulses of 50 Hz, 7 ms wide, from one time to another."""
    found: list[tuple[int, float]] = [(0, 0.0)]
    for rise in range(on, off, 20_000):
        found += [(rise, 1.0), (rise + 7_000, 0.0)]
    return found


def test_line_frequency_sampled() -> None:
    """Sampled closely enough, pulses come down to on and off; lost rows, and samples a period apart, are not known."""
    wire = Wire("c", "y", line_frequency=50)
    true = channel_of("c", *map(np.array, zip(*pulses(100_000, 500_000, 900_000), strict=True)))

    def at(samples: np.ndarray) -> Trace:
        values = true.values[np.searchsorted(true.times, samples, side="right") - 1]
        channels = {"c": list(zip(samples.tolist(), values.tolist(), strict=True))}
        return trace([wire], samples.tolist(), 900_000, channels=channels)

    fine = at(np.arange(0, 900_001, 2_000))
    (on_early, on_late, _), (off_early, off_late, _) = fine.waves["y"].changes()
    assert fine.waves["y"].initial is False
    assert on_early <= 100_000 <= on_late
    assert off_early <= 487_000 <= off_late <= 533_000
    lost = np.arange(0, 900_001, 2_000)
    lost = lost[(lost < 250_000) | (lost > 300_000)]
    assert [value for *_, value in at(lost).waves["y"].changes()] == [True, None, True, False]
    coarse = at(np.arange(10_000, 900_001, 20_000))
    assert (coarse.waves["y"].initial, len(coarse.waves["y"])) == (None, 0)
    assert [remark.kind for remark in coarse.remarks] == ["too coarse"]


def test_bursts_that_a_bounce_does_not_explain() -> None:
    """A burst that comes to nothing, and one that goes on for longer than the bounce, are remarked upon as chatter."""
    nothing = trace([Wire("c", "q", bounce=10)], channels={"c": [(0, 0.0), (500, 1.0), (505, 0.0)]})
    assert [(r.kind, r.start, r.end, r.known) for r in nothing.remarks] == [("chatter", 500, 505, True)]
    edges = [(0, 0.0), *((100 + 4 * k, float(k % 2 == 0)) for k in range(7))]
    long = trace([Wire("c", "q", bounce=10)], channels={"c": edges})
    assert [(r.kind, r.start, r.end) for r in long.remarks] == [("chatter", 100, 124)]
    plain = trace([Wire("c", "q", bounce=10)], channels={"c": [(0, 0.0), (100, 1.0), (103, 0.0), (106, 1.0)]})
    assert plain.remarks == ()


def test_an_input_counts_from_the_touch() -> None:
    """The recorded time of a bouncing input is that of the first touch, of an output that of the last edge."""
    edges = {"c": [(0, 0.0), (100, 1.0), (103, 0.0), (106, 1.0)]}
    assert trace([Wire("c", "s", bounce=10)], channels=edges).waves["s"].recorded_changes() == [(100, True)]
    assert trace([Wire("c", "q", bounce=10)], channels=edges).waves["q"].recorded_changes() == [(106, True)]


@given(st.lists(st.integers(1, 30), max_size=40), st.integers(1, 20))
def test_bounce_loses_no_change(steps: list[int], bounce: int) -> None:
    """However edges follow one another, the level between bursts stays, and changes alternate."""
    times = np.cumsum([100, *steps])
    edges = [(0, 0.0), *((int(t), float(k % 2 == 0)) for k, t in enumerate(times))]
    wave = trace([Wire("c", "q", bounce=bounce)], channels={"c": edges}, end=5000).waves["q"]
    assert wave.at(5000) is (len(times) % 2 == 1)
    values = [False, *(value for *_, value in wave.changes())]
    assert all(a != b for a, b in pairwise(values))
    for quiet in np.flatnonzero(np.diff(times) > bounce):
        assert bool(wave.at(int(times[quiet]))) == bool(quiet % 2 == 0)


def test_a_noisy_threshold_is_remarked_upon() -> None:
    """Many crossings in a row: the level is taken as it is, and a differential makes an end of it."""
    level = [(0, 0.0), *((100 + k, 2.6 if k % 2 == 0 else 2.4) for k in range(21))]
    noisy = trace([Wire("c", "s", threshold=Fraction(5, 2))], channels={"c": level})
    assert [(r.kind, r.known) for r in noisy.remarks] == [("chatter", True)]
    quiet = trace([Wire("c", "s", threshold=Fraction(5, 2), differential=Fraction(1, 2))], channels={"c": level})
    assert (quiet.remarks, len(quiet.waves["s"])) == ((), 0)
