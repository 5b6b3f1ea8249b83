"""Files as loggers and hands leave them: each is read right, or refused with its line and what was expected."""

from __future__ import annotations

import gzip
import io
import math

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from boardgauge.traces import Recording, UnreadableRecording, recording_from
from boardgauge.traces import source as sources
from boardgauge.traces.source import BLOCK

HEADER = "$timescale 1 us $end\n$var wire 1 ! a $end\n$var real 64 % v $end\n$enddefinitions $end\n"


def read(text: str | bytes) -> Recording:
    """Read what stands in a file called f."""
    return recording_from(text.encode() if isinstance(text, str) else text, "f")


def refused(text: str | bytes, what: str) -> None:
    """Hold it refused, with these words."""
    with pytest.raises(UnreadableRecording, match=what):
        read(text)


def pairs(recording: Recording, name: str) -> list[tuple[int, float]]:
    """Give times and values of a channel."""
    channel = recording.channels[name]
    return list(zip(channel.times.tolist(), channel.values.tolist(), strict=True))


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("t_s;a\n0,5;1.234\n1,5;2.345\n", "f:2:5"),
        ("t_s;a\n0;1,5\n1;1.234\n", "f:3:3"),
        ("t_s\ta\n0.5\t1,5\n", "f:2:5"),
        ("t_s;signal;value\n0;a;1,5\n1;b;1.234\n", "f:3:5"),
        ("t_s;a\n0,5;1.234,5\n", "f:2:5"),
    ],
)
def test_points_between_thousands_are_not_taken_for_decimal_points(text: str, place: str) -> None:
    """Where numbers have a decimal comma, 1.234 may be a thousand or one: it is not guessed at."""
    refused(text, rf"{place}: .*expected a decimal point or a decimal comma in all of them")


