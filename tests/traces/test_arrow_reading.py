"""Parquet and Arrow read as a table of text with the same columns would: exact times, and nothing made up."""

from __future__ import annotations

import contextlib
import io
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.feather as feather
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, read_recording, recording_from

EPOCH = 1_764_057_600_000_000  # 2025-11-25 08:00 UTC


def parquet(table: pa.Table, **more: object) -> bytes:
    """Give a table as a Parquet file."""
    stream = io.BytesIO()
    pq.write_table(table, stream, **more)
    return stream.getvalue()


def arrow(table: pa.Table, stream: bool = False, **more: object) -> bytes:
    """Give a table as an Arrow file or stream."""
    sink = io.BytesIO()
    opened = pa.ipc.new_stream if stream else pa.ipc.new_file
    with opened(sink, table.schema, **more) as writer:
        writer.write_table(table)
    return sink.getvalue()


def times_read(column: pa.Array, name: str = "t", metadata: dict[str, str] | None = None) -> tuple[list[int], bool]:
    """Give the times that a column is read as, and whether any was rounded."""
    field = pa.field(name, column.type, metadata=metadata)
    table = pa.Table.from_arrays(
        [column, pa.array([0, 1] * len(column))[: len(column)]], schema=pa.schema([field, ("a", pa.int64())])
    )
    recording = recording_from(parquet(table), "t.parquet")
    assert recording.samples is not None
    return np.asarray(recording.samples).tolist(), recording.rounded


