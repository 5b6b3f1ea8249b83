"""An AC line becomes on, off or not known: sampled or not, pulses or volts, whatever its phase.

Times below a threshold are those of a sine of 24 V (peak 33.94 V), recomputed: of a half-wave below 0.1, 0.2 and 0.5 of
its peak, 10.64, 11.28 and 13.33 ms a cycle at 50 Hz, 8.87, 9.40 and 11.11 ms at 60 Hz; of a full wave 0.64, 1.28 and
3.33 ms, and 0.53, 1.07 and 2.78 ms a half-cycle.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_recorder import Mains, as_volts, at_samples, on_ac, rows_of
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.quantities import TimeRange
from boardgauge.traces import Recording, Trace, Wire, Wiring, condition, wiring_from
from boardgauge.traces.errors import BadWiring
from boardgauge.traces.recording import channel_of

MS = 1_000
END = 2_000 * MS
BOARD = Board("b", "invented", inputs={"y": Input("y", InputKind.CALL, TimeRange(), 0)})
PEAK = 33.94


def line(*edges: tuple[int, float], end: int = END) -> Recording:
    """Give a recording of a line that is on and off at these times."""
    times, values = np.array([0, *(t for t, _ in edges)]), np.array([0.0, *(v for _, v in edges)])
    return Recording("f", "VCD", 0, end, {"y": channel_of("y", times, values)})


def seen(recording: Recording, hertz: int = 60, **facts: object) -> Trace:
    """Give the trace of a recording of a line."""
    wires = (Wire("y", "y", line_frequency=hertz, **facts),)  # type: ignore[arg-type]
    return condition(recording, Wiring("w", "", ("b",), wires), BOARD)


ONCE = ((300_000, 1.0), (1_200_000, 0.0))
RATES = st.sampled_from([50, 60])
WAVES = st.tuples(st.booleans(), st.floats(0, 1), st.floats(0.98, 1.02), st.floats(0, 1))


def mains_of(hertz: int, wave: tuple[bool, float, float, float], missing: float = 0.0, seed: int = 0) -> Mains:
    full, phase, off, duty = wave
    low, high = (0.67, 0.96) if full else (0.34, 0.47)
    return Mains(hertz * off, phase, low + duty * (high - low), full, missing, seed)


def check_on_once(trace: Trace, latency: int) -> None:
    """The line came and went once, each somewhere in the interval given for it, and that is no wider than said."""
    wave = trace.waves["y"]
    assert wave.initial is False
    assert [value for *_, value in wave.changes()] == [True, False]
    for (true, _), (early, late, _) in zip(ONCE, wave.changes(), strict=True):
        assert early <= true <= late
        assert late - early <= latency


@given(hertz=RATES, wave=WAVES, rest=st.sampled_from([0, 1]))
def test_pulses_come_down_to_on_and_off(hertz: int, wave: tuple[bool, float, float, float], rest: int) -> None:
    """Half-wave or full-wave, toward either level, at any phase, 2 % off: known to two periods."""
    recording = on_ac(line(*ONCE), ["y"], mains_of(hertz, wave), rest)
    trace = seen(recording, hertz, at_rest="high" if rest else "low")
    check_on_once(trace, 42 * MS)
    assert trace.remarks == ()


def without(recording: Recording, pulse: int) -> Recording:
    """Give a recording of pulses with one of them left out: 0 is the first, -1 the last."""
    channel = recording.channels["y"]
    rises = np.flatnonzero(channel.values == 1.0)
    gone = rises[pulse]
    return evolve(
        recording,
        channels={
            "y": channel_of(
                "y", np.delete(channel.times, [gone, gone + 1]), np.delete(channel.values, [gone, gone + 1])
            )
        },
    )


@given(hertz=RATES, wave=WAVES, pulse=st.sampled_from([0, -1]), rate=st.sampled_from([None, 1000, 250]))
def test_the_half_cycle_missing_may_be_the_first_or_the_last(
    hertz: int, wave: tuple[bool, float, float, float], pulse: int, rate: int | None
) -> None:
    """Then too the line came and went inside the intervals that are given."""
    recording = without(on_ac(line(*ONCE), ["y"], mains_of(hertz, wave)), pulse)
    if rate is not None:
        recording = at_samples(recording, rows_of(recording, rate, 1, 0))
    check_on_once(seen(recording, hertz), 42 * MS + (0 if rate is None else 3_000_000 // rate))


@given(hertz=RATES, wave=WAVES, seed=st.integers(0, 99))
def test_a_missing_half_cycle_is_no_change(hertz: int, wave: tuple[bool, float, float, float], seed: int) -> None:
    """With pulses missing, one at a time, the line is on throughout, and that is remarked upon."""
    mains = mains_of(hertz, wave, 0.05, seed)
    recording = on_ac(line((0, 1.0)), ["y"], mains)
    wave_seen = seen(recording, hertz).waves["y"]
    # What goes on at the very ends nobody knows, if a pulse is missing there.
    assert wave_seen.initial is not False
    changes = [(time, value) for time, value in wave_seen.recorded_changes() if 42 * MS < time < END - 42 * MS]
    assert changes == []


@given(hertz=RATES, wave=WAVES, rate=st.sampled_from([1000, 500, 250]), seed=st.integers(0, 999))
def test_samples_closer_than_the_pulses(
    hertz: int, wave: tuple[bool, float, float, float], rate: int, seed: int
) -> None:
    """Sampled some times a period, with jitter: the same, and a sample or two more."""
    recording = on_ac(line(*ONCE), ["y"], mains_of(hertz, wave))
    check_on_once(seen(at_samples(recording, rows_of(recording, rate, seed, 100)), hertz), 42 * MS + 3_000_000 // rate)


@given(
    hertz=RATES, wave=WAVES, rate=st.sampled_from([100, 73, 50, 47, 31, 30, 25, 20, 11, 10]), seed=st.integers(0, 999)
)
@settings(deadline=None)
def test_samples_further_apart_never_say_what_was_not(
    hertz: int, wave: tuple[bool, float, float, float], rate: int, seed: int
) -> None:
    """However pulses and samples beat, what is said to be on or off was so somewhere in the interval given for it."""
    recording = on_ac(line(*ONCE), ["y"], mains_of(hertz, wave))
    trace = seen(at_samples(recording, rows_of(recording, rate, seed, 300 if seed % 2 else 0)), hertz)
    assert trace.remarks[0].kind == "too coarse"
    for early, late, value in trace.waves["y"].changes():
        if value is not None and early < late:
            assert any(early <= true <= late and bool(to) == value for true, to in ONCE)
        elif value is not None:
            on = ONCE[0][0] <= late < ONCE[1][0]
            assert on == value


def test_fifty_samples_of_sixty_hertz() -> None:
    """Five samples, 20 ms apart, meet five phases of 60 Hz a fifth apart: enough to see that a line is off."""
    recording = on_ac(line(*ONCE), ["y"], Mains(60.0, 0.3, 0.39))
    trace = seen(at_samples(recording, rows_of(recording, 50, 0)))
    check_on_once(trace, 240 * MS)
    assert trace.gaps(40 * MS, "y"), "a coming and going of some 80 ms may be hidden, and is told to be"


@pytest.mark.parametrize(("hertz", "rate"), [(60, 10), (60, 20), (60, 30), (50, 50), (50, 25), (60, 60)])
def test_aliases_to_a_level(hertz: int, rate: int) -> None:
    """Sampled at a whole part of twice its frequency a line looks steady: on or off is not known."""
    recording = on_ac(line(*ONCE), ["y"], Mains(hertz, 0.5))
    trace = seen(at_samples(recording, rows_of(recording, rate, 3)), hertz)
    assert (trace.waves["y"].initial, len(trace.waves["y"])) == (None, 0)
    assert "nor can they show" in trace.remarks[0].text


BELOW = {
    (50, False): (10.64, 11.28, 13.33), (60, False): (8.87, 9.40, 11.11),
    (50, True): (0.64, 1.28, 3.33), (60, True): (0.53, 1.07, 2.78),
}  # fmt: skip


@pytest.mark.parametrize(("hertz", "full"), BELOW)
def test_time_below_a_threshold(hertz: int, full: bool) -> None:
    """The pulses of a sine last as long as it is above the threshold; at any of these the line is on throughout."""
    times = np.arange(0, 1_000_000, 10)
    volts = PEAK * np.sin(2 * np.pi * hertz * times / 1e6)
    volts = np.abs(volts) if full else np.maximum(volts, 0)
    for part, below in zip((0.1, 0.2, 0.5), BELOW[hertz, full], strict=True):
        high = volts > part * PEAK
        falls, rises = np.flatnonzero(high[:-1] & ~high[1:]), np.flatnonzero(~high[:-1] & high[1:])
        lows = (times[rises[1:]] - times[falls[: len(rises) - 1]]) / MS
        assert np.median(lows) == pytest.approx(below, abs=0.02)
        recording = Recording("f", "wide CSV", 0, 999_990, {"y": channel_of("y", times, volts)}, times)
        wave = seen(recording, hertz, threshold=Fraction(round(part * PEAK * 1000), 1000)).waves["y"]
        assert (wave.initial, len(wave)) == (True, 0)


@given(hertz=RATES, phase=st.floats(0, 1), rectified=st.booleans(), seed=st.integers(0, 99))
@settings(deadline=None)
def test_volts(hertz: int, phase: float, rectified: bool, seed: int) -> None:
    """Measured at 1 kHz, signed or rectified, with noise."""
    true = line(*ONCE)
    recording = as_volts(
        at_samples(true, rows_of(true, 1000, seed)), true, ["y"], Mains(hertz, phase, seed=seed), rectified
    )
    trace = seen(recording, hertz, amplitude=Fraction(34))
    check_on_once(trace, 45 * MS)
    assert trace.remarks == ()


def test_brown_out_is_not_known() -> None:
    """Half the amplitude is neither on nor off; a line through its midpoint of 1.65 V is told the same way."""
    rows = np.arange(0, END, 1_000)
    peak = np.where(rows < 800 * MS, 1.5, np.where(rows < 1_300 * MS, 0.75, 1.5))
    volts = 1.65 + peak * np.sin(2 * np.pi * 60 * rows / 1e6)
    recording = Recording("f", "wide CSV", 0, END - 1_000, {"y": channel_of("y", rows, volts)}, rows)
    trace = seen(recording, amplitude=Fraction(3, 2), midpoint=Fraction(165, 100))
    (lost, _, _), (found, _, _) = trace.waves["y"].changes()
    assert [value for *_, value in trace.waves["y"].changes()] == [None, True]
    assert 770 * MS <= lost <= 830 * MS
    assert 1_290 * MS <= found <= 1_330 * MS
    assert [(r.kind, r.known) for r in trace.remarks] == [("brown-out", False)]
    assert "less than 1.2" in trace.remarks[0].text


def test_leakage_is_not_known() -> None:
    """A ghost voltage of a third of the line's is no call, and no absence of one."""
    rows = np.arange(0, END, 1_000)
    volts = 11 * np.sin(2 * np.pi * 60 * rows / 1e6)
    trace = seen(Recording("f", "wide CSV", 0, END, {"y": channel_of("y", rows, volts)}, rows), amplitude=Fraction(34))
    assert True not in {value for *_, value in trace.waves["y"].changes()}
    assert trace.remarks[0].kind == "brown-out"


