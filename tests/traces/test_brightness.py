"""Lit and dark are read from what a camera made of a lamp, and never read into what it did not show."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from boardgauge.traces import BadWiring, LampWatch, Recording, Trace, Wire, Wiring, condition
from boardgauge.traces.recording import channel_of
from camera import Camera
from traces.tarnbeck_by_hand import LAMP
from traces.test_lamp_looks import LINES, LONG, shown

BOARD = Board("b", "invented", lamps={"status": LAMP})
STEADY, RAPID, SLOW, THREE, DARK = 0, 1, 2, 4, 7


def filmed(frames: np.ndarray, values: np.ndarray, **wire: object) -> Trace:
    """Give the trace of a lamp whose brightness was taken at these times."""
    channels = {"status": channel_of("status", frames, values)}
    recording = Recording("made", "wide CSV", int(frames[0]), int(frames[-1]), channels, frames)
    wires = (Wire("status", "status", brightness=True, **wire),)  # type: ignore[arg-type]
    return condition(recording, Wiring("w", "", ("b",), wires), BOARD)


def unknown_part(trace: Trace) -> float:
    wave = trace.waves["status"]
    return sum(b - a for a, b, value in wave.stretches(trace.start, trace.end) if value is None) / LONG


CAMERAS = st.builds(
    Camera,
    rate=st.sampled_from([25, 30, 60]),
    noise=st.sampled_from([0.0, 2.0, 5.0]),
    lit=st.sampled_from([90.0, 170.0, 230.0]),
    drift=st.sampled_from([-0.5, 0.0, 1.0]),
    exposures=st.sampled_from([(), ((15 * S, 0.7),), ((15 * S, 1.4), (25 * S, 0.75))]),
    dropped=st.sampled_from([0.0, 0.05]),
    jitter=st.sampled_from([0, 3 * MS, 8 * MS]),
    seed=st.integers(0, 10_000),
)


@settings(deadline=None, max_examples=settings().max_examples // 2)
@given(line=st.sampled_from(LINES), camera=CAMERAS, slow=st.floats(0.82, 1.18), phase=st.integers(0, 4 * S))
def test_the_line_that_is_shown_is_never_ruled_out(line: int, camera: Camera, slow: float, phase: int) -> None:
    """Whatever the light, the noise and the camera's exposure do, at whatever rate it took its frames."""
    edges = shown(LAMP.lines[line].shows, lambda nominal: int(nominal * slow), phase)
    assert LampWatch(filmed(*camera.film(edges, LONG)), LAMP).first_against(line, -10 * S) is None


@settings(deadline=None)
@given(line=st.sampled_from([SLOW, 3, THREE, 5, 6]), rate=st.sampled_from([25, 30]), seed=st.integers(0, 10_000))
def test_other_lines_are_ruled_out(line: int, rate: int, seed: int) -> None:
    """Slow and counted flashes are told apart from all others at 25 frames a second, rapid ones left aside."""
    camera = Camera(rate=rate, seed=seed)
    watch = LampWatch(filmed(*camera.film(shown(LAMP.lines[line].shows, lambda n: n, seed % S), LONG)), LAMP)
    for other in set(LINES) - {line, RAPID}:
        assert watch.first_against(other, 0) is not None


def test_a_change_is_found_between_two_frames() -> None:
    frames, values = Camera(rate=25, noise=0.0, jitter=0, dropped=0.0).film(
        shown(LAMP.lines[SLOW].shows, lambda n: n, 0), LONG
    )
    for early, late, value in filmed(frames, values).waves["status"].changes():
        true = round(early / S) * S
        assert early <= true <= late + 12 * MS, "the shutter is open for 12 ms of each frame"
        assert late - early <= 80 * MS
        assert value is (true // S % 2 == 0)


def test_a_scale_of_one() -> None:
    """0 to 1 is read as 0 to 255 is."""
    frames, values = Camera(seed=3).film(shown(LAMP.lines[THREE].shows, lambda n: n, 0), LONG)
    plain, small = (filmed(frames, values * factor).waves["status"] for factor in (1.0, 1 / 255))
    assert np.array_equal(plain.recorded, small.recorded)


@pytest.mark.parametrize("line", [STEADY, DARK])
def test_a_lamp_that_never_flashes_is_not_known(line: int) -> None:
    """Without levels in the wiring nobody can say whether it is lit, also where the exposure changes."""
    frames, values = Camera(exposures=((15 * S, 0.6),)).film(shown(LAMP.lines[line].shows, lambda n: n, 0), LONG)
    trace = filmed(frames, values)
    assert unknown_part(trace) > 0.99
    assert [remark.kind for remark in trace.remarks] == ["low contrast"]
    assert "dark_level and lit_level" in trace.remarks[0].text
    frames, values = Camera().film(shown(LAMP.lines[line].shows, lambda n: n, 0), LONG)
    known = filmed(frames, values, dark_level=Fraction(25), lit_level=Fraction(170)).waves["status"]
    assert (known.initial, len(known)) == (line == STEADY, 0)


def test_too_little_contrast_is_not_known() -> None:
    """A lamp washed out by the light around it, and one lost in the noise."""
    edges = shown(LAMP.lines[SLOW].shows, lambda n: n, 0)
    for camera in (Camera(dark=200.0, lit=206.0, noise=1.0), Camera(dark=25.0, lit=60.0, noise=12.0)):
        assert unknown_part(filmed(*camera.film(edges, LONG))) > 0.9


def test_a_lamp_that_goes_steady_is_still_known() -> None:
    """Its levels are those it had while it flashed, as long as they do not jump."""
    edges = [edge for edge in shown(LAMP.lines[SLOW].shows, lambda n: n, 0) if edge[0] < 15 * S]
    lit_on = [edge for edge in edges if edge[0] <= 14 * S]
    wave = filmed(*Camera(drift=0.5).film(lit_on, LONG)).waves["status"]
    assert wave.at(39 * S) is True
    assert None not in {value for *_, value in wave.changes()}
    jumped = filmed(*Camera(exposures=((25 * S, 0.5),)).film(lit_on, LONG))
    assert jumped.waves["status"].at(39 * S) is None


def test_changes_are_no_frames() -> None:
    """A recording that lists changes does not say when it looked."""
    channels = {"status": channel_of("status", np.array([0, 100]), np.array([20.0, 180.0]))}
    wires = (Wire("status", "status", brightness=True),)
    with pytest.raises(BadWiring, match="a brightness is a row of frames"):
        condition(Recording("made", "VCD", 0, S, channels), Wiring("w", "", ("b",), wires), BOARD)
