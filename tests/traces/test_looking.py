"""What a recording looks like, what is suspicious in it, and the wiring drafted from it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.traces import Channel, Recording, Wire, condition, read_recording, wiring_from
from boardgauge.traces.appearance import Appearance, appearance_of
from boardgauge.traces.draft import draft_of
from boardgauge.traces.matching import matches_of
from boardgauge.traces.pace import pace_of
from boardgauge.traces.recording import channel_of
from boardgauge.traces.suspicions import Suspicion, suspicions_of

RECORDINGS = Path(__file__).parents[1] / "recordings"
SECOND = 1_000_000


@cache
def tarnbeck() -> Board:
    """The board of the shipped recordings."""
    return read_board(board_path("tarnbeck"))


def sampled(step: int = 1000, seconds: int = 10, **channels: object) -> Recording:
    """Give a recording sampled evenly, of functions of the time in seconds."""
    times = np.arange(0, seconds * SECOND + 1, step)
    made = {}
    for name, function in channels.items():
        made[name] = channel_of(name, times, np.asarray(function(times / SECOND), dtype=np.float64))  # type: ignore[operator]
    return Recording("made.csv", "wide CSV", 0, int(times[-1]), made, times)


def changed(end: int = 10 * SECOND, **channels: list[tuple[int, float]]) -> Recording:
    """Give a recording of changes."""
    made = {}
    for name, pairs in channels.items():
        times, values = np.array(pairs, dtype=np.float64).reshape(-1, 2).T
        made[name] = channel_of(name, times.astype(np.int64), values)
    return Recording("made.vcd", "VCD", 0, end, made)


def looks(recording: Recording, name: str = "a") -> Appearance:
    """Give how one channel looks."""
    return appearance_of(recording.channels[name], recording)


def suspected(recording: Recording, board: Board | None = None, **wires: str) -> list[Suspicion]:
    """Give what is suspicious; ``wires`` says which channel shows which signal, ``-`` before it: inverted."""
    made = {name: Wire(name, signal.lstrip("-"), signal.startswith("-")) for name, signal in wires.items()}
    shown = [appearance_of(channel, recording) for channel in recording.channels.values()]
    return suspicions_of(recording, pace_of(recording), shown, board, made)


def abouts(recording: Recording, board: Board | None = None, **wires: str) -> set[tuple[str, str | None]]:
    """Give what the suspicions are about, and of which channel."""
    return {(each.about, each.channel) for each in suspected(recording, board, **wires)}


# -- pulses of the line --------------------------------------------------------------------------------------------


def half_wave(hertz: float, duty: float = 0.4, on: float = 0.0) -> object:
    """A pulse in each period, from a moment on."""
    return lambda t: ((t * hertz) % 1 < duty) & (t >= on)


@pytest.mark.parametrize("hertz", [50, 60])
@pytest.mark.parametrize("a_period", [1, 2])
@pytest.mark.parametrize("step", [100, 1000])
def test_pulses_of_the_line(hertz: int, a_period: int, step: int) -> None:
    """Half-wave and full-wave, sampled finely and coarsely, and with the line 0.5 % off."""
    shown = looks(sampled(step, a=half_wave(hertz * a_period * 1.005, on=2.0)))
    assert shown.kind == "line frequency"
    assert shown.pulses is not None
    assert (shown.pulses.hertz, shown.pulses.a_period, shown.pulses.rest) == (hertz, a_period, "low")


def test_pulses_from_a_high_level() -> None:
    """An optocoupler that pulls low rests high."""
    shown = looks(sampled(500, a=lambda t: 1 - half_wave(60, on=5.0)(t)))  # type: ignore[operator]
    assert shown.pulses is not None
    assert shown.pulses.rest == "high"


@pytest.mark.parametrize("hertz", [4, 25, 40, 55, 70, 80])
def test_other_rates_are_no_line(hertz: int) -> None:
    """A lamp, a fan's tachometer, another oscillation: a level that comes and goes."""
    assert looks(sampled(500, a=half_wave(hertz))).kind == "logic"