def test_chatter_is_not_known() -> None:
    """A line that comes and goes each 60 ms chatters; one that does so once is on, off and on."""
    edges = [(500_000 + 60_000 * k, float(k % 2 == 0)) for k in range(9)]
    trace = seen(on_ac(line(*edges), ["y"], Mains()))
    assert [value for *_, value in trace.waves["y"].changes()] == [None, True]
    assert [(r.kind, r.known) for r in trace.remarks] == [("chatter", False)]
    once = seen(on_ac(line((500_000, 1.0), (900_000, 0.0), (980_000, 1.0)), ["y"], Mains()))
    assert [value for *_, value in once.waves["y"].changes()] == [True, False, True]
    assert once.remarks == ()


def test_ragged_pulses_are_not_known() -> None:
    """Pulses at another rate are not those of the line, and the remark says how far apart they are."""
    trace = seen(on_ac(line((500_000, 1.0)), ["y"], Mains(41.0)))
    assert None in {value for *_, value in trace.waves["y"].changes()}
    assert trace.remarks[0].kind == "ragged"
    assert "24.4 ms apart" in trace.remarks[0].text


def test_a_steady_level_is_remarked_upon() -> None:
    trace = seen(line((500_000, 1.0), (1_000_000, 0.0)))
    assert [(r.kind, r.known) for r in trace.remarks] == [("steady", True)]


