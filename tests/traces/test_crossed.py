"""Two crossed channels are told where the recording shows it, and only there."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from attrs import evolve
from click.testing import CliRunner

from boardgauge.boards import board_path
from boardgauge.command import main
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.traces import Wiring, condition, read_recording, read_wiring
from boardgauge.traces.crossed import crossed

RECORDINGS = Path(__file__).parents[1] / "recordings"
WIRING = board_path("tarnbeck").parent / "wirings" / "tarnbeck.toml"


@cache
def tarnbeck() -> Board:
    """The board of the shipped recordings."""
    return read_board(board_path("tarnbeck"))


def _exchanged(one: str, other: str) -> Wiring:
    """Give the wiring of the recordings with two channels changed over."""
    wiring, changed = read_wiring(WIRING), {one: other, other: one}
    return evolve(wiring, wires=tuple(evolve(w, signal=changed.get(w.signal, w.signal)) for w in wiring.wires))


def _found(name: str, wiring: Wiring) -> set[str] | None:
    found = crossed(condition(read_recording(RECORDINGS / name), wiring, tarnbeck()), wiring, tarnbeck())
    return None if found is None else {wire.channel for wire in found}


@pytest.mark.parametrize(
    ("name", "one", "other"),
    [
        ("s09_defrost_warm__good.vcd", "cc", "fan"),
        ("s09_defrost_warm__good.vcd", "aux", "alm"),
        ("s01_powerup_restart__good.vcd", "cc", "rv"),
        ("s01_powerup_restart__good.vcd", "y", "o"),
    ],
)
def test_crossed_channels_are_told(name: str, one: str, other: str) -> None:
    """No state of the board has what they show as wired; every one is right with the two changed over."""
    assert _found(name, _exchanged(one, other)) == {one, other}


@pytest.mark.parametrize(("one", "other"), [("cc", "fan"), ("aux", "alm"), ("lps", "hps")])
def test_what_goes_together_throughout_is_not_told_apart(one: str, other: str) -> None:
    """In this recording the two stand alike, so it can be read either way."""
    assert _found("s01_powerup_restart__good.vcd", _exchanged(one, other)) is None


@pytest.mark.parametrize(
    "name", ["s02_lp_bypass__f01_bypass_short", "s10_defrost_max__f10_fan_on_in_defrost", "s15_glitches__good"]
)
def test_no_right_wiring_is_called_crossed(name: str) -> None:
    """Neither of a good board nor of a faulty one."""
    assert _found(f"{name}.vcd", read_wiring(WIRING)) is None


def test_look_tells_what_looks_crossed(tmp_path: Path) -> None:
    """With the names of both channels and what each is wired to, and what to do."""
    text = WIRING.read_text(encoding="utf-8")
    text = text.replace('cc = { signal = "cc" }', 'cc = { signal = "rv" }').replace(
        'rv = { signal = "rv" }', 'rv = { signal = "cc" }'
    )
    (tmp_path / "crossed.toml").write_text(text, encoding="utf-8")
    recording = str(RECORDINGS / "s01_powerup_restart__good.vcd")
    words = ["look", recording, "--board", "tarnbeck", "--wiring"]
    told = CliRunner().invoke(main, [*words, str(tmp_path / "crossed.toml")]).output
    assert "cc (rv) and rv (cc) look crossed" in told
    assert "change the two over in the wiring" in told
    assert "look crossed" not in CliRunner().invoke(main, [*words, str(WIRING)]).output
