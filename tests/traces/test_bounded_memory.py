"""What is read, looked at and converted in small pieces is what it is in one piece, and little of it is held."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from boardgauge.boards import board_path
from boardgauge.command import main
from boardgauge.command.looking import as_object, look_at, told
from boardgauge.language import read_board
from boardgauge.traces import Channel, Recording, arrow_format, json_lines, passes, read_recording, rows, vcd_format
from boardgauge.traces import recording as recordings
from boardgauge.traces import source as sources
from boardgauge.traces.appearance import levels_of
from boardgauge.traces.errors import NoRoom
from boardgauge.traces.pace import pace_of
from boardgauge.traces.recording import channel_of
from boardgauge.traces.shelf import Shelf, ShelvedChannel
from boardgauge.traces.writing import write_recording

NAN = float("nan")
BOARD = read_board(board_path("tarnbeck"))
ENDINGS = ["csv", "csv.gz", "vcd", "vcd.xz", "jsonl", "jsonl.zst", "parquet", "arrow", "arrows"]


@contextmanager
def pieces_of(size: int) -> Iterator[None]:
    """Read, go through and write everything in pieces of so many changes, rows and cells."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(recordings, "PIECE", size)
        patch.setattr(sources, "BLOCK", 40 * size)
        patch.setattr(arrow_format, "PIECE", size)
        patch.setattr(vcd_format, "_AT_ONCE", size)
        patch.setattr(json_lines, "_AT_ONCE", size)
        patch.setattr(rows, "PIECE", size)
        patch.setattr(rows, "CELLS", size)
        patch.setattr(rows, "HELD", 0)
        patch.setattr(rows, "_FEWEST", size)
        yield


@st.composite
def any_recording(draw: st.DrawFn) -> Recording:
    """A recording with channels of all looks: logic, bounce, pulses of the line, measured, two levels, not known."""
    step = draw(st.sampled_from([1000, 1000, 2500, 16_667]))
    steps = draw(hnp.arrays(np.int64, st.integers(1, 150), elements=st.sampled_from([step, step, step, step * 3])))
    times = np.cumsum(np.concatenate(([draw(st.sampled_from([0, 5_000_000]))], steps)))
    kinds = {
        "logic": st.sampled_from([0.0, 1.0]),
        "gappy": st.sampled_from([0.0, 1.0, 1.0, NAN]),
        "measured": st.floats(-5, 5, width=16),
        "levels": st.sampled_from([0.1, 0.2, 4.7, 4.8, NAN]),
        "constant": st.just(1.0),
    }
    channels: dict[str, Channel] = {}
    for number, kind in enumerate(draw(st.lists(st.sampled_from([*kinds, "line", "twin"]), min_size=1, max_size=5))):
        name = f"{kind}{number}"
        if kind == "line":
            values = ((times * 60 / 1e6) % 1 < 0.4).astype(np.float64)
        elif kind == "twin" and channels:
            before = list(channels.values())[-1]
            channels[name] = Channel(name, before.times, before.values)
            continue
        else:
            values = draw(hnp.arrays(np.float64, len(times), elements=kinds.get(kind, kinds["logic"])))
        channels[name] = channel_of(name, times, values)
    samples = times if draw(st.booleans()) else None
    return Recording("made", "VCD", int(times[0]), int(times[-1]), channels, samples)


def same(one: Recording, other: Recording) -> None:
    """Hold two recordings equal."""
    assert (one.start, one.end, one.rounded, one.paths) == (other.start, other.end, other.rounded, other.paths)
    assert one.channels == other.channels
    assert (one.samples is None) == (other.samples is None)
    assert one.samples is None or np.array_equal(one.samples, other.samples)  # type: ignore[arg-type]


@given(any_recording(), st.sampled_from(ENDINGS), st.sampled_from([None, "wide", "long"]), st.integers(1, 7))
def test_read_in_pieces(recording: Recording, ending: str, shape: str | None, size: int) -> None:
    """Put away two changes at a time, or held in memory as a whole: the file says the same."""
    with TemporaryDirectory() as folder, Shelf(2) as shelf:
        path = Path(folder, f"made.{ending}")
        write_recording(recording, path, None if ending.startswith("vcd") else shape)  # type: ignore[arg-type]
        whole = read_recording(path)
        with pieces_of(size):
            pieced = read_recording(path, shelf=shelf)
            same(pieced, whole)
        busy = sum(channel.changes > 3 for channel in whole.channels.values())
        assert busy == 0 or shelf.put_away > 0


