"""A table is read by its header alone, its times exactly, and what is wrong is refused with its line."""

from __future__ import annotations

import bz2
import contextlib
import gzip
import lzma
import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, recording_from


def read(text: str) -> Recording:
    return recording_from(text.encode(), "t.csv")


def changes(recording: Recording, name: str) -> list[tuple[int, float | None]]:
    channel = recording.channels[name]
    values = [None if math.isnan(v) else v for v in channel.values.tolist()]
    return list(zip(channel.times.tolist(), values, strict=True))


def test_wide() -> None:
    """Each row is a sample; a channel keeps the rows at which it changed; an empty cell is not known."""
    recording = read("t_s,a,b\n0.1,0,1\n0.2,1,\n0.3,1,1\n")
    assert recording.format == "wide CSV"
    assert recording.samples is not None
    assert recording.samples.tolist() == [100_000, 200_000, 300_000]
    assert changes(recording, "a") == [(100_000, 0), (200_000, 1)]
    assert changes(recording, "b") == [(100_000, 1), (200_000, None), (300_000, 1)]


def test_long() -> None:
    """Each row is a change; the columns may stand in any order; two signals may change at one time."""
    recording = read("signal,value,time_ms\na,off,0\nb,high,0\na,on,1.5\na,on,7\n")
    assert (recording.format, recording.samples, recording.end) == ("long CSV", None, 7000)
    assert changes(recording, "a") == [(0, 0), (1500, 1)]
    assert changes(recording, "b") == [(0, 1)]


@pytest.mark.parametrize(
    ("header", "micros"),
    [
        ("t", 2_000_000), ("Time", 2_000_000), ("t_s", 2_000_000), ("time_ms", 2000), ("time [us]", 2),
        ("TIME (ms)", 2000), ("timestamp/min", 120_000_000), ("time h", 7_200_000_000), ("t_µs", 2),
    ],
)  # fmt: skip
def test_time_columns(header: str, micros: int) -> None:
    """The unit behind the name counts; without one it is seconds."""
    assert read(f"a,{header}\n0,0\n1,2\n").end == micros


@pytest.mark.parametrize(
    ("header", "what"),
    [
        ("t,time_s", "both 't' and 'time_s'"),
        ("a,b", "no column"),
        ("time_days,a", "the unit of 'time_days'"),
        ("tms,a", "no column"),
        ("t,a,a", "two columns"),
        ("t,a,", "no name"),
        ("hello", "neither"),
    ],
)
def test_headers_that_can_be_read_in_two_ways_or_none(header: str, what: str) -> None:
    """They are errors, never guesses."""
    with pytest.raises(UnreadableRecording, match=what) as error:
        read(header + "\n0,1\n")
    assert error.value.line == 1


def test_delimiters_and_decimal_comma() -> None:
    """Semicolons and tabs leave the comma free for decimals; comments, blank lines and a UTF-8 mark are left out."""
    plain = read("t,a\n0.5,0\n1.25,3.5\n")
    for text in (
        "\ufefft;a\n0,5;0\n1,25;3,5\n",
        "# c\n\nt\ta\n0,5\t0\n#d\n\n1,25\t3,5\n",
        "t;a\r\n0.5;0\r\n1.25;3.5\r\n",
    ):
        other = read(text)
        assert other.channels["a"] == plain.channels["a"]
        assert other.samples is not None
        assert other.samples.tolist() == [500_000, 1_250_000]


@pytest.mark.parametrize(
    ("rows", "line", "what"),
    [
        ("0,0\n2,1\n1,0\n", 4, "after '2'"),
        ("0,0\n1,1\n1,0\n", 4, "a second time"),
        ("0,0\nnan,1\n", 3, "time 'nan'"),
        ("0,0\n,1\n", 3, "time ''"),
        ("0,0\n1,maybe\n", 3, "'maybe' for 'a'"),
        ("0,0\n1\n", 3, "1 cells"),
        ("0,0\n1,2,3\n", 3, "3 cells"),
        ("", 1, "no rows"),
        ("0,0\n1e30,1\n", 3, "time"),
        ("0,0\n1,1_0\n", 3, "'1_0'"),
    ],
)
def test_rows_that_are_wrong(rows: str, line: int, what: str) -> None:
    """The first row that is wrong is named, with what was found there."""
    with pytest.raises(UnreadableRecording, match=what) as error:
        read("t,a\n" + rows)
    assert error.value.line in (line, line + 1)


def test_two_values_at_one_time() -> None:
    """In a long table a signal has one value at a time."""
    with pytest.raises(UnreadableRecording, match="a second value"):
        read("t,signal,value\n0,a,1\n0,a,0\n")


