"""The firmware of the extract fan, whatever is done to it."""

import os
from pathlib import Path

from boardgauge.boards import board_path
from boardgauge.hypothesis import firmware_machine
from boardgauge.language import read_board
from boardgauge.rigs.library import open_library

BOARD = read_board(board_path("extract-fan"))
FIRMWARE = Path(__file__).parent / "build" / os.environ.get("FAN", "fan.so")

FanMachine = firmware_machine(BOARD, lambda: open_library(BOARD, FIRMWARE, name=FIRMWARE.name))
TestAnyUse = FanMachine.TestCase