@pytest.mark.parametrize(
    ("column", "name", "expected"),
    [
        (pa.array([0, 1500], pa.int64()), "t_us", [0, 1500]),
        (pa.array([0, 1500], pa.uint32()), "time [ms]", [0, 1_500_000]),
        (pa.array([-2, 3], pa.int8()), "t", [-2_000_000, 3_000_000]),
        (pa.array([0.1, 0.3]), "t_s", [100_000, 300_000]),
        (pa.array([0.1, 0.7], pa.float32()), "time", [100_000, 700_000]),
        (pa.array([Decimal("0.000001"), Decimal("2.5")], pa.decimal128(12, 6)), "t", [1, 2_500_000]),
        (pa.array(["0.25", "1e1"]), "t", [250_000, 10_000_000]),
        (pa.array(["08:00:00.5", "08:00:01"]), "time", [28_800_500_000, 28_801_000_000]),
        (pa.array([5, 6], pa.duration("ms")), "elapsed", [5000, 6000]),
        (pa.array([1, 2], pa.time32("ms")), "time", [1000, 2000]),
        (pa.array([EPOCH, EPOCH + 1], pa.timestamp("us", tz="America/Chicago")), "time", [EPOCH, EPOCH + 1]),
        (pa.array([EPOCH // 10**6], pa.timestamp("s")), "when", [EPOCH]),
    ],
)
def test_times(column: pa.Array, name: str, expected: list[int]) -> None:
    """Whole microseconds, whatever type they come in; a zone is only how a timestamp is shown."""
    assert times_read(column, name) == (expected, False)


def test_times_finer_than_a_microsecond() -> None:
    """They are taken down, and it is said."""
    assert times_read(pa.array([1_000, 2_999], pa.timestamp("ns")), "time") == ([1, 2], True)
    assert times_read(pa.array([0.1 + 0.2]), "t_s") == ([300_000], True)
    assert times_read(pa.array([0.9999999]), "t_s") == ([999_999], True)
    assert times_read(pa.array([Decimal("0.0000019")]), "t") == ([1], True)


def test_the_unit_in_the_metadata() -> None:
    """A column of numbers may have its unit there; one that its name denies is an error."""
    assert times_read(pa.array([7]), "time", {"unit": "ms"}) == ([7000], False)
    with pytest.raises(UnreadableRecording, match="the unit that its name says"):
        times_read(pa.array([7]), "time_us", {"unit": "ms"})
    with pytest.raises(UnreadableRecording, match=r"the unit 'fortnights' of column 'time'; expected s, ms"):
        times_read(pa.array([7]), "time", {"unit": "fortnights"})


@given(st.lists(st.integers(-(10**13), 10**13), min_size=1, max_size=8, unique=True).map(sorted))
def test_floats_stand_for_their_decimals(micros: list[int]) -> None:
    """A time in seconds, as a 64-bit float, reads as the microsecond that it was written for."""
    assert times_read(pa.array([each / 1_000_000 for each in micros])) == (micros, False)


floats = st.floats(-1e6, 1e6).filter(lambda each: not each or abs(each) > 1e-30)


@given(st.lists(floats, min_size=1, max_size=8).map(sorted), st.sampled_from(["s", "ms", "us"]))
def test_floats_read_as_in_a_table_of_text(floats: list[float], unit: str) -> None:
    """Every float gives the time that its shortest decimal gives in a CSV file."""
    text = f"t_{unit},signal,value\n" + "".join(f"{each!r},a,0\n" for each in floats)
    by_text = recording_from(text.encode(), "t.csv")
    columns = {
        f"t_{unit}": pa.array(floats, pa.float64()),
        "signal": pa.array(["a"] * len(floats)),
        "value": pa.array([0] * len(floats)),
    }
    by_float = recording_from(parquet(pa.table(columns)), "t.parquet")
    assert (by_text.start, by_text.end, by_text.rounded) == (by_float.start, by_float.end, by_float.rounded)


@pytest.mark.parametrize(
    ("column", "expected"),
    [
        (pa.array([True, None, False]), [1, None, 0]),
        (pa.array([1, 0, 2**60]), [1, 0, None]),
        (pa.array([1, 0, 2**63], pa.uint64()), [1, 0, None]),
        (pa.array([0.5, float("inf"), -2.0], pa.float32()), [0.5, None, -2]),
        (pa.array([Decimal("1.5"), None, Decimal("2")], pa.decimal128(5, 1)), [1.5, None, 2]),
        (pa.array(["on", "x", "off"]), [1, None, 0]),
        (pa.array(["HIGH", "", "1.5"]).dictionary_encode(), [1, None, 1.5]),
        (pa.array([None, None, None]), [None, None, None]),
        (pa.array([True, False, None]).dictionary_encode(), [1, 0, None]),
    ],
)
def test_values(column: pa.Array, expected: list[float | None]) -> None:
    """Levels and numbers of every type; null, and what a float cannot hold, is not known."""
    recording = recording_from(arrow(pa.table({"t_ms": [0, 1, 2], "a": column})), "t.arrow")
    found = [recording.channels["a"].at(time) for time in (0, 1000, 2000)]
    assert [None if value != value else value for value in found] == expected


def test_structs_are_channels_by_their_paths() -> None:
    """A struct is taken apart, however deep."""
    inner = pa.array([{"y": 1, "deep": {"z": 0}}, {"y": 0, "deep": {"z": 1}}])
    recording = recording_from(arrow(pa.table({"t": [0, 1], "in": inner}), stream=True), "t")
    assert list(recording.channels) == ["in.y", "in.deep.z"]
    assert recording.channels["in.deep.z"].values.tolist() == [0, 1]


def test_a_long_table() -> None:
    """Three columns, time, signal and value, are a change a row, in the order of time."""
    names = pa.array(["b", "a", "b", "b"]).dictionary_encode()
    table = pa.table({"value": [1.0, 0.0, 1.0, 0.5], "signal": names, "time_ms": [0, 0, 5, 9]})
    recording = recording_from(parquet(table, row_group_size=2), "t")
    assert (recording.format, recording.samples, recording.end) == ("long Parquet", None, 9000)
    assert {name: (c.times.tolist(), c.values.tolist()) for name, c in recording.channels.items()} == {
        "b": ([0, 9000], [1, 0.5]),
        "a": ([0], [0]),
    }


@pytest.mark.parametrize(
    ("columns", "what"),
    [
        ({"x": [1], "a": [1]}, "no column of 'x, a' is the time"),
        ({"t": [1, 1], "a": [0, 1]}, r"row 2: time 1.0 s a second time"),
        ({"t": [2, 1], "a": [0, 1]}, r"row 2: time 1.0 s after 2.0 s"),
        ({"t": [1, None], "a": [0, 1]}, "row 2: column 't': no time"),
        ({"t": ["1", "soon"], "a": [0, 1]}, "row 2: .*'soon'"),
        ({"t": [1, 2], "a": ["on", "maybe"]}, "row 2: value 'maybe' for 'a'"),
        ({"t": [1], "a": [[1, 2]]}, "column 'a' holds list"),
        ({"t": [1.0, float("nan")], "a": [0, 1]}, "no number"),
        ({"t": [2**62], "a": [0]}, "beyond 2,283 years"),
        ({"t": [], "a": []}, "there are no rows"),
        ({"t": [1, 1], "signal": ["a", "a"], "value": [0, 1]}, "row 2: a second value for 'a' at 1.0 s"),
        ({"t": [1, 1], "signal": ["a", None], "value": [0, 1]}, "row 2: no signal"),
        ({"t": [1], "signal": [3], "value": [0]}, "column 'signal' holds int64"),
        ({"t_s": [1], "time": [1], "a": [1]}, "could be the time"),
    ],
)
def test_what_is_wrong_is_told_with_its_row(columns: dict[str, list[object]], what: str) -> None:
    """One fault each, in a file and in a stream."""
    table = pa.table({k: pa.array(v, pa.int64()) if not v else pa.array(v) for k, v in columns.items()})
    for data in (parquet(table), arrow(table), arrow(table, stream=True)):
        with pytest.raises(UnreadableRecording, match=what):
            recording_from(data, "t")


def test_a_short_float_is_no_time() -> None:
    """32 bits at 1000 s are 61 µs apart: a wrong time would look like a right one."""
    with pytest.raises(UnreadableRecording, match=r"floats of 32 bits, which here are 61 microseconds apart"):
        times_read(pa.array([1000.001], pa.float32()))


def test_a_fault_far_down_has_its_row() -> None:
    """Rows are counted through the pieces in which a file is read."""
    count = 150_000
    words = ["0"] * count
    words[140_000] = "oops"
    with pytest.raises(UnreadableRecording, match="row 140001: value 'oops'"):
        recording_from(parquet(pa.table({"t_ms": range(count), "a": words}), row_group_size=10_000), "t")


@pytest.mark.parametrize("form", ["parquet", "file", "stream"])
def test_cut_and_damaged_files_are_told(form: str) -> None:
    """Whatever is left of a file, the answer is a recording or one UnreadableRecording."""
    table = pa.table({"t_ms": range(300), "a": [i % 2 for i in range(300)], "b": [str(i % 2) for i in range(300)]})
    data = parquet(table) if form == "parquet" else arrow(table, form == "stream")
    cuts = [data[:cut] for cut in range(4, len(data) - 1, max(1, len(data) // 40))]
    flips = [
        data[:at] + bytes([data[at] ^ 0x55]) + data[at + 1 :] for at in range(4, len(data), max(1, len(data) // 60))
    ]
    read = 0
    for damaged in (*cuts, *flips):
        with contextlib.suppress(UnreadableRecording):
            read += recording_from(damaged, "t").end >= 0
    assert read < len(cuts) + len(flips)


def test_more_rows_than_memory_are_refused() -> None:
    """A small file of many rows is given up when its samples would fill what is allowed."""
    data = parquet(pa.table({"t_us": np.arange(300_000), "a": np.zeros(300_000, np.int8)}))
    with pytest.raises(UnreadableRecording, match="more than 1,000,000 bytes"):
        recording_from(data, "t", most_unpacked=1_000_000)


def test_packed_as_a_whole() -> None:
    """Parquet inside gzip is told as what it is."""
    import gzip

    with pytest.raises(UnreadableRecording, match="packed as a whole"):
        recording_from(gzip.compress(parquet(pa.table({"t": [1], "a": [1]}))), "t")


# -- against other programs ----------------------------------------------------------------------------------------


@st.composite
def frames(draw: st.DrawFn) -> pl.DataFrame:
    """Tables as a logger may save them, made by polars."""
    count = draw(st.integers(1, 20))
    steps = draw(st.lists(st.integers(1, 10**8), min_size=count, max_size=count))
    begin = draw(st.integers(0, 10**15))
    times = np.cumsum([begin, *steps])[1:]
    kind = draw(st.sampled_from(["int", "datetime", "duration", "zone"]))
    time = pl.Series("t_us" if kind == "int" else "time", times, dtype=pl.Int64)
    if kind == "duration":
        time = time.cast(pl.Duration("us"))
    elif kind != "int":
        time = time.cast(pl.Datetime("us", "Europe/Berlin" if kind == "zone" else None))
    columns = [time]
    for number, dtype in enumerate(
        draw(st.lists(st.sampled_from([pl.Boolean, pl.Float64, pl.Int16]), min_size=1, max_size=3))
    ):
        values = {pl.Boolean: st.booleans(), pl.Float64: st.floats(-1e9, 1e9), pl.Int16: st.integers(-3000, 3000)}[
            dtype
        ]
        cells = draw(st.lists(st.none() | values, min_size=count, max_size=count))
        columns.append(pl.Series(f"c{number}", cells, dtype=dtype))
    return pl.DataFrame(columns)


def holds(recording: Recording, frame: pl.DataFrame) -> None:
    """Hold a recording to be the table that polars has."""
    times = frame.to_series(0).to_physical().to_list()
    assert recording.samples is not None
    assert np.asarray(recording.samples).tolist() == times
    for name in frame.columns[1:]:
        found = [recording.channels[name].at(time) for time in times]
        assert [None if value != value else value for value in found] == frame[name].cast(pl.Float64).to_list()


@given(frames())
def test_what_polars_writes(frame: pl.DataFrame) -> None:
    """Parquet, Arrow and JSON lines as polars writes them read as the table it holds."""
    for write in (frame.write_parquet, frame.write_ipc, frame.write_ipc_stream):
        stream = io.BytesIO()
        write(stream)
        holds(recording_from(stream.getvalue(), "t"), frame)
    if frame.columns[0] == "t_us":
        holds(recording_from(frame.write_ndjson().encode(), "t"), frame)


def test_what_others_write(tmp_path: Path) -> None:
    """Feather with compression, dictionary pages and other page versions."""
    table = pa.table({"t_ms": range(5000), "a": [i // 7 % 2 for i in range(5000)], "b": ["on"] * 5000})
    feather.write_feather(table, str(tmp_path / "a.feather"), compression="zstd")
    one = read_recording(tmp_path / "a.feather")
    for version, codec in (("1.0", "none"), ("2.6", "gzip"), ("2.4", "snappy")):
        pq.write_table(table, tmp_path / "a.parquet", version=version, compression=codec, data_page_version="2.0")
        other = read_recording(tmp_path / "a.parquet")
        assert other.channels == one.channels
        assert np.array_equal(np.asarray(other.samples), np.asarray(one.samples))


def test_pyarrow_waits() -> None:
    """A table of text is read, and written, without loading pyarrow."""
    code = (
        "import sys, io; from boardgauge.traces import recording_from, write_long, target_of\n"
        "write_long(recording_from(b't,signal,value\\n0,a,1\\n', 'x'), io.StringIO()); target_of('a.parquet')\n"
        "recording_from(b'{\"t\": 0, \"a\": 1}\\n', 'x')\n"
        "sys.exit('pyarrow' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