@pytest.mark.parametrize(
    ("first", "second", "micros"),
    [
        ("08:00:00", "08:01:00.25", 60_250_000),
        ("2026-11-25T23:59:59.5", "2026-11-26 00:00:00", 500_000),
        ("2026-11-25T08:00:00Z", "2026-11-25T09:00:01+0100", 1_000_000),
        ("2028-02-29 00:00:00,000001", "2028-03-01 00:00:00", 86_400_000_000 - 1),
    ],
)
def test_clock_readings(first: str, second: str, micros: int) -> None:
    """A time may be read off a clock, with a date or without; a date counts across midnight."""
    recording = read(f"time;a\n{first};0\n{second};1\n")
    assert recording.end - recording.start == micros


@pytest.mark.parametrize("cell", ["25:00:00", "2026-02-30 00:00:00", "08:00", "8:0:0"])
def test_clock_readings_that_are_none(cell: str) -> None:
    """A time of day or a date that does not exist is refused."""
    with pytest.raises(UnreadableRecording, match="time"):
        read(f"time;a\n{cell};0\n")


def test_negative_and_rounded_times() -> None:
    """Times before a trigger are negative; a time finer than a microsecond is taken down, and that is said."""
    recording = read("t_ms,a\n-0.5,0\n0.0015,1\n")
    assert (recording.start, recording.end, recording.rounded) == (-500, 1, True)


decimals = st.decimals(min_value=0, max_value=300_000, places=6)


@given(st.lists(decimals, min_size=1, max_size=20, unique=True))
def test_times_are_exact(times: list[Decimal]) -> None:
    """A time with up to six decimals of a second is that many microseconds, to the digit, on the quick and slow way."""
    times.sort()
    exact = [int(t * 1_000_000) for t in times]
    quick = read("t,a\n" + "".join(f"{t},1\n" for t in times))
    slow = read("t,a\n" + "".join(f'"{t}",1\n' for t in times))
    assert quick.samples is not None
    assert slow.samples is not None
    assert quick.samples.tolist() == slow.samples.tolist() == exact


cells = st.sampled_from(["0", "1", "", "x", "true", "OFF", "2.5", "-3", "0.1", "12345.678", "1e-3", "high", "nan"])


@given(st.lists(st.tuples(cells, cells), min_size=1, max_size=12))
def test_quick_and_slow_way_agree(rows: list[tuple[str, str]]) -> None:
    """Quoting a cell, which forces the slow way, changes no value."""
    quick = read("t,a,b\n" + "".join(f"{i}.5,{a},{b}\n" for i, (a, b) in enumerate(rows)))
    slow = read("t,a,b\n" + "".join(f'"{i}.5",{a},{b}\n' for i, (a, b) in enumerate(rows)))
    assert quick.channels == slow.channels


@pytest.mark.parametrize("pack", [gzip.compress, lzma.compress, bz2.compress])
def test_packed(pack: object) -> None:
    """Packing is told by content; cut off or damaged packing is said; the digest is that of the file as stored."""
    text = b"t,a\n0,0\n1,1\n" * 1
    packed = pack(text)  # type: ignore[operator]
    assert recording_from(packed, "t.csv").channels == recording_from(text, "t").channels
    with pytest.raises(UnreadableRecording, match=r"cut off|damaged"):
        recording_from(packed[:-5], "t.csv")
    with pytest.raises(UnreadableRecording, match=r"cut off|damaged"):
        recording_from(packed[:20] + b"\x00\xff" + packed[22:], "t.csv")


def test_unpacking_is_bounded() -> None:
    """A small file that unpacks to more than the limit is refused."""
    bomb = gzip.compress(b"t,a\n" + b"#" * 100 + b"\n" * 5_000_000)
    with pytest.raises(UnreadableRecording, match="unpacks to more than"):
        recording_from(bomb, "t.csv", most_unpacked=1_000_000)


DECLARED = (
    "$timescale 1 us $end $var wire 1 ! a $end $var reg 4 # b [3:0] $end $var real 64 @ r $end $enddefinitions $end #0 "
)
BEGINNINGS = ("", DECLARED, "$var ", "t,a\n0,1\n", "t;a;", "t,signal,value\n")


def refused_or_read(data: bytes) -> None:
    """Read bytes; anything raised but UnreadableRecording goes through."""
    with contextlib.suppress(UnreadableRecording):
        recording_from(data, "t")


@given(st.sampled_from(BEGINNINGS), st.binary(max_size=300))
def test_any_bytes_give_a_recording_or_one_error(beginning: str, data: bytes) -> None:
    """Whatever the bytes are, there is never anything but UnreadableRecording."""
    refused_or_read(beginning.encode() + data)


@settings(max_examples=300)
@given(st.sampled_from(BEGINNINGS), st.text("01xzbr!#$ \n.,;t-\"'eas[]:@", max_size=120))
def test_near_recordings_give_a_recording_or_one_error(beginning: str, text: str) -> None:
    """The same for texts made of the right letters."""
    refused_or_read((beginning + text).encode())
