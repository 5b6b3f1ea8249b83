"""JSON lines read as what stands on each line, and whatever is wrong is told with its line."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, recording_from


def read(*lines: str) -> Recording:
    """Read lines of text as a recording."""
    return recording_from(("\n".join(lines) + "\n").encode(), "t.jsonl")


def changes(recording: Recording) -> dict[str, list[tuple[int, float | None]]]:
    """Give the changes of each channel, None for not known."""
    return {
        name: [(t, None if v != v else v) for t, v in zip(c.times.tolist(), c.values.tolist(), strict=True)]
        for name, c in recording.channels.items()
    }


def test_samples() -> None:
    """An object is a sample of all channels; null and a channel left out are not known, never as before."""
    recording = read(
        '{"time_ms": 0, "a": 1, "b": true}', "", '{"time_ms": 1.5, "b": null}', '{"b": "off", "time_ms": 2, "a": 0.5}'
    )
    assert (recording.format, recording.rounded) == ("wide JSON lines", False)
    assert np.asarray(recording.samples).tolist() == [0, 1500, 2000]
    assert changes(recording) == {"a": [(0, 1), (1500, None), (2000, 0.5)], "b": [(0, 1), (1500, None), (2000, 0)]}


def test_changes() -> None:
    """An object of time, signal and value is a change."""
    recording = read(
        '{"t": "08:00:00.25", "channel": "a", "level": 1}', '{"t": "08:00:01", "channel": "b", "level": 0}'
    )
    assert (recording.format, recording.samples) == ("long JSON lines", None)
    assert changes(recording) == {"a": [(28_800_250_000, 1)], "b": [(28_801_000_000, 0)]}


def test_times_are_taken_from_their_digits() -> None:
    """No float comes between: more digits than one has are still right, and finer ones are taken down."""
    recording = read('{"t": 123456789.123456, "a": 0}', '{"t": 123456789.1234577, "b": 0}')
    assert (recording.start, recording.end, recording.rounded) == (123456789123456, 123456789123457, True)


def test_objects_inside() -> None:
    """A channel inside an object goes by its path."""
    assert list(read('{"t": 0, "in": {"y": 1, "more": {"z": 0}}}').channels) == ["in.y", "in.more.z"]


def test_numbers_that_are_none() -> None:
    """NaN and Infinity, as some programs write them, are not known, and so is an integer that no float holds."""
    recording = read('{"t": 0, "a": 1, "b": 1, "c": 1}', '{"t": 1, "a": NaN, "b": Infinity, "c": 36028797018963968}')
    assert [recording.channels[name].at(1_000_000) for name in "abc"] == pytest.approx([np.nan] * 3, nan_ok=True)


@pytest.mark.parametrize(
    ("lines", "line", "what"),
    [
        (['{"t": 0, "a": 1}', "{"], 2, "is not JSON"),
        (['{"t": 0, "a": 1}', "[1]"], 2, "expected a JSON object on each line"),
        (['{"x": 0, "a": 1}'], 1, "no column of 'x, a' is the time"),
        (['{"t": 0, "a": 1}', '{"a": 1}'], 2, "there is no 't'"),
        (['{"t": 0, "a": 1}', '{"t": 0, "a": 1}'], 2, "time 0 a second time"),
        (['{"t": 5, "a": 1}', '{"t": 4, "a": 1}'], 2, "time 4 after 5"),
        (['{"t": true, "a": 1}'], 1, "time true; expected a number"),
        (['{"t": 0, "a": [1]}'], 1, r"value \[1\] for 'a'"),
        (['{"t": 0, "a": "maybe"}'], 1, "value 'maybe' for 'a'"),
        (
            ['{"t": 0, "signal": "a", "value": 1}', '{"t": 0, "signal": "a", "value": 0}'],
            2,
            "a second value for 'a' at 0",
        ),
        (['{"t": 0, "signal": "a", "value": 1}', '{"t": 0, "a": 0}'], 2, "a change a line"),
        (['{"t": 0, "signal": "", "value": 1}'], 1, "expected a name"),
        (['{"t": 0, "\\ud800": 1}'], 1, "expected a name for each channel"),
        (['{"t": 0, "a.b": 1, "a": {"b": 0}}'], 1, "two values for 'a.b'"),
        (['{"t": 0, "a": ' + '{"a": ' * 30 + "1" + "}" * 31], 1, "more than 20 objects inside one another"),
        (['{"t": 0, "a": ' + "[" * 100_000 + "]" * 100_000 + "}"], 1, "too deeply nested"),
        (['{"t": 1e99, "a": 1}'], 1, "expected"),
        (['{"boardgauge": {"rounded": true}}'], 1, "there are no samples and no changes"),
        (['{"boardgauge": {"rounded": 5}}', '{"t": 0, "a": 1}'], 1, "a note of Boardgauge in it does not fit"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(lines: list[str], line: int, what: str) -> None:
    """One fault each."""
    with pytest.raises(UnreadableRecording, match=what) as error:
        read(*lines)
    assert error.value.line == line


@given(
    st.lists(
        st.dictionaries(st.sampled_from("abc"), st.sampled_from([0, 1, 0.5, True, None, "on", "x"]), min_size=1),
        min_size=1,
        max_size=9,
    )
)
def test_each_line_says_what_it_says(samples: list[dict[str, object]]) -> None:
    """At each sample a channel has the value of its line, and none where the line leaves it out."""
    recording = read(*(json.dumps({"t": number, **sample}) for number, sample in enumerate(samples)))
    meant = {"on": 1.0, "x": None, None: None}
    for number, sample in enumerate(samples):
        for name, channel in recording.channels.items():
            value = channel.at(number * 1_000_000)
            raw = sample.get(name)
            assert (None if value != value else value) == meant.get(raw, raw)  # type: ignore[arg-type]
