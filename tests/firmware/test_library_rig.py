"""The rig of a firmware in a shared library: it drives and sees it, and outlives whatever it does."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from boardgauge.boards import board_path
from boardgauge.language import UnusableSpec, read_board, read_board_text
from boardgauge.rigs.kinds import open_rig
from boardgauge.rigs.library import open_library
from boardgauge.rigs.rig import Change, Rig, RigFailure
from boardgauge.rigs.rig_file import rig_file_from
from exports.compiled_boards import needs_compiler
from firmware.firmware_builds import build, by_hand, exported

pytestmark = needs_compiler
S = 1_000_000
FOLLOWS = """
language = 1
[board]
id = "follows"
title = "An output that follows its input (invented)"
tolerance = "exactly"
responds_within = "0.1 s"
[inputs.in1]
kind = "signal"
[outputs.q]
on = "in1"
"""
BOARD = read_board_text(FOLLOWS, "follows.toml")


def test_a_firmware_is_driven_and_seen_in_its_own_time(tmp_path: Path) -> None:
    """An hour of the on-delay of 10 s: its output comes on at the tick, and no other moment."""
    board = read_board(board_path("iec-ton"))
    with open_library(board, exported(board, tmp_path)) as rig:
        assert rig.facts.virtual
        assert rig.facts.drives == {"in1": False, "power": False}
        assert rig.start().changes == (Change(0, "q", False),)
        rig.set({"power": True})
        rig.wait(S)
        moment = rig.set({"in1": True})
        assert moment == S + 1
        report = rig.wait(3600 * S)
        assert report.changes == (Change(11 * S + 1000, "q", True),)
        assert report.now == 11 * S + 1000
        assert rig.wait(3600 * S).now == 3600 * S


def test_each_start_is_that_of_a_new_board(tmp_path: Path) -> None:
    board = read_board(board_path("iec-sr"))
    with open_library(board, exported(board, tmp_path)) as rig:
        for _ in range(2):
            assert rig.start().changes == (Change(0, "q1", False),)
            rig.set({"power": True})
            rig.set({"s1": True})
            assert [c.value for c in rig.wait(S).changes] == [True]


def test_what_is_driven_is_off_without_the_supply_at_once(tmp_path: Path) -> None:
    with open_library(BOARD, by_hand(tmp_path)) as rig:
        rig.start()
        rig.set({"power": True, "in1": True})
        assert rig.wait(S).changes[0].value is True
        rig.wait(S)
        off = rig.set({"power": False})
        (change,) = rig.wait(2 * S).changes
        assert (change.signal, change.value) == ("q", False)
        assert change.time - off <= 1


def test_a_pulse_lasts_as_long_as_it_is_asked_to(tmp_path: Path) -> None:
    with open_library(BOARD, by_hand(tmp_path)) as rig:
        rig.start()
        rig.set({"power": True})
        begins, ends = rig.pulse({"in1": True}, {"in1": False}, 500)
        assert ends - begins == 500
        seen = [*rig.wait(S).changes, *rig.wait(S).changes]
        assert [c.value for c in seen] == [True, False]


@pytest.mark.parametrize(
    ("run", "told"),
    [
        ("if (until > 500000) abort(); return until;", "crashed with SIGABRT, asked for: wait 1000000"),
        ("if (until > 500000) *(volatile int *)0 = 1; return until;", "crashed with SIGSEGV"),
        ("if (until > 500000) exit(7); return until;", "ended its process with status 7"),
        ("while (until > 500000) { } return until;", "hangs: boardgauge_run, from .* to 1 s, did not come back"),
        ("return until > 500000 ? until + 1 : until;", r"boardgauge_run\(1000000\) gives 1000001"),
        ("return until > 1000 ? 1000 : until;", "stays at 1000, and no output has changed"),
        ("q = !q; return until > 1000 ? 1000 : until;", "the outputs of the firmware keep changing at 0.001 s"),
    ],
)
def test_a_firmware_that_breaks_is_told_and_takes_nothing_with_it(tmp_path: Path, run: str, told: str) -> None:
    """It crashes, exits, hangs, or its time goes wrong: the failure says what, within the limit, and all is let go."""
    began = time.monotonic()
    with open_library(BOARD, by_hand(tmp_path, run), time_limit=S // 2) as rig:
        rig.start()
        rig.set({"power": True})
        with pytest.raises(RigFailure, match=told):
            wait_out(rig)
    assert time.monotonic() - began < 30


def wait_out(rig: Rig) -> None:
    while rig.wait(S).now < S:
        pass


def test_what_the_firmware_prints_is_not_taken_for_an_answer(tmp_path: Path) -> None:
    said = 'printf("ok 5\\n"); fflush(stdout); return until;'
    with open_library(BOARD, by_hand(tmp_path, said)) as rig:
        rig.start()
        rig.set({"power": True})
        assert rig.wait(S).now == S


def test_what_cannot_be_loaded_is_told(tmp_path: Path) -> None:
    """No library, functions that are missing, another version: a message, and no traceback."""
    (tmp_path / "text.so").write_text("no library", encoding="utf-8")
    with pytest.raises(RigFailure, match=r"text.so cannot be loaded"):
        open_library(BOARD, tmp_path / "text.so")
    one = "int boardgauge_start(void);\nint boardgauge_start(void) { return 1; }\n"
    other = build(tmp_path / "other", {"other.c": one})
    with pytest.raises(RigFailure, match="has no function boardgauge_input, boardgauge_run, boardgauge_output"):
        open_library(BOARD, other)
    late = by_hand(tmp_path / "late", version="2")
    with open_library(BOARD, late) as rig, pytest.raises(RigFailure, match="gives 2: the firmware is for another"):
        rig.start()


def test_a_name_that_the_firmware_does_not_know_is_told(tmp_path: Path) -> None:
    board = read_board_text(FOLLOWS + '[inputs.in2]\nkind = "signal"\n', "follows.toml")
    with open_library(board, by_hand(tmp_path)) as rig, pytest.raises(RigFailure, match="knows no input 'in2'"):
        rig.start()
    more = read_board_text(FOLLOWS + '[outputs.p]\non = "in1"\n', "follows.toml")
    with open_library(more, by_hand(tmp_path)) as rig, pytest.raises(RigFailure, match="knows no output 'p'"):
        rig.start()


def rig_text(own: str, rest: str = "") -> str:
    return f'language = 1\n[rig]\nkind = "library"\nname = "trial"\nlatency = "1 ms"\n[library]\n{own}\n{rest}'


def test_a_rig_file_names_the_library_and_its_points(tmp_path: Path) -> None:
    by_hand(tmp_path)
    points = '[drives]\npower = "power"\nin1 = { point = "in1", inverted = true }\n[sees]\nq = "q"\n'
    file = rig_file_from(rig_text('file = "firmware.so"', points), str(tmp_path / "rig.toml"), BOARD)
    with open_rig(file) as rig:
        assert rig.facts.latency == 1000
        rig.start()
        rig.set({"power": True})
        # Told off, the firmware's point is at 1.
        assert [c.value for c in rig.wait(S).changes] == [True]
        rig.set({"in1": True})
        assert [c.value for c in rig.wait(2 * S).changes] == [False]


@pytest.mark.parametrize(
    ("own", "told"),
    [
        ("", "library.file: the key is missing"),
        ('file = "nothing.so"', "there is no file 'nothing.so'; was the firmware built"),
        ('file = "firmware.so"\ntime_limit = "0 s"', "no call takes no time"),
        ('file = "firmware.so"\ntime_limits = "1 s"', "there is no such key here; did you mean 'time_limit'"),
    ],
)
def test_what_is_wrong_in_a_rig_file_is_told_with_its_place(tmp_path: Path, own: str, told: str) -> None:
    (tmp_path / "firmware.so").write_text("", encoding="utf-8")
    with pytest.raises(UnusableSpec, match=told) as caught:
        open_rig(rig_file_from(rig_text(own), str(tmp_path / "rig.toml"), BOARD))
    assert "rig.toml:" in str(caught.value)
