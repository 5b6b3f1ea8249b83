"""A recording written in any format reads back as it was."""

from __future__ import annotations

import bz2
import gzip
import lzma
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import polars as pl
import pyarrow.parquet as pq
import pytest
import pywellen
import vcdvcd
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Channel, Recording, UnreadableRecording, read_recording, recording_from
from boardgauge.traces.notes import notes_from
from boardgauge.traces.recording import channel_of
from boardgauge.traces.writing import CannotWrite, target_of, write_recording

digital = st.sampled_from([0.0, 1.0, float("nan")])
analogue = st.one_of(st.floats(allow_infinity=False), st.integers(-5000, 5000).map(float))
words = st.sampled_from(
    ["t", "time_ms", "signal", "value", "boardgauge", "$end", "a b", "a[3:0]", "x;y", "#c", '"', "\n"]
)
names = st.one_of(st.from_regex(r"[a-z][a-z0-9_]{0,5}", fullmatch=True), st.text(min_size=1, max_size=6), words)
ENDINGS = [
    (ending, shape)
    for ending in ("csv", "tsv", "jsonl", "parquet", "arrow", "arrows")
    for shape in (None, "wide", "long")
] + [("vcd", None)]


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    """Any recording: sampled or of changes, before 0 too, with names and numbers of any kind."""
    steps = draw(st.lists(st.integers(1, 10**7) | st.just(1000), max_size=12))
    start = draw(st.integers(-(10**9), 10**9) | st.just(0))
    times = np.cumsum(np.array([start, *steps], dtype=np.int64))
    channels: dict[str, Channel] = {}
    for name in draw(st.lists(names, min_size=1, max_size=4, unique=True)):
        kind = draw(st.sampled_from([digital, analogue]))
        values = draw(st.lists(kind, min_size=len(times), max_size=len(times)))
        channels[name] = channel_of(name, times, np.array(values))
    paths = {f"bench.{name}": name for name in channels} if draw(st.booleans()) else {}
    samples = times if draw(st.booleans()) else None
    rounded = draw(st.booleans())
    return Recording("made", "VCD", int(times[0]), int(times[-1]), channels, samples, rounded, paths)


def same(one: Recording, other: Recording) -> None:
    """Hold two recordings equal in all that they say of the bench."""
    assert (one.start, one.end, one.rounded) == (other.start, other.end, other.rounded)
    assert one.channels == other.channels
    assert (one.samples is None) == (other.samples is None)
    assert one.samples is None or other.samples is None or np.array_equal(one.samples, other.samples)
    assert other.paths.items() <= one.paths.items()


def there_and_back(recording: Recording, ending: str, shape: str | None, **more: object) -> Recording:
    """Write a recording and read it."""
    with TemporaryDirectory() as folder:
        path = Path(folder, f"made.{ending}")
        write_recording(recording, path, shape, **more)  # type: ignore[arg-type]
        return read_recording(path)


@given(st.sampled_from(ENDINGS), recordings())
def test_nothing_is_lost(target: tuple[str, str | None], recording: Recording) -> None:
    """In every format and shape: channels, times, samples, start, end, full names, and that times were rounded."""
    same(there_and_back(recording, *target), recording)


@pytest.mark.parametrize("ending", ["csv", "vcd", "jsonl"])
@pytest.mark.parametrize("packing", ["", ".gz", ".xz", ".bz2", ".zst"])
def test_packings(ending: str, packing: str, tmp_path: Path) -> None:
    """A file of text is packed if its name says so, and is read by what it is, not by its name."""
    path = tmp_path / f"made.{ending}{packing}"
    write_recording(SAMPLED, path)
    unpack = {"": bytes, ".gz": gzip.decompress, ".xz": lzma.decompress, ".bz2": bz2.decompress}
    if packing in unpack:
        assert b"cc" in unpack[packing](path.read_bytes())
    first = path.read_bytes()
    same(read_recording(path.rename(tmp_path / "made")), SAMPLED)
    write_recording(SAMPLED, path)
    assert path.read_bytes() == first