def test_a_few_pulses_are_no_line() -> None:
    """Chatter may come as often as the line for some periods."""
    assert looks(sampled(500, a=lambda t: half_wave(60)(t) & (t < 0.3))).kind == "logic"  # type: ignore[operator]


@pytest.mark.parametrize(("wave", "a_period"), [(lambda s: s, 1), (np.abs, 2), (lambda s: np.maximum(s, 0), 1)])
def test_a_measured_line(wave: object, a_period: int) -> None:
    """A sine, and one rectified in full or by half."""
    volts = sampled(1000, a=lambda t: np.round(34 * wave(np.sin(2 * np.pi * 60 * t)) * (t > 3), 2))  # type: ignore[operator]
    shown = looks(volts)
    assert shown.kind == "line frequency"
    assert shown.pulses is not None
    assert (shown.pulses.hertz, shown.pulses.a_period) == (60, a_period)


def test_a_line_sampled_too_slowly() -> None:
    """60 Hz sampled 50 times a second beats at 10 Hz, and that is said."""
    found = [each for each in suspected(sampled(20_000, a=half_wave(60))) if each.about == "too slow"]
    assert [(each.channel, "as evenly as 60 Hz" in each.what) for each in found] == [("a", True)]
    assert abouts(sampled(20_000, a=half_wave(1))) == set()


# -- levels, bounce, what is not known -----------------------------------------------------------------------------


def test_two_levels() -> None:
    """Volts of a logic level keep to two levels, with a threshold between them; a slope does not."""
    rng = np.random.default_rng(1)
    noise = rng.normal(0, 0.05, 10_001)
    shown = looks(sampled(a=lambda t: np.round(np.where(t % 4 < 1, 0.3, 4.8) + noise, 3)))
    assert shown.levels is not None
    assert (shown.kind, round(shown.levels.low, 1), round(shown.levels.high, 1)) == ("measured", 0.3, 4.8)
    assert shown.levels.low + 1 < shown.levels.threshold < shown.levels.high - 1
    assert looks(sampled(a=lambda t: np.round(t * 7, 2))).levels is None
    assert ("levels", "a") in abouts(sampled(a=lambda t: np.where(t % 4 < 1, 0.0, 5.0)))


def test_bounce() -> None:
    """Edges that settle in some milliseconds are told, with how long they take; a short lone pulse is not bounce."""
    contact = changed(a=[(0, 0), (SECOND, 1), (SECOND + 900, 0), (SECOND + 2300, 1), (5 * SECOND, 0)])
    shown = looks(contact)
    assert shown.bounce is not None
    assert (shown.bounce.bursts, shown.bounce.longest, shown.bounce.at) == (1, 2300, SECOND)
    assert (shown.shortest, shown.shortest_at) == (900, SECOND)
    assert 'bounce = "3 ms"' in str(suspected(contact)[0].advice)
    assert looks(changed(a=[(0, 0), (SECOND, 1), (SECOND + 900, 0)])).bounce is None


def test_what_is_not_known() -> None:
    """Shares count the time, not the changes."""
    shown = looks(changed(a=[(0, 1), (SECOND, float("nan")), (2 * SECOND, 0)]))
    assert (round(shown.unknown, 3), round(shown.high or 0, 3)) == (0.1, 0.111)
    assert ("not known", "a") in abouts(changed(a=[(0, 1), (SECOND, float("nan")), (2 * SECOND, 0)]))
    assert abouts(changed(a=[(0, float("nan"))], b=[(0, 1)])) == {("never known", "a"), ("never changes", "b")}


# -- times ---------------------------------------------------------------------------------------------------------


def test_pace() -> None:
    """The usual step, its bounds without the gaps, and the gaps."""
    times = np.cumsum([0, *[1000, 1010, 990] * 10, 5000, *[1000] * 10])
    made = Recording("made", "wide CSV", 0, int(times[-1]), {}, times)
    pace = pace_of(made)
    assert pace is not None
    assert (pace.samples, pace.usual, pace.least, pace.greatest) == (42, 1000, 990, 1010)
    assert (pace.gaps, pace.longest_gap, pace.missing) == (1, (30_000, 5000), 4000)
    assert {each.about for each in suspected(made)} == {"gaps"}


