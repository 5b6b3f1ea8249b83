"""Law: rows taken in at once say what the same rows say one by one, and what is not plain is left to that."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, csv_format, reading_ahead, recording_from, source
from boardgauge.traces.cell_columns import Cells, Names, decimals_in
from boardgauge.traces.digits import Text


def read(text: str) -> Recording | str:
    """Give the recording, or what was said of the text."""
    try:
        return recording_from(text.encode(), "t.csv")
    except UnreadableRecording as error:
        return str(error)


def same_both_ways(text: str, block: int) -> None:
    """Read a text row by row, and at once in blocks of some size: what comes out is the same."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_format, "take_wide", lambda *_: None)
        patch.setattr(csv_format, "take_long", lambda *_: None)
        plain = read(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(source, "BLOCK", block)
        # With threads as well, from the first block or the second on.
        patch.setattr(reading_ahead, "ALONE", block % 2)
        quick = read(text)
    if isinstance(plain, str):
        assert quick == plain
        return
    assert isinstance(quick, Recording), quick
    assert quick.channels == plain.channels
    assert list(quick.channels) == list(plain.channels)
    assert (quick.start, quick.end, quick.rounded) == (plain.start, plain.end, plain.rounded)
    assert np.array_equal(*(np.asarray(r.samples if r.samples is not None else []) for r in (quick, plain)))


whole = st.integers(-5, 3000).map(str)
points = st.builds(lambda a, b: f"{a}.{b}", st.integers(0, 40), st.text("0123456789", max_size=9))
words = st.sampled_from(
    ["", "x", "on", "OFF", "true", "-", "nan", " 1", "high", "1e3", "-2.5", "+3", "12345678.25", "?"]
)
odd = st.sampled_from(
    ["1_0", "maybe", '"1"', '"1', "0.12345678901234567890", "9007199254740993", "inf", "1.2.3", ".", "-"]
)
bits = st.sampled_from(["0", "1"])
columns = st.sampled_from([bits, whole, points, st.one_of(bits, words), st.one_of(bits, points, words, odd)])
ends = st.sampled_from(["\n", "\r\n", "\n\n"])


@st.composite
def wide(draw: st.DrawFn) -> str:
    """Draw a wide table, most of them plain."""
    kinds = draw(st.lists(columns, min_size=1, max_size=4))
    delimiter, end = draw(st.sampled_from([",", ";", "\t"])), draw(ends)
    time = draw(st.sampled_from([0, 17, 999_998, 10**9]))
    places = draw(st.sampled_from([None, 0, 3, 6, 8]))
    rows = [delimiter.join(["t_" + draw(st.sampled_from(["s", "ms", "us"])), *(f"c{i}" for i in range(len(kinds)))])]
    for _ in range(draw(st.integers(1, 12))):
        time += draw(st.sampled_from([1, 1, 1, 10, 1000, 0]))
        stamp = repr(time / 1000) if places is None else f"{time / 1000:.{places}f}"
        rows.append(delimiter.join([stamp, *(draw(kind) for kind in kinds)]))
    return end.join(rows) + draw(st.sampled_from(["", end]))


@st.composite
def long(draw: st.DrawFn) -> str:
    """Draw a long table, most of them plain."""
    names = st.sampled_from(["y", "cc", "led_n", "a rather long name", "a rather long nome", " y", "é", ""])
    value = draw(st.sampled_from([bits, st.one_of(bits, words), st.one_of(bits, points, odd)]))
    few = draw(st.sampled_from([names, st.sampled_from(["y", "o", "compressor contactor"])]))
    time, rows = 0, ["t_ms,signal,value"]
    for _ in range(draw(st.integers(1, 14))):
        time += draw(st.sampled_from([0, 1, 7, 1000]))
        rows.append(f"{time / draw(st.sampled_from([1, 10, 1000]))},{draw(few)},{draw(value)}")
    return "\n".join(rows) + "\n"


@given(wide(), st.integers(8, 200))
def test_wide_tables(text: str, block: int) -> None:
    """A wide table gives the same recording, or the same complaint, both ways."""
    same_both_ways(text, block)


@given(long(), st.integers(8, 200))
def test_long_tables(text: str, block: int) -> None:
    """So does a long one."""
    same_both_ways(text, block)


def test_plain_rows_are_taken_in_at_once() -> None:
    """Levels, numbers of any length, words and empty cells need no second way: without one they read just as well."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_format, "_slow_wide", None)
        patch.setattr(csv_format, "_slow_long", None)
        assert isinstance(read("t_s,a,b,c\n0,1,2.5,on\n0.5,0,-13,off\n1.25,,1e3,x\n"), Recording)
        assert isinstance(read("t;a;b\r\n0,5;1;2,5\r\n1,25;0;-3\r\n"), Recording)
        assert isinstance(read("t_us,signal,value\n1,a longer name,1\n1,y,0.5\n22,y,off\n"), Recording)


numbers = st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=6)


@given(st.lists(numbers, min_size=1, max_size=20))
def test_decimals_are_exact(values: list[object]) -> None:
    """Each comes out to the digit, with its sign and whatever number of decimals."""
    cells = [f"{v:f}".rstrip("0").rstrip(".") if i % 2 else f"{v:f}" for i, v in enumerate(values)]
    text = ",".join(cells)
    at = np.cumsum([len(c) + 1 for c in cells]) - 1
    found = decimals_in(Cells(Text.of(text.encode()), at - [len(c) for c in cells], at), ord("."))
    assert found is not None
    assert [n / 10 ** found[1] for n in found[0].tolist()] == [float(v) for v in values]  # type: ignore[arg-type]


@given(st.lists(st.lists(st.text("ab c", min_size=0, max_size=30), min_size=1, max_size=12), min_size=1, max_size=4))
def test_names_are_told_apart(blocks: list[list[str]]) -> None:
    """Every name has one number, block after block, however long it is and however it begins."""
    names, numbers = Names(), dict[str, int]()
    for block in blocks:
        at = np.cumsum([len(c) + 1 for c in block]) - 1
        cells = Cells(Text.of(",".join(block).encode()), at - [len(c) for c in block], at)
        found = names.numbers_in(cells)
        assert found is not None
        for name, number in zip(block, found.tolist(), strict=True):
            assert numbers.setdefault(name, number) == number
            assert names.texts[number].decode() == name
