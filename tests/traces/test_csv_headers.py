"""Law: what stands above the rows of a table is read by rules that can be said, and what no rule settles is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, csv_format, recording_from


def read(text: str) -> Recording:
    return recording_from(text.encode(), "t.csv")


def taken(recording: Recording) -> list[int]:
    assert recording.samples is not None
    return recording.samples.tolist()


@pytest.mark.parametrize(
    "head",
    [
        "t;y;z", "t [s];y;z", "Time (s)|y|z", "time_s\ty\tz", '"Time, s",y,z', "Elapsed time [s],y,z", "seconds,y,z",
        "date time,y,z", "# made by hand\n% twice\n\nTIMESTAMP,y,z", "Logger;7\nSerial;4711\nt;y;z",
        "Start,08:00:00\nTime,08:00:01\nt,y,z", "t,y,z\ns,V,-", "t;y;z\n[s];;", "time,y,z\nhh:mm:ss,,",
    ],
)  # fmt: skip
def test_headers(head: str) -> None:
    """Remarks, what a logger says of itself, units in the header or under it: the rows are the same."""
    last = head.split("\n")[-1]
    delimiter = next(d for d in ";\t|," if d in last.replace(", s", ""))
    rows = "\n".join(delimiter.join(cells) for cells in (("0.5", "0", "1"), ("1.5", "1", "1")))
    recording = read(f"{head}\n{rows}\n")
    assert (taken(recording), list(recording.channels)) == ([500_000, 1_500_000], ["y", "z"])
    assert recording.channels["y"].values.tolist() == [0, 1]


def test_a_row_of_units() -> None:
    """It gives the unit of the time; against that of the header it is refused, with its line."""
    assert taken(read("t,a\nms,V\n0,1\n5,0\n")) == [0, 5000]
    assert taken(read("t [ms],a\nms,V\n0,1\n5,0\n")) == [0, 5000]
    with pytest.raises(UnreadableRecording, match="unit 's' of the time") as error:
        read("t [ms],a\ns,V\n0,1\n")
    assert error.value.line == 2


def test_a_unit_behind_a_name() -> None:
    """A channel can be found without its unit, unless two would be called the same."""
    recording = read("t,coil [mV],y (V),y\n0,1,2,3\n")
    assert list(recording.channels) == ["coil [mV]", "y (V)", "y"]
    assert recording.find("coil") is recording.channels["coil [mV]"]
    assert recording.find("y") is recording.channels["y"]


@pytest.mark.parametrize(
    ("said", "times", "rounded"),
    [
        ("# sample rate: 1 kHz\na,b", [0, 1000, 2000], False),
        ("Sampling interval [ms];20\na;b", [0, 20_000, 40_000], False),
        ("Sample rate (Hz),50\na,b", [0, 20_000, 40_000], False),
        ("% Sampling frequency = 3 Hz\na,b", [0, 333_333, 666_666], True),
        ("# sampling period: 0,5 s\na,b", [0, 500_000, 1_000_000], False),
    ],
)
def test_a_stated_rate(said: str, times: list[int], rounded: bool) -> None:
    """Without a time column the rows are as far apart as was stated; a time in between is taken down and said to be."""
    delimiter = ";" if ";" in said else ","
    rows = "\n".join(delimiter.join(cells) for cells in (("0", "1"), ("1", "1"), ("1", "0")))
    recording = read(f"{said}\n{rows}\n")
    assert (taken(recording), recording.rounded) == (times, rounded)
    assert recording.channels["b"].values.tolist() == [1, 0]


def test_a_stated_rate_and_a_count_of_samples() -> None:
    """A column that counts the samples shows which are missing; a time column stands above any rate."""
    assert taken(read("# sample rate: 1 kHz\nindex,a\n0,1\n1,0\n4,1\n")) == [0, 1000, 4000]
    assert taken(read("# sample rate: 1 kHz\nt_s,a\n0,1\n1,0\n")) == [0, 1_000_000]


@pytest.mark.parametrize(
    ("text", "line", "column", "what"),
    [
        ("# sample rate: 5 furlongs\na,b\n0,1\n", 1, None, "states no rate"),
        ("# sample rate: 0 Hz\na,b\n0,1\n", 1, None, "states no rate"),
        ("# sample rate: 5 Hz\n# sample rate: 6 Hz\na,b\n0,1\n", 2, None, "another rate"),
        ("# sample rate: 1 kHz\na,b\n0,1\n0,zz\n", 4, 3, "'zz' for 'b'"),
        ("# sample rate: 1 kHz\na,b\n0,1\n\n0\n", 5, None, "cells"),
        ("time,y\n08:00,1\n", 2, 1, "time '08:00'"),
        ("date,time,y\n25.11.2026,08:00:00,1\n", 2, 12, "time '25.11.2026 08:00:00'"),
        ("time,y\n08:00:00,1\n07:00:00,0\n", 3, 1, "after '08:00:00'"),
    ],
)
def test_what_is_wrong_has_its_place(text: str, line: int, column: int | None, what: str) -> None:
    """The line is that of the file, and the column too, even where a count was put before the row."""
    with pytest.raises(UnreadableRecording, match=what) as error:
        read(text)
    assert error.value.line == line
    assert column is None or error.value.column == column


def test_clocks() -> None:
    """A clock without a date goes on past midnight; a date may have a column of its own, in a long table too."""
    assert taken(read("time,y\n23:59:59,1\n00:00:01,0\n12:00:00,1\n00:00:00,1\n")) == [
        86_399_000_000, 86_401_000_000, 129_600_000_000, 172_800_000_000,
    ]  # fmt: skip
    dated = read("date,time,y\n2026-11-25,23:59:59.5,0\n2026-11-26,00:00:00,1\n")
    assert (dated.end - dated.start, list(dated.channels)) == (500_000, ["y"])
    long = read("date,time,signal,value\n2026/11/25,08:00:00,y,1\n2026/11/25,08:00:01,o,0\n")
    assert (long.end - long.start, list(long.channels)) == (1_000_000, ["y", "o"])


moments = st.builds(
    "{:04}-{:02}-{:02}{}{:02}:{:02}:{:02}{}{}".format,
    st.just(2027), st.integers(1, 2), st.integers(27, 29), st.sampled_from("T "), st.integers(0, 25),
    st.integers(0, 61), st.integers(57, 60), st.sampled_from(["", ".5", ".25", ".1234567", ",000001", "."]),
    st.sampled_from(["", "", "Z", "+01:00", "-0530"]),
)  # fmt: skip
days = st.builds("{:02}:{:02}:{:02}{}".format, *[st.integers(0, 23)] * 3, st.sampled_from(["", ".5", ".123456789"]))


@given(st.one_of(st.lists(moments, min_size=1, max_size=6), st.lists(days, min_size=1, max_size=6)), st.booleans())
def test_clocks_at_once_are_as_one_by_one(cells: list[str], ordered: bool) -> None:
    """A column of clock readings says the same at once as row by row, to the microsecond, or is refused alike."""
    cells = sorted(set(cells)) if ordered else cells
    text = "time;y\n" + "".join(f"{cell};1\n" for cell in cells)

    def said() -> object:
        try:
            found = read(text)
        except UnreadableRecording as error:
            return str(error)
        return taken(found), found.rounded

    quick = said()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_format, "take_wide", lambda *_: None)
        assert said() == quick


@given(
    st.lists(st.tuples(*[st.sampled_from(["0", '"1"', '"1,5"', '""', '"a""b"', '1"', "2.5", '" 1"'])] * 2), max_size=5)
)
def test_quotes_at_once_are_as_one_by_one(rows: list[tuple[str, str]]) -> None:
    """So do quoted cells."""
    text = '"t","a","b"\n' + "".join(f'"{i}",{a},{b}\n' for i, (a, b) in enumerate(rows))

    def said() -> object:
        try:
            return read(text).channels
        except UnreadableRecording as error:
            return str(error)

    quick = said()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_format, "take_wide", lambda *_: None)
        assert said() == quick
