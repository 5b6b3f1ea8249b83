"""A wiring is read with everything wrong in it told at once, each with its line."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from boardgauge.traces import BadWiring, Wire, default_wiring, read_wiring, wiring_from
from traces.tarnbeck_by_hand import WIRING, board

HEAD = 'language = 1\nboard = "b"\n[wiring]\nid = "w"\n'


def test_everything_a_wiring_can_say() -> None:
    """Each entry arrives, numbers by their digits and times in microseconds."""
    wiring = wiring_from(
        HEAD
        + """
[recorder]
clock_error = "50 ppm"
skew = "1 ms"
least_pulse = "5 ms"
rows = "changes"
[channels.led]
signal = "status"
inverted = true
unpowered = "high"
bounce = "2 ms"
threshold = 2.5
differential = 0.4
[channels."Analog 0"]
signal = "coil"
scale = 0.1
offset = -50
[channels]
y = { signal = "y", line_frequency = 60 }
[settings]
interval = "5 min"
"""
    )
    assert (wiring.clock_error, wiring.skew, wiring.least_pulse, wiring.rows) == (
        Fraction(5, 10**5),
        1000,
        5000,
        "changes",
    )
    assert wiring.wires == (
        Wire("led", "status", True, "high", 2000, None, Fraction(5, 2), Fraction(2, 5)),
        Wire("Analog 0", "coil", scale=Fraction(1, 10), offset=Fraction(-50)),
        Wire("y", "y", line_frequency=60),
    )
    assert (wiring.boards, wiring.settings) == (("b",), {"interval": "5 min"})


def test_the_example_reads(tmp_path: Path) -> None:
    """A file reads like the text in it; a file that is not there is said."""
    path = tmp_path / "w.toml"
    path.write_text(WIRING, encoding="utf-8")
    assert read_wiring(path) == wiring_from(WIRING)
    with pytest.raises(BadWiring, match="No such file"):
        read_wiring(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ('[channels]\na = { signal = "x", invertd = true }', 6, "did you mean 'inverted'"),
        ('[channels]\na = { signal = "x", inverted = 1 }', 6, "expected true or false"),
        ('[channels]\na = { signal = "x", bounce = "5" }', 6, "bounce"),
        ('[channels]\na = { signal = "x", unpowered = "off" }', 6, '"low" or "high"'),
        ('[channels]\na = { signal = "x", scale = 0 }', 6, "other than 0"),
        ('[channels]\na = { signal = "x", threshold = "2" }', 6, "a number"),
        ('[channels]\na = { signal = "x", differential = 1 }', 6, "no threshold"),
        ('[channels]\na = { signal = "x", line_frequency = 2 }', 6, "Hz"),
        ('[channels]\na = { signal = "x", line_frequency = 55 }', 6, "55 cannot stand here; expected 50 or 60, what"),
        ('[channels]\na = { signal = "x", line_frequency = 120 }', 6, "expected 50 or 60"),
        ("[channels]\na = { inverted = true }", 6, "signal: this is missing"),
        ("[channels]\na = 1", 6, "not a table"),
        ('[channels]\na = { signal = "x" }\nb = { signal = "x" }', 7, "already shown by a"),
        ('[recorder]\nclock_error = "50"\n[channels]', 6, '"50 ppm"'),
        ('[recorder]\nrows = "rows"\n[channels]', 6, '"samples" or "changes"'),
        ("[channels", 5, "not TOML"),
        ("x = 1\n[channels]", 5, "no such key"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, line: int, what: str) -> None:
    """One fault each."""
    with pytest.raises(BadWiring, match=what) as error:
        wiring_from(HEAD + text, "w.toml")
    assert [problem.at.line for problem in error.value.problems] == [line]


def test_all_faults_at_once() -> None:
    """An empty file misses everything, a wrong language is one more."""
    with pytest.raises(BadWiring) as error:
        wiring_from("language = 2")
    assert [problem.key for problem in error.value.problems] == ["board", "channels", "wiring", "language"]


def test_default() -> None:
    """Without a wiring each channel called like a signal shows it; so does power."""
    names = [wire.channel for wire in default_wiring(board()).wires]
    assert names[0] == "power"
    assert {"cc", "lps", "status"} <= set(names)