@given(any_recording(), st.sampled_from(ENDINGS), st.sampled_from([None, "wide", "long"]), st.integers(1, 7))
def test_converted_in_pieces(recording: Recording, ending: str, shape: str | None, size: int) -> None:
    """What is written of changes that were put away, some rows at a time, is the file that is written at once."""
    with TemporaryDirectory() as folder, Shelf(2) as shelf:
        first = Path(folder, "first.jsonl")
        write_recording(recording, first)
        there, again = Path(folder, f"there.{ending}"), Path(folder, f"again.{ending}")
        asked = None if ending.startswith("vcd") else shape
        said = write_recording(read_recording(first), there, asked)  # type: ignore[arg-type]
        with pieces_of(size):
            shelved = read_recording(first, shelf=shelf)
            assert write_recording(shelved, again, asked) == said  # type: ignore[arg-type]
        if ending.startswith(("parquet", "arrow")):
            same(read_recording(again), read_recording(there))
        else:
            assert again.read_bytes() == there.read_bytes()


@given(any_recording(), st.integers(1, 7))
def test_looked_at_in_pieces(recording: Recording, size: int) -> None:
    """All that is printed, and all of the JSON, is the same in pieces of any size."""
    names = dict(zip(recording.channels, ["power", "cc", "led", "y", "fan"], strict=False))
    channels = {new: recording.channels[name].named(new) for name, new in names.items()}
    recording = Recording("made", "VCD", recording.start, recording.end, channels, recording.samples)
    for board in (None, BOARD):
        whole = look_at(recording, board)
        with pieces_of(size):
            pieced = look_at(recording, board)
        assert told(pieced, board) == told(whole, board)
        assert as_object(pieced) == as_object(whole)


# -- how much is held ----------------------------------------------------------------------------------------------


def noisy(path: Path, count: int, ending: str) -> Path:
    """Write two channels of noise, in a long or a wide table or a dump."""
    times = 1000 * np.arange(count, dtype=np.int64)
    chance = np.random.default_rng(count)
    channels = {name: channel_of(name, times, chance.normal(size=count).round(3)) for name in ("a", "b")}
    path = path / f"{count}.{ending}"
    write_recording(Recording("made", "VCD", 0, int(times[-1]), channels, times), path)
    return path


@pytest.mark.parametrize("ending", ["csv", "vcd", "jsonl", "parquet"])
def test_what_is_held_does_not_grow_with_the_file(ending: str, tmp_path: Path) -> None:
    """Of a recording three times as long no more changes are held while it is read."""
    held = []
    with pieces_of(500):
        for count in (6000, 18_000):
            with Shelf(2000) as shelf:
                found = read_recording(noisy(tmp_path, count, ending), shelf=shelf)
                assert all(isinstance(channel, ShelvedChannel) for channel in found.channels.values())
                assert max(len(times) for c in found.channels.values() for times, _ in c.pieces()) <= 500
                held.append(shelf.most_held)
    # What is held before it is put away, and what one block brings.
    assert max(held) <= 2000 + 2 * 1000


@pytest.mark.parametrize("ending", ["csv", "vcd"])
def test_what_is_held_does_not_grow_while_rows_are_made(ending: str, tmp_path: Path) -> None:
    """Rows, wide and long, come in pieces of a bounded size, and are made of such pieces."""
    with pieces_of(500), Shelf(2000) as shelf:
        found = read_recording(noisy(tmp_path, 6000, ending), shelf=shelf)
        for many in (rows.wide_rows(found), rows.long_rows(found)):
            assert max(len(each[0]) for each in many) <= 500
        assert max(sum(len(t) for t, _ in window) for window in rows._windows(list(found.channels.values()))) <= 2000