def test_changes_that_were_samples() -> None:
    """If every change falls on a multiple of 20 ms, it was looked at that often."""
    pairs = [(20_000 * step, float(number % 2)) for number, step in enumerate(range(0, 400, 7))]
    assert ("common step", None) in abouts(changed(a=pairs))
    pairs[20] = (pairs[20][0] + 13, pairs[20][1])
    assert ("common step", None) not in abouts(changed(a=pairs))


# -- against a board -----------------------------------------------------------------------------------------------


def test_looks_inverted() -> None:
    """An input that rests where the board's rests is in order, the other way round is told; a wiring may turn it."""
    call = [(0, 1.0), (5 * SECOND, 0.0), (5 * SECOND + 400_000, 1.0)]
    switch = [(0, 0.0), (5 * SECOND, 1.0), (5 * SECOND + 400_000, 0.0)]
    both = changed(y=call, lps=switch)
    assert abouts(both, tarnbeck(), y="y", lps="lps") == {("inverted", "y"), ("inverted", "lps")}
    assert abouts(both, tarnbeck(), y="-y", lps="-lps") == set()
    assert abouts(changed(y=switch, lps=call), tarnbeck(), y="y", lps="lps") == set()


def test_high_while_dead() -> None:
    """An output that is high without supply is pulled up from elsewhere, or turned over."""
    dead = changed(power=[(0, 0), (5 * SECOND, 1)], cc=[(0, 1), (5 * SECOND, 0), (8 * SECOND, 1)])
    assert abouts(dead, tarnbeck(), power="power", cc="cc") == {("unpowered", "cc")}


def test_too_slow_for_the_board() -> None:
    """Samples further apart than the filter may miss what the board takes in; a lamp needs two in a flash."""
    slow = sampled(200_000, y=lambda t: t > 3, led=lambda t: t % 1 > 0.5)
    found = [each.what for each in suspected(slow, tarnbeck(), y="y", led="led") if each.about == "too slow"]
    assert ["y" in found[0], "flashes of led" in found[1], len(found)] == [True, True, 2]
    fast = sampled(20_000, y=lambda t: t > 3, led=lambda t: t % 1 > 0.5)
    assert not [each for each in suspected(fast, tarnbeck(), y="y", led="led") if each.about == "too slow"]


def test_twins() -> None:
    """Two channels that are the same throughout are told."""
    pairs = [(number * SECOND, float(number % 2)) for number in range(8)]
    other = [*pairs[:-1], (7 * SECOND + 1, 1.0)]
    assert ("twins", "b") in abouts(changed(a=pairs, b=pairs))
    assert abouts(changed(a=pairs, b=other)) == set()


# -- names ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("channel", "signal", "inverted"),
    [
        ("cc", "cc", False),
        ("CC", "cc", False),
        ("bench.board.cc", "cc", False),
        ("CH3 - LPS", "lps", False),
        ("input_y", "y", False),
        ("y_call", "y", False),
        ("lpsSwitch", "lps", False),
        ("fast_n", "fast", True),
        ("/alm", "alm", True),
        ("LED#", "led", True),
        ("HPS_bar", "hps", True),
        ("nFAST", "fast", True),
        ("Compressor Contactor", "cc", False),
        ("outdoorFan", "fan", False),
        ("Reversing Valve", "rv", False),
        ("power", "power", False),
    ],
)
def test_sure_names(channel: str, signal: str, inverted: bool) -> None:
    """Case, separators, paths, idle words, marks of inversion, and what people call a signal."""
    found = matches_of([channel], tarnbeck()).of(channel)
    assert (found.signal if found else None, bool(found and found.inverted)) == (signal, inverted)


@pytest.mark.parametrize(
    ("channel", "signal"),
    [("fan speed", "fan"), ("hi pressure switch", "hps"), ("supply", "power"), ("auxheat", "aux")],
)
def test_names_that_are_only_alike(channel: str, signal: str) -> None:
    """They are offered and not taken."""
    found = matches_of([channel], tarnbeck())
    assert (found.sure, [(m.channel, m.signal) for m in found.unsure]) == ((), [(channel, signal)])