SAMPLED = Recording(
    "made", "VCD", 0, 3000,
    {
        "cc": Channel("cc", np.array([0, 2000]), np.array([1.0, 0.0])),
        "volts": Channel("volts", np.array([1000, 2000]), np.array([0.1 + 0.2, np.nan])),
    },
    np.array([0, 1000, 2000, 3000]),
)  # fmt: skip
CHANGES = Recording("made", "VCD", -500, 3000, SAMPLED.channels, None, True, {"bench.cc": "cc"})


def test_what_only_a_note_tells_is_told(tmp_path: Path) -> None:
    """For each format, what it cannot hold; and nothing where it holds all."""
    assert write_recording(SAMPLED, tmp_path / "a.csv") == ()
    assert write_recording(SAMPLED, tmp_path / "a.parquet") == ()
    (times,) = write_recording(SAMPLED, tmp_path / "a.vcd")
    assert "not the times of samples" in times
    early, rounded = write_recording(CHANGES, tmp_path / "b.vcd")
    assert "every time is 0.0005 s later there" in early
    assert "finer than a microsecond" in rounded
    assert "its rows are changes" in write_recording(CHANGES, tmp_path / "b.csv", "wide")[0]
    odd = Recording("made", "VCD", 0, 1, {"a;b": Channel("a;b", np.array([0]), np.array([1.0]))})
    assert write_recording(odd, tmp_path / "c.csv") == ("a channel cannot be called 'a;b' there: it is a_b",)
    assert write_recording(odd, tmp_path / "c.vcd") == ()


@pytest.mark.parametrize(
    ("name", "more", "what"),
    [
        ("a.parqet", {}, r"did you mean \.parquet"),
        ("a", {}, "its name does not say the format"),
        ("a.parquet.gz", {}, "not packed as a whole"),
        ("a.vcd", {"shape": "long"}, "neither wide nor long"),
        ("a.vcd", {"delimiter": ";"}, "for a CSV file only"),
        ("a.tsv", {"decimal_comma": True, "delimiter": ","}, "a decimal comma needs"),
    ],
)
def test_what_cannot_be_written(name: str, more: dict[str, str], what: str, tmp_path: Path) -> None:
    """It is said, and no file is left."""
    with pytest.raises(CannotWrite, match=what):
        write_recording(SAMPLED, tmp_path / name, **more)  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_a_format_by_its_option() -> None:
    """The format asked for goes before the name; an unknown one is told with those there are."""
    assert target_of("out.txt", "csv").format == "csv"
    assert target_of("out.txt.zst", "jsonl").packing == "zstd"
    with pytest.raises(CannotWrite, match="there are vcd, csv, jsonl, parquet, arrow, arrows"):
        target_of("out", "hdf5")


def test_a_failed_write_leaves_the_old_file(tmp_path: Path) -> None:
    """A file is replaced only by one that was written whole."""
    path = tmp_path / "a.csv"
    path.write_text("before", encoding="utf-8")
    broken = Recording("made", "VCD", 0, 5, {"a": Channel("a", np.array([0]), np.array(["no number"]))})
    with pytest.raises(ValueError, match="no number"):
        write_recording(broken, path)
    assert path.read_text(encoding="utf-8") == "before"
    assert [each.name for each in tmp_path.iterdir()] == ["a.csv"]


@pytest.mark.parametrize(
    "note",
    [
        '{"samples": "0 1000*2"}',
        '{"samples": "0 1500*2"}',
        '{"samples": "0 -5 3005"}',
        '{"samples": "0 1*999999999"}',
        '{"samples": "soon"}',
        '{"names": {"none": "b"}}',
        '{"names": {"a": "b"}}',
        '{"rounded": 1}',
        '{"rounded": true, "more": 1}',
        '{"shift_us": 1e9}',
        '{"rows": "samples"}',
        "{5}",
        '{"paths": ["a"]}',
        '{"shift_us": 99999999999999999999}',
    ],
)
def test_notes_that_do_not_fit_are_refused(note: str) -> None:
    """A note that the values of its file deny, or that says nothing known, is not guessed at."""
    text = f"# boardgauge {note}\nt_us,signal,value\n0,a,1\n0,b,0\n1000,a,0\n3000,a,0\n"
    with pytest.raises(UnreadableRecording, match="note of Boardgauge"):
        recording_from(text.encode(), "t.csv")