def test_points_and_commas_in_blocks_far_apart() -> None:
    """The first of the other kind is found wherever it stands, at its line."""
    rows = "".join(f"{n};1,5\n" for n in range(BLOCK // 8))
    refused(f"t_s;a\n{rows}999999;2.5\n", rf"f:{BLOCK // 8 + 2}:8: '2\.5' with a point")


@pytest.mark.parametrize(
    "text",
    [
        "time;a\n08:00:00.5;1,5\n08:00:01.5;2,5\n",
        "timestamp\ta\n2026-11-25T08:00:00.5Z\t1,5\n",
        "t_s;signal;value\n0,5;bench.a;1,5\n",
        "t_s;signal;value\n0.5;a, b;1.5\n",
        "date;time;a\n2026-11-25;08:00:00.5;1,5\n",
    ],
)
def test_points_elsewhere_than_in_numbers_are_no_decimal_points(text: str) -> None:
    """In the reading of a clock, and in names, either may stand."""
    assert math.isclose(pairs(read(text), next(iter(read(text).channels)))[0][1], 1.5)


def test_a_quote_that_is_not_closed_is_refused() -> None:
    """A line that was cut off inside quotes says less than it seems to."""
    refused('t_s,a\n0,"1\n1,0\n', "f:2")
    refused('t_s,a\n0,1\n1,"0', "f:3")
    assert pairs(read('t_s,"a ""b"""\n0,"1"\n1,"0"\n'), 'a "b"') == [(0, 1.0), (1_000_000, 0.0)]


@pytest.mark.parametrize("line", ['{"t_s": 1, "a": 0, "a": 1}', '{"t_s": 1, "in": {"y": 1, "y": 0}}'])
def test_a_key_that_stands_twice_is_refused(line: str) -> None:
    """Neither of its values is taken for the other."""
    refused(f'{{"t_s": 0, "a": 1}}\n{line}\n', "f:2: two values for '[ay]'")
    refused('{"t_s": 0, "t_s": 5, "a": 1}\n', "f:1: two values for 't_s'")


def test_two_variables_of_one_full_name_are_refused() -> None:
    """One of them went unread; in scopes of their own, or under one code, they are told apart or are the same."""
    one, other = "$var wire 1 ! a $end\n", "$var wire 1 @ a $end\n"
    tail = "$enddefinitions $end\n#0\n0!\n1@\n#5\n"
    refused(f"$timescale 1 us $end\n{one}{other}{tail}", "f:3: a second variable 'a'")
    scoped = f"$timescale 1 us $end\n{one}$scope module m $end\n{other}$upscope $end\n{tail}"
    assert {name: pairs(read(scoped), name)[0][1] for name in ("a", "m.a")} == {"a": 0.0, "m.a": 1.0}


def test_two_timescales_are_refused_where_they_differ() -> None:
    """No time is taken by one of two."""
    refused("$timescale 1 us $end\n$timescale 1 ms $end\n$enddefinitions $end\n#0\n", "f:2: a second timescale '1ms'")
    assert read("$timescale 1 us $end\n$timescale 1us $end\n$enddefinitions $end\n#0\n#3\n").end == 3


@pytest.mark.parametrize("section", ["$dumpoff\nx!\nr0 %\n$end", "$dumpoff\nx!\nr0 %", "$dumpoff $end"])
def test_a_number_is_not_known_while_dumping_is_off(section: str) -> None:
    """A real cannot be written as not known, so what stands there for it is none of its values."""
    found = read(f"{HEADER}#0\n0!\nr1.5 %\n#10\n{section}\n#20\n$dumpon\n1!\nr2.5 %\n$end\n#30\n")
    (first, off, on) = pairs(found, "v")
    assert (first, off[0], math.isnan(off[1]), on) == ((0, 1.5), 10, True, (20, 2.5))
    assert [time for time, _ in pairs(found, "a")] == [0, 10, 20]


def test_dumping_off_across_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the section is cut in two by the reading, it goes on behind the cut."""
    monkeypatch.setattr(sources, "BLOCK", 100)
    names = "".join(f"$var real 64 v{n} v{n} $end\n" for n in range(60))
    zeros = "".join(f"r0 v{n}\n" for n in range(60))
    found = read(f"$timescale 1 us $end\n{names}$enddefinitions $end\n#0\n{zeros}#5\n$dumpoff\n{zeros}$end\n#9\n")
    assert all(math.isnan(pairs(found, f"v{n}")[-1][1]) for n in range(60))


READ = "a recording: VCD, CSV or JSON lines in UTF-8, Parquet or Arrow"


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (gzip.compress(gzip.compress(b"t_s,a\n0,1\n", mtime=0), mtime=0), "packed twice"),
        (b"PK\x03\x04rest", "ZIP archive, or a workbook"),
        ("t_s,a\n0,1\n".encode("utf-16"), "UTF-16; expected the file saved in UTF-8"),
        (b"%PDF-1.4\n%\xe2\xe3\n", "PDF document"),
        (b'[{"t_s": 0, "a": 1}]\n', "one JSON array; expected a JSON object on each line"),
        (b"# only\n# remarks\n", "remarks and no header: '# only'"),
        (b"\x00\x01\x02", f"which is not text; expected {READ}"),
        (b"FEA1rest", "no longer written"),
        (
            b"language = 1\n",
            "header of a table; expected VCD .*, CSV .*, JSON lines, Parquet or Arrow",
        ),
        (b"\n\n", f"the file is empty; expected {READ}"),
    ],
)
def test_files_that_are_something_else_are_told_as_what_they_are(data: bytes, what: str) -> None:
    """And what to do instead."""
    refused(data, what)


def test_an_integer_time_too_great_is_no_damage() -> None:
    """It is told as a time beyond what a recording has."""
    table = pa.table({"t_us": pa.array([0, 2**63], pa.uint64()), "a": [0, 1]})
    stream = io.BytesIO()
    pq.write_table(table, stream)
    refused(stream.getvalue(), "column 't_us': a time beyond 2,283 years")
