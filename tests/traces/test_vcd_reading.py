"""A value change dump is read as published, and what cannot be taken at its word is refused with its line."""

from __future__ import annotations

import math

import pytest
import pywellen
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Recording, UnreadableRecording, recording_from

HEAD = "$timescale 1 us $end\n$scope module bench $end\n{}$upscope $end\n$enddefinitions $end\n"


def vcd(variables: str, body: str) -> bytes:
    return (HEAD.format(variables) + body).encode()


def read(variables: str, body: str) -> Recording:
    return recording_from(vcd(variables, body), "t.vcd")


def changes(recording: Recording, name: str) -> list[tuple[int, float | None]]:
    channel = recording.channels[name]
    values = [None if math.isnan(v) else v for v in channel.values.tolist()]
    return list(zip(channel.times.tolist(), values, strict=True))


BIT = "$var wire 1 ! a $end\n"
BUS = "$var reg 4 ! bus [3:0] $end\n"


def test_levels_and_times() -> None:
    """Single bits; x and z are not known; the trailing empty time stamp is the end."""
    recording = read(BIT, "#5\n0!\n#10\n1!\n#20\nx!\n#30\nz!\n#40\n0!\n#99\n")
    assert (recording.start, recording.end) == (5, 99)
    assert changes(recording, "a") == [(5, 0), (10, 1), (20, None), (40, 0)]
    assert recording.samples is None


def test_repeated_time_and_pulse_of_no_length() -> None:
    """A time may be written twice; of the values at one time the last counts."""
    assert changes(read(BIT, "#0\n0!\n#10\n1!\n#10\n0!\n#20\n1!\n"), "a") == [(0, 0), (20, 1)]


def test_values_before_the_first_time() -> None:
    """Values dumped before any time stamp hold from the first one on."""
    assert changes(read(BIT, "$dumpvars 1! $end\n#7\n#9\n0!\n"), "a") == [(7, 1), (9, 0)]


def test_dumping_switched_off() -> None:
    """Between $dumpoff and the next values nothing is known, whether or not x values are written out."""
    for inside in ("", "x!"):
        found = changes(read(BIT, f"#0\n1!\n#5\n$dumpoff {inside} $end\n#9\n$dumpon 1! $end\n#12\n"), "a")
        assert found == [(0, 1), (5, None), (9, 1)]


@pytest.mark.parametrize(
    ("text", "bits", "number"),
    [
        ("b1", "0001", 1),
        ("b01", "0001", 1),
        ("b1010", "1010", 10),
        ("bx1", "xxx1", None),
        ("bz", "xxxx", None),
        ("b0x", "000x", None),
    ],
)
def test_vectors_extend_to_the_left(text: str, bits: str, number: int | None) -> None:
    """A short vector is filled with 0 after 0 or 1, and with its first bit after x or z (IEEE 1364-2005, 18.2.1)."""
    recording = read(BUS, f"#0\n{text} !\n#1\n")
    for position, bit in zip((3, 2, 1, 0), bits, strict=True):
        at = recording.channels[f"bus[{position}]"].at(0)
        assert (math.isnan(at) and bit == "x") or at == float(bit)
    value = recording.channels["bus"].at(0)
    assert math.isnan(value) if number is None else value == number


def test_reals() -> None:
    """Reals are numbers; rNaN is not known."""
    recording = read("$var real 64 ! mv $end\n", "#0\nr-1.5e1 !\n#1\nrNaN !\n#2\nr480 !\n")
    assert changes(recording, "mv") == [(0, -15), (1, None), (2, 480)]