def test_nothing_is_put_away_of_a_short_recording(tmp_path: Path) -> None:
    """No file is made for it."""
    with Shelf() as shelf:
        found = read_recording(noisy(tmp_path, 900, "csv"), shelf=shelf)
        assert (shelf.put_away, shelf._file) == (0, None)
        assert not any(isinstance(channel, ShelvedChannel) for channel in found.channels.values())


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_no_room_to_put_changes_away(ending: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not the recording's fault, and is told as it is, with how to name another folder."""

    def full(*_: object) -> object:
        raise OSError(28, "No space left on device")

    path = noisy(tmp_path, 900, ending)
    monkeypatch.setattr("tempfile.TemporaryFile", full)
    with Shelf(2) as shelf, pytest.raises(NoRoom, match=r"No space left.*TMPDIR"):
        read_recording(path, shelf=shelf)
    monkeypatch.setattr("boardgauge.traces.shelf.MOST_HELD", 2)
    for command in (["look", str(path)], ["convert", str(path), "-o", str(tmp_path / "out.csv")]):
        told = CliRunner().invoke(main, command)
        assert (told.exit_code, "No space left" in told.output) == (2, True)


# -- what is found in pieces ---------------------------------------------------------------------------------------


@given(
    st.lists(st.floats(allow_nan=False) | st.sampled_from([0.0, -0.0, 1.0]), min_size=1, max_size=30),
    st.data(),
)
def test_the_chosen_number(values: list[float], data: st.DataObject) -> None:
    """The least one that so much weight is up to, as of all of them in order, whatever they are."""
    weights = data.draw(st.lists(st.integers(1, 2**50), min_size=len(values), max_size=len(values)))
    weight = data.draw(st.integers(1, sum(weights)))
    numbers = passes.ordered(np.array(values))

    def pieces() -> Iterator[tuple[recordings.Times, recordings.Times]]:
        return ((numbers[at : at + 3], np.array(weights[at : at + 3])) for at in range(0, len(values), 3))

    found = passes.unordered(passes.chosen(pieces, weight))
    along = 0
    for value, each in sorted(zip(values, weights, strict=True)):
        along += each
        if along >= weight:
            assert found == value
            break


@given(st.lists(st.sampled_from([990, 1000, 1010, 1499, 1501, 5000]), min_size=1, max_size=200))
def test_the_usual_step_is_the_median(steps: list[int]) -> None:
    """Half of the steps are shorter and half are longer, gaps too."""
    times = np.cumsum([0, *steps])
    pace = pace_of(Recording("made", "wide CSV", 0, int(times[-1]), {}, times))
    assert pace is not None
    assert pace.usual == int(np.median(steps))
    wide = [each for each in steps if each > pace.usual * 3 // 2]
    normal = [each for each in steps if each <= pace.usual * 3 // 2]
    assert (pace.gaps, pace.least, pace.greatest) == (len(wide), min(normal), max(normal))
    assert pace.missing == sum(wide) - pace.usual * len(wide)
    if pace.longest_gap is not None:
        assert pace.longest_gap == (int(times[steps.index(max(wide))]), max(wide))


@given(st.lists(st.booleans(), min_size=1, max_size=40), st.integers(1, 6))
def test_runs_across_pieces(alike: list[bool], size: int) -> None:
    """Runs of steps that are alike are found whole wherever the pieces end."""
    times = np.arange(len(alike) + 1) * 10

    def pieces() -> Iterator[tuple[recordings.Times, passes.Bools]]:
        for at in range(0, len(alike), size):
            some = np.array(alike[at : at + size])
            yield times[at : at + len(some) + 1], some

    found = [run for each in passes.runs(pieces()) for run in zip(each.lengths, each.begins, each.ends, strict=True)]
    text = "".join("#" if each else " " for each in alike)
    wanted, at = [], 0
    for part in text.split(" "):
        if part:
            wanted.append((len(part), at * 10, (at + len(part)) * 10))
        at += len(part) + 1
    assert found == wanted


def test_values_too_far_apart_for_levels() -> None:
    """Nothing is found between the least and the greatest of all floats, and nothing fails."""
    values = np.array([-1.7e308, 1.7e308])
    assert levels_of(lambda: iter([(values, np.array([1, 1]))]), -1.7e308, 1.7e308) is None