@pytest.mark.parametrize("channel", ["Digital 1", "T1", "xyzzy", "temperature", "ch7"])
def test_names_that_are_like_nothing(channel: str) -> None:
    """They are left alone."""
    found = matches_of([channel], tarnbeck())
    assert (found.sure, found.unsure) == ((), ())


def test_two_that_could_be_one() -> None:
    """Of two names that are a signal as surely, none is taken; the signal's own name goes before any other."""
    rivals = matches_of(["bench.cc", "Compressor Contactor"], tarnbeck())
    assert rivals.sure == ()
    assert {m.channel for m in rivals.unsure} == {"bench.cc", "Compressor Contactor"}
    own = matches_of(["CC", "cc"], tarnbeck())
    assert [(m.channel, m.signal) for m in own.sure] == [("cc", "cc")]


# -- drafts --------------------------------------------------------------------------------------------------------


def draft(recording: Recording, board: Board) -> str:
    """Give the wiring drafted from a recording."""
    shown = [appearance_of(channel, recording) for channel in recording.channels.values()]
    matches = matches_of(recording.channels, board)
    wires = {match.channel: Wire(match.channel, match.signal, match.inverted) for match in matches.sure}
    found = suspicions_of(recording, pace_of(recording), shown, board, wires)
    return draft_of(board, matches, shown, found, "draft", recording.file)


@pytest.mark.parametrize("path", sorted(RECORDINGS.glob("s0[1-5]*")), ids=lambda path: path.name)
def test_a_draft_is_taken_as_it_is(path: Path) -> None:
    """The draft of each shipped recording is a wiring that fits it, with all channels."""
    recording = read_recording(path)
    wiring = wiring_from(draft(recording, tarnbeck()), "draft.toml")
    assert {wire.channel for wire in wiring.wires} == set(recording.channels)
    trace = condition(recording, wiring, tarnbeck())
    assert (trace.unwired, trace.ignored) == ((), ())


def test_a_draft_of_measured_channels() -> None:
    """Volts of a line, of a level and of a lamp are wired as such; a slope is left in a comment."""
    recording = sampled(
        1000,
        y=lambda t: np.round(34 * np.sin(2 * np.pi * 60 * t) * (t > 3), 2),
        cc=lambda t: np.where(t > 5, 4.9, 0.1),
        led=lambda t: np.where(t % 1 > 0.5, 180.0, 20.0),
        fan=lambda t: np.round(t, 3),
    )
    text = draft(recording, tarnbeck())
    wiring = wiring_from(text)
    wires = {wire.channel: wire for wire in wiring.wires}
    assert set(wires) == {"y", "cc", "led"}
    assert (wires["y"].line_frequency, float(wires["y"].amplitude or 0)) == (60, pytest.approx(34, rel=0.03))
    assert float(wires["cc"].threshold or 0) == pytest.approx(2.5, abs=0.5)
    assert '# signal = "fan"' in text
    trace = condition(recording, wiring, tarnbeck())
    assert {"y", "cc", "led"} <= set(trace.waves)


@given(
    st.lists(
        st.text(min_size=1, max_size=8) | st.sampled_from(["cc", "FAN", "led_n", "a.y", '"', "#", "\x7f"]),
        min_size=1,
        max_size=6,
        unique=True,
    )
)
def test_any_draft_is_a_wiring(names: list[str]) -> None:
    """Whatever the channels are called, the draft reads, and wires what is sure."""
    made = {name: Channel(name, np.array([0, 5]), np.array([0.0, 1.0])) for name in names}
    recording = Recording("re\ncording", "VCD", 0, 10, made)
    wiring = wiring_from(draft(recording, tarnbeck()))
    sure = matches_of(names, tarnbeck()).sure
    assert {(wire.channel, wire.signal, wire.inverted) for wire in wiring.wires} == {
        (match.channel, match.signal, match.inverted) for match in sure
    }
