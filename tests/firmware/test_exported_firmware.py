"""Firmware that is a board's own export, filters and all: the judge finds nothing, whatever is done to it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.firmware import FirmwareBench
from boardgauge.hypothesis import scenarios
from boardgauge.language import read_board
from boardgauge.rigs.library import open_library
from exports.compiled_boards import needs_compiler
from firmware.firmware_builds import exported

pytestmark = needs_compiler
BOARDS = ("extract-fan", "hearthgate", "quillmere", "sump-pumps", "tarnbeck", "tarnbeck-thermistor")


@pytest.fixture(scope="module")
def benches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, FirmwareBench]]:
    found = {}
    for name in BOARDS:
        board = read_board(board_path(name))
        found[name] = FirmwareBench(board, open_library(board, exported(board, tmp_path_factory.mktemp(name))))
    yield found
    for bench in found.values():
        bench.rig.close()


@pytest.mark.parametrize("name", BOARDS)
@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_an_exported_board_never_deviates(name: str, benches: dict[str, FirmwareBench], data: st.DataObject) -> None:
    """Changes, waits at the ends of times, pulses about as long as a filter, the supply lost: nothing is found."""
    bench = benches[name]
    bench.play(data.draw(scenarios(bench.board, max_steps=12)))
    bench.check(undecided=True)