def test_a_table_of_uneven_samples_is_one_group_of_rows(tmp_path: Path) -> None:
    """Samples come in small pieces; a group of rows for each had made a file nine times as large."""
    times = np.cumsum(np.random.default_rng(1).integers(14_000, 26_000, 17_000))
    channel = Channel("a", times[[0, 9_000]], np.array([0.0, 1.0]))
    recording = Recording("made", "VCD", int(times[0]), int(times[-1]), {"a": channel}, times)
    write_recording(there_and_back(recording, "vcd", None), tmp_path / "made.parquet")
    assert pq.ParquetFile(tmp_path / "made.parquet").num_row_groups == 1


def test_notes_stand_for_many_samples_in_few_bytes() -> None:
    """Samples at one rate take one word, however many; several notes go on after one another."""
    found = notes_from(['{"samples": "5 1000*99999"}', '{"samples": "7 3*2"}']).samples
    assert found is not None
    assert (len(found), found[:2].tolist(), found[-3:].tolist()) == (100003, [5, 1005], [99999012, 99999015, 99999018])


# -- against other programs ----------------------------------------------------------------------------------------


@given(recordings())
def test_what_others_read(recording: Recording) -> None:
    """Parquet, Arrow and CSV say the same to polars and pyarrow; a value change dump to vcdvcd and pywellen."""
    with TemporaryDirectory() as folder:
        path = Path(folder, "made")
        wide = Path(folder, "made.parquet")
        write_recording(recording, wide, "wide")
        frame = pl.read_parquet(wide)
        assert frame.equals(pl.DataFrame(pq.read_table(wide).to_pydict(), schema=frame.schema))
        stream = path.with_suffix(".arrows")
        write_recording(recording, stream, "wide")
        assert frame.equals(pl.read_ipc_stream(stream))
        _says(frame["t_us"].to_list(), frame, recording)
        write_recording(recording, path.with_suffix(".jsonl"), "wide")
        lines = pl.read_ndjson(path.with_suffix(".jsonl"), infer_schema_length=None)
        if "boardgauge" in lines.columns:
            lines = lines.filter(pl.col("t_s").is_not_null()).drop("boardgauge")
        _says([round(each * 1_000_000) for each in lines["t_s"].cast(pl.Float64).to_list()], lines, recording)


def _says(times: list[int], frame: pl.DataFrame, recording: Recording) -> None:
    for column, channel in zip(frame.columns[1:], recording.channels.values(), strict=True):
        cells = frame[column].cast(pl.Float64).to_list()
        for time, cell in zip(times, cells, strict=True):
            value = channel.at(time)
            assert cell is None if value != value else cell == value


@st.composite
def plain(draw: st.DrawFn) -> Recording:
    """Recordings that a value change dump can hold as they are."""
    made = draw(recordings())
    channels = {f"s{n}": Channel(f"s{n}", c.times - made.start, c.values) for n, c in enumerate(made.channels.values())}
    return Recording("made", "VCD", 0, made.end - made.start, channels)


@given(plain())
def test_value_change_dumps_others_read(recording: Recording) -> None:
    """vcdvcd and pywellen see the same changes at the same times."""
    with TemporaryDirectory() as folder:
        path = Path(folder, "made.vcd")
        assert write_recording(recording, path) == ()
        read = vcdvcd.VCDVCD(str(path))
        wave = {each.name.split()[0]: each.signal for each in pywellen.Waveform(str(path)).all_vars()}
        for name, channel in recording.channels.items():
            theirs = dict(read[f"board.{name}"].tv)
            for time in (0, *channel.times.tolist(), recording.end):
                value = channel.at(time)
                cell = theirs[max(each for each in theirs if each <= time)]
                other = wave[name].value_at(time)
                if channel.digital:
                    assert str(cell) == str(other) == ("x" if value != value else f"{value + 0.0:g}")
                else:
                    assert (float(cell) == float(other) == value) or (value != value and float(cell) != float(cell))