WIRING = 'language = 1\nboard = "b"\n[wiring]\nid = "w"\n[channels.y]\nsignal = "y"\n'


def test_keys() -> None:
    """Levels of a line have defaults; a measured one takes its threshold from its amplitude."""
    wire = wiring_from(WIRING + "line_frequency = 60\namplitude = 34\n").wires[0]
    assert (wire.line_threshold, wire.brown_out) == (Fraction(34, 5), Fraction(136, 5))
    wire = wiring_from(WIRING + 'line_frequency = 60\nat_rest = "high"\n').wires[0]
    assert (wire.at_rest, wire.line_threshold, wire.brown_out) == ("high", None, None)


@pytest.mark.parametrize(
    ("keys", "line_number", "says"),
    [
        ("amplitude = 34", 7, "this is for an AC signal"),
        ('line_frequency = 60\nat_rest = "high"\namplitude = 34', 8, "rests at its midpoint"),
        ("line_frequency = 60\nmidpoint = 1", 8, "that was measured"),
        ("line_frequency = 60\namplitude = 34\nleast_amplitude = 40", 9, "more than the amplitude"),
        ("line_frequency = 60\namplitude = 34\nthreshold = 30", 9, "no brown-out below 27.2"),
        ("line_frequency = 60\namplitude = -1", 8, "expected a number above 0"),
        ("dark_level = 1", 7, "for a brightness"),
        ("brightness = true\ndark_level = 1", 8, "one level alone"),
        ("brightness = true\ndark_level = 1\nlit_level = 1", 9, "the same level"),
        ("brightness = true\nthreshold = 1", 8, "takes dark_level and lit_level only"),
    ],
)
def test_keys_that_do_not_go_together(keys: str, line_number: int, says: str) -> None:
    with pytest.raises(BadWiring) as error:
        wiring_from(WIRING + keys + "\n", "w.toml")
    assert f"w.toml:{line_number}:" in str(error.value)
    assert says in str(error.value)
