"""Law: a block taken in at once holds what the same block holds word by word, and what is not plain is left to that."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, recording_from, source, vcd_format
from boardgauge.traces.digits import Text

DECLARED = (
    "$timescale 100 ns $end\n$scope module b $end\n$var wire 1 ! a $end\n$var wire 1 b1 c $end\n"
    "$var reg 4 # bus [3:0] $end\n$var reg 70 r long [69:0] $end\n$var real 64 ~~~ mv $end\n"
    "$var event 1 e happens $end\n$var string 1 s text $end\n$upscope $end\n$enddefinitions $end\n"
)
times = st.integers(0, 10**6).map(lambda t: f"#{t}")
bits = st.builds(lambda level, code: level + code, st.sampled_from("01xXzZ"), st.sampled_from(["!", "b1", "#", "e"]))
vectors = st.builds(
    lambda head, body, code: f"{head}{body} {code}",
    st.sampled_from("bB"),
    st.text("01xz", min_size=1, max_size=72),
    st.sampled_from(["#", "r", "!", "~~~", "b1"]),
)
reals = st.builds(
    lambda number, code: f"r{number} {code}",
    st.sampled_from(["0", "-1.5", "1.5e1", "NaN", "inf", "12345678901234567890", "0.1", "+7", "1_0", "q"]),
    st.sampled_from(["~~~", "#", "r", "!"]),
)
odd = st.sampled_from(["$dumpoff", "$dumpon", "$end", "$comment b1 # $end", "sfree s", "hello", "1?", "$dumpvars"])
words = st.one_of(times, bits, vectors, reals, odd)


def read(text: str) -> Recording | str:
    """Give the recording, or what was said of the text."""
    try:
        return recording_from(text.encode(), "t.vcd")
    except UnreadableRecording as error:
        return str(error)


def same(one: Recording, other: Recording) -> bool:
    return (one.channels, one.start, one.end, one.rounded, one.paths) == (
        other.channels,
        other.start,
        other.end,
        other.rounded,
        other.paths,
    )


@given(st.lists(words, max_size=30), st.sampled_from(["\n", "\r\n", " \n", "\n\n"]), st.booleans(), st.integers(1, 400))
def test_at_once_is_as_word_by_word(body: list[str], parting: str, rising: bool, block: int) -> None:
    """Whatever the words, both ways give the same recording or the same complaint, however the file is cut."""
    if rising:
        stamps = iter(sorted((w for w in body if w.startswith("#")), key=lambda w: int(w[1:])))
        body = [next(stamps) if w.startswith("#") else w for w in body]
    text = DECLARED + "#0" + parting + parting.join(body) + parting
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(vcd_format, "take_block", lambda *_: None)
        plain = read(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(source, "BLOCK", block)
        quick = read(text)
    if isinstance(plain, Recording):
        assert isinstance(quick, Recording), quick
        assert same(plain, quick)
    else:
        assert quick == plain


def test_plain_words_are_taken_in_at_once() -> None:
    """Bits, vectors, reals and dumps of all values need no second way: without one they read just as well."""
    body = "#0\n$dumpvars\n0!\n1b1\nbx01 #\nr-2.5 ~~~\nb1 r\n$end\n#50\nb1111 #\n1e\nsfree s\nr1e3 ~~~\n#70\n"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(vcd_format, "_take", None)
        found = read(DECLARED + body)
    assert isinstance(found, Recording)
    assert [found.channels[name].values[-1] for name in ("a", "c", "bus", "mv", "long")] == [0, 1, 15, 1000, 1]
    assert found.channels["bus[1]"].at(0) == 0
    assert math.isnan(found.channels["bus"].at(0))


@given(st.lists(st.integers(0, 10**16 - 1), min_size=1, max_size=30))
def test_whole_numbers(numbers: list[int]) -> None:
    """Up to 16 digits are read to the digit, wherever in the text they stand."""
    text = ",".join(map(str, numbers)).encode()
    ends = np.array([i for i, c in enumerate(text + b",") if c == ord(",")], dtype=np.int64)
    lengths = np.array([len(str(n)) for n in numbers], dtype=np.int64)
    found = Text.of(text).whole_numbers(ends, lengths)
    assert found is not None
    assert found.tolist() == numbers


@given(st.binary(min_size=1, max_size=20))
def test_what_is_no_digit_is_no_number(data: bytes) -> None:
    """Anything but digits, and more than 16 of them, gives nothing."""
    found = Text.of(data).whole_numbers(np.array([len(data)]), np.array([len(data)]))
    if data.isdigit() and len(data) <= 16:
        assert found is not None
        assert found.tolist() == [int(data)]
    else:
        assert found is None


def test_any_cut_reads() -> None:
    """A dump cut off anywhere gives a recording or one complaint."""
    whole = (DECLARED + "#0\n0!\nb01 #\n#3\nr1.5 ~~~\n").encode()
    for cut in range(len(whole)):
        with contextlib.suppress(UnreadableRecording):
            recording_from(whole[:cut], "t")
