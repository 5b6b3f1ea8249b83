"""A job and recordings for the tests of many: the library's tarnbeck and what the tests have of it."""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path

from boardgauge.command.finding import find_board, find_wiring, spec_path
from boardgauge.many.job import Item, Job

FOLDER = Path(__file__).resolve().parent / "recordings"
GOOD = FOLDER / "s01_powerup_restart__good.vcd"
OTHER = FOLDER / "s03_lp_trip__good.vcd"
SLOW_CLOCK = FOLDER / "s01_powerup_restart__slow7.vcd"
BYPASS = FOLDER / "s02_lp_bypass__f01_bypass_short.vcd"
TOO_SOON = FOLDER / "s01_powerup_restart__f17_restart_short.csv.gz"
PACKED = FOLDER / "s01_powerup_restart__good.csv.gz"


def a_job(**more: object) -> Job:
    """Give a job of the tarnbeck board and its own wiring."""
    board = find_board("tarnbeck")
    return Job("tarnbeck", board, find_wiring(None, board, spec_path("tarnbeck")), **more)  # type: ignore[arg-type]


def items_of(files: Iterable[str | Path], first: int = 0) -> list[Item]:
    """Give the items of files, numbered from ``first``."""
    return [Item(number, (str(file),)) for number, file in enumerate(files, first)]


class Deadly(Item):
    """A recording that ends every process but this one that takes it up."""

    __slots__ = ()

    def __reduce__(self) -> object:
        return _deadly, (os.getpid(), self.number, self.parts)


def _deadly(spared: int, number: int, parts: tuple[str, ...]) -> Item:
    if os.getpid() != spared:
        os._exit(7)
    return Deadly(number, parts)


class Stuck:
    """A recording that is never done: whoever judges it writes its process into the file ``name`` and waits."""

    def __init__(self, number: int, parts: tuple[str, ...]) -> None:
        self.number = number
        self.name = parts[0]

    @property
    def parts(self) -> tuple[str, ...]:
        """What is read of an item to judge it; here reading does not end."""
        marker = Path(self.name)
        marker.with_suffix(".new").write_text(str(os.getpid()))
        marker.with_suffix(".new").rename(marker)
        while True:
            time.sleep(1)


def who_judges(marker: Path) -> int:
    """Wait until a stuck recording is being judged; give the process that does."""
    while not marker.exists():
        time.sleep(0.02)
    return int(marker.read_text())


def stick() -> None:
    """Have the command judge files called stuck as recordings that are never done."""
    from boardgauge.command import judging

    def item(number: int, parts: tuple[str, ...]) -> object:
        return (Stuck if Path(parts[0]).name.startswith("stuck") else Item)(number, parts)

    judging.Item = item  # type: ignore[assignment,misc]