def test_timescales() -> None:
    """A coarser tick is multiplied; a finer one is taken down to the whole microsecond, and that is said."""
    body = "$var wire 1 ! a $end\n$upscope $end\n$enddefinitions $end\n#0\n0!\n#1500\n1!\n#2000\n"
    fine = recording_from(("$timescale 1ns $end\n$scope module s $end\n" + body).encode(), "t")
    assert (changes(fine, "a"), fine.rounded, fine.end) == ([(0, 0), (1, 1)], True, 2)
    coarse = recording_from(("$timescale 10 ms $end\n$scope module s $end\n" + body).encode(), "t")
    assert (changes(coarse, "a"), coarse.rounded) == ([(0, 0), (15_000_000, 1)], False)


def test_names() -> None:
    """A name that stands for one thing is enough; else the path; an alias is the same; escapes lose their backslash."""
    text = (
        "$timescale 1 us $end\n$scope module t $end\n$var wire 1 ! a $end\n$scope module u $end\n"
        "$var wire 1 ! a $end\n$var wire 1 # b $end\n$upscope $end\n$var wire 1 % b $end\n"
        "$var wire 1 & \\c+d $end\n$var wire 1 ' e [3] $end\n$upscope $end\n$enddefinitions $end\n"
        "#0\n1! 0# 1% 0& 1'\n#1\n"
    )
    recording = recording_from(text.encode(), "t")
    assert set(recording.channels) == {"a", "t.u.b", "t.b", "c+d", "e[3]"}
    assert recording.find("t.u.a") is recording.channels["a"]


@pytest.mark.parametrize(
    ("body", "line", "what"),
    [
        ("#0\n1!\n#5\n#4\n", 9, "after #5"),
        ("#0\n1?\n", 7, "not declared"),
        ("#0\nb1 ?\n", 7, "not declared"),
        ("#-5\n", 6, "'#-5'"),
        ("#0\nhello\n", 7, "'hello'"),
        ("#0\nb1", 7, "ends inside 'b1'"),
        ("#0\n$comment never", 7, "ends inside a comment"),
        ("1!\n", 7, "no time stamp"),
        ("#" + "9" * 5000 + "\n", 6, "time"),
        ("#0\nr1.5 !\n", 7, "single bit"),
        ("#0\nb1q !\n", 7, "vector"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(body: str, line: int, what: str) -> None:
    """The message names the line and what was found there."""
    with pytest.raises(UnreadableRecording, match=what) as error:
        read(BIT, body)
    assert error.value.line == line


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("$timescale 3 us $end $enddefinitions $end #0", "timescale"),
        ("$enddefinitions $end #0", "no \\$timescale"),
        ("$timescale 1 us $end", "ends in its declarations"),
        ("$var wire 1 $end", "a variable declared as"),
        ("$upscope $end", "without a"),
        ("$timescale 1 us $end #0", "in the declarations"),
        ("$comment x", "ends inside"),
    ],
)
def test_declarations_that_are_wrong(text: str, what: str) -> None:
    """So do the declarations."""
    with pytest.raises(UnreadableRecording, match=what):
        recording_from(text.encode(), "t.vcd")


values = st.sampled_from(["0", "1", "x", "z"])


steps_of = st.tuples(st.integers(0, 3), st.text("01xz", min_size=1, max_size=4), values)


@given(st.lists(steps_of, min_size=1, max_size=20))
def test_agrees_with_another_reader(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[int, str, str]]
) -> None:
    """At every time, bits and vectors are what an independent reader (pywellen) says they are."""
    variables = BIT.replace("!", "#") + BUS
    body, time = "", 0
    for gap, bus, bit in steps:
        time += gap
        body += f"#{time}\nb{bus} !\n{bit}#\n"
    path = tmp_path_factory.getbasetemp() / "oracle.vcd"
    path.write_bytes(vcd(variables, body + f"#{time + 1}\n"))
    recording = recording_from(path.read_bytes(), "t")
    oracle = pywellen.Waveform(str(path))
    for variable in oracle.all_vars():
        channel = recording.channels[variable.name.split()[0]]
        for at in range(steps[0][0], time + 1):
            theirs, ours = variable.signal.value_at(at), channel.at(at)
            assert math.isnan(ours) if isinstance(theirs, str) else ours == theirs
