"""Identifier codes of value change dumps, and what another library writes and takes apart.

Source: IEEE 1364-2005 clause 18, value change dump files (also IEEE 1800-2017 section 21.7): an identifier code is one
or more printable ASCII characters, 33 (!) to 126 (~). `pyvcd`, by others, writes dumps and gives their tokens.
"""

from __future__ import annotations

import io
import tempfile
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vcd.reader import TokenKind, tokenize
from vcd.writer import VCDWriter

from boardgauge.traces import read_recording

RECORDINGS = Path(__file__).parents[1] / "recordings"
CHARACTERS = [chr(code) for code in range(33, 127)]


def dump(codes: list[str]) -> str:
    """Give a dump with a wire a code, each going on at a time of its own."""
    declared = "".join(f"$var wire 1 {code} s{n} $end\n" for n, code in enumerate(codes))
    changes = "".join(f"#{n + 1}\n1{code}\n" for n, code in enumerate(codes))
    zeros = "".join(f"0{code}\n" for code in codes)
    head = f"$timescale 1 us $end\n$scope module top $end\n{declared}$upscope $end\n$enddefinitions $end\n"
    return f"{head}#0\n{zeros}{changes}"


@pytest.mark.parametrize(
    "codes", [CHARACTERS, ["".join(pair) for pair in product("!#$0~", repeat=2)]], ids=["single", "pairs"]
)
def test_every_printable_character_may_stand_in_a_code(codes: list[str], tmp_path: Path) -> None:
    """All 94 of them, alone and in pairs, digits and the characters of keywords and times among them."""
    path = tmp_path / "codes.vcd"
    path.write_text(dump(codes), encoding="ascii")
    found = read_recording(path)
    for number in range(len(codes)):
        channel = found.find(f"s{number}")
        assert channel is not None
        assert (channel.at(number), channel.at(number + 1)) == (0.0, 1.0)


Rows = dict[str, list[tuple[int, str]]]


@settings(max_examples=40, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from("abcde"),
        st.lists(st.tuples(st.integers(1, 10**6), st.sampled_from("01xz")), max_size=8, unique_by=lambda row: row[0]),
        min_size=1,
    )
)
def test_what_another_library_writes_is_read_as_it_was_meant(rows: Rows) -> None:
    """Levels and times of drawn signals, with x and z as not known."""
    text = io.StringIO()
    with VCDWriter(text, timescale="1 us", date="today") as writer:
        made = {name: writer.register_var("top", name, "wire", size=1, init="0") for name in rows}
        ordered = sorted((time, name, value) for name, row in rows.items() for time, value in row)
        for time, name, value in ordered:
            writer.change(made[name], time, value)
        writer.close(10**6 + 1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "written.vcd"
        path.write_text(text.getvalue(), encoding="ascii")
        found = read_recording(path)
    for name, row in rows.items():
        channel = found.find(name)
        assert channel is not None
        for time, value in row:
            level = channel.at(time)
            assert level == float(value) if value in "01" else level != level


@pytest.mark.parametrize("name", ["s12_jumpers_fast__good.vcd", "s15_glitches__good.vcd"])
def test_as_many_changes_as_the_other_library_has_tokens_for(name: str) -> None:
    """Of a real dump, every signal and every change of a level is there, at the time its token says."""
    ours = read_recording(RECORDINGS / name)
    names: dict[str, str] = {}
    seen: list[tuple[int, str, str]] = []
    time = 0
    with (RECORDINGS / name).open("rb") as file:
        for token in tokenize(file):
            if token.kind is TokenKind.VAR:
                names[token.var.id_code] = token.var.reference
            elif token.kind is TokenKind.CHANGE_TIME:
                time = token.time_change
            elif token.kind is TokenKind.CHANGE_SCALAR:
                seen.append((time, names[token.scalar_change.id_code], token.scalar_change.value))
    assert {channel.name.split(".")[-1] for channel in ours.channels.values()} == set(names.values())
    assert len(seen) > 50
    for at, signal, value in seen:
        channel = ours.find(signal)
        assert channel is not None
        level = channel.at(at)  # the dump counts in microseconds, as a recording does
        assert level == float(value) if value in "01" else level != level
