"""A person at a terminal as a rig: prompts, what is typed, and how far it can be trusted."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bench_plans import TARNBECK
from boardgauge.boards import board_path
from boardgauge.language import Board, read_board
from boardgauge.rigs.kinds import open_rig
from boardgauge.rigs.links import Link
from boardgauge.rigs.person_kind import PersonRig
from boardgauge.rigs.rig import Change, RigFailure
from boardgauge.rigs.rig_file import rig_file_from

S = 1_000_000
TEXT = """language = 1
[rig]
kind = "person"
name = "by hand"
[person]
reaction = "2 s"
[drives]
power = "the supply"
y = "clip lead Y"
hps = "hps"
[sees]
cc = "contactor"
fan = "fan"
"""


class Typed(Link):
    """A terminal at which lines are typed at their moments; its clock goes on with each look."""

    def __init__(self, typed: list[tuple[int, str]], step: int = 500_000) -> None:
        self.typed, self.now, self.step = typed, 0, step
        self.shown: list[str] = []

    def wall(self) -> int:
        return self.now

    def send(self, line: str) -> None:
        self.shown.append(line)

    def receive(self, within: float) -> bytes:
        raise AssertionError

    def line(self, within: float) -> str | None:
        end = self.now + min(int(within * 1e6), self.step)
        if self.typed and self.typed[0][0] <= end:
            self.now, line = max(self.now, self.typed[0][0]), self.typed.pop(0)[1]
            return line
        self.now = end
        return None

    def close(self) -> None:
        pass


def rig_at(typed: list[tuple[int, str]], text: str = TEXT, board: Board = TARNBECK) -> tuple[PersonRig, Typed]:
    rig = open_rig(rig_file_from(text, "rig.toml", board))
    assert isinstance(rig, PersonRig)
    terminal = Typed(typed)
    rig.terminal, rig.wall = terminal, terminal.wall
    return rig, terminal


def test_the_reaction_time_is_how_far_every_moment_may_be_off() -> None:
    """It reaches the judge as the latency of the rig."""
    rig, _ = rig_at([])
    assert rig.facts.latency == 2 * S
    assert rig.facts.watchdog is None


def test_what_is_to_be_set_is_said_in_the_boards_words_and_confirmed() -> None:
    """A switch is open or closed, a call on or off; the moment is that of the Enter key."""
    rig, terminal = rig_at([(1 * S, ""), (5 * S, "")])
    rig.start()
    assert terminal.shown[0] == "SAFE  power (the supply) off, y (clip lead Y) off, hps open, then press Enter"
    assert rig.set({"y": True, "hps": True}) == 4 * S
    assert terminal.shown[-1] == "SET  y (clip lead Y) on, hps closed, then press Enter"


def test_what_is_typed_is_a_change_at_its_moment() -> None:
    """Each is reported once; what a person types while setting is not lost."""
    rig, _ = rig_at([(0, ""), (3 * S, "cc on"), (4 * S, ""), (6 * S, "fan +")])
    rig.start()
    rig.set({"power": True})
    assert rig.wait(10 * S).changes == (Change(3 * S, "cc", True),)
    found = []
    while (report := rig.wait(10 * S)).now < 10 * S:
        found += report.changes
    assert found == [Change(6 * S, "fan", True)]


def test_what_cannot_be_taken_is_told_at_once_and_changes_nothing() -> None:
    """A name that is none, a word that is none, and what was so already."""
    rig, terminal = rig_at([(0, ""), (1 * S, "fam on"), (2 * S, "fan up"), (3 * S, "fan off"), (4 * S, "fan on")])
    rig.start()
    found = []
    while (report := rig.wait(6 * S)).now < 6 * S:
        found += report.changes
    assert found == [Change(4 * S, "fan", True)]
    told = [line for line in terminal.shown if line.startswith("not taken")]
    assert "did you mean fan" in told[0]
    assert "type fan on or fan off" in told[1]
    assert "was off already" in told[2]


def test_safe_is_asked_for_once_and_a_silence_is_a_failure() -> None:
    """Confirmed, it is not asked for again; without an answer the failure says so."""
    rig, terminal = rig_at([(0, ""), (1 * S, ""), (2 * S, "")])
    rig.safe()
    assert terminal.shown == [], "nothing was driven yet"
    rig.start()
    rig.safe()
    assert sum(line.startswith("SAFE") for line in terminal.shown) == 1
    rig.set({"y": True})
    rig.safe()
    assert sum(line.startswith("SAFE") for line in terminal.shown) == 2
    silent, _ = rig_at([])
    with pytest.raises(RigFailure, match="nobody confirmed within 60 s"):
        silent.start()


def test_a_sensor_is_said_with_its_number() -> None:
    """The number is in the unit of the input; without a safe value it cannot be driven."""
    board = read_board(board_path("tarnbeck-thermistor"))
    sensor = next(row.id for row in board.inputs.values() if row.kind.value == "sensor")
    text = TEXT.replace("[drives]", f'[drives]\n{sensor} = "decade box"')
    safe = text.replace("[person]", f'[safe]\n{sensor} = "20 °C"\n[person]')
    rig, terminal = rig_at([(0, ""), (0, "")], safe, board)
    rig.start()
    rig.set({sensor: Fraction(-25, 2)})
    assert terminal.shown[-1] == f"SET  {sensor} (decade box) to -12.5, then press Enter"


def test_a_sensor_is_said_as_its_point_takes_it() -> None:
    """With a scale and an offset the number is that of what the person turns."""
    board = read_board(board_path("tarnbeck-thermistor"))
    sensor = next(row.id for row in board.inputs.values() if row.kind.value == "sensor")
    point = f'{sensor} = {{ point = "dial", scale = 0.5, offset = -50 }}'
    text = TEXT.replace("[drives]", f"[drives]\n{point}").replace("[person]", f'[safe]\n{sensor} = "20 °C"\n[person]')
    rig, terminal = rig_at([(0, "")], text, board)
    rig.start()
    assert f"{sensor} (dial) to 140" in terminal.shown[0]


def test_of_a_normally_closed_contact_a_person_types_how_the_contact_stands() -> None:
    """Without the supply it is on, and its coil off; when the coil comes on, it goes off."""
    board = read_board(board_path("compressor-guard"))
    text = 'language = 1\n[rig]\nkind = "person"\nname = "by hand"\n[person]\nreaction = "2 s"\n'
    text += '[drives]\npower = "supply"\n[sees]\nfault = "fault contact"\n'
    rig, terminal = rig_at([(0, ""), (1 * S, "fault on"), (2 * S, "fault off"), (4 * S, "fault on")], text, board)
    assert rig.start().changes == (Change(0, "fault", False),)
    found = []
    while (report := rig.wait(6 * S)).now < 6 * S:
        found += report.changes
    assert found == [Change(2 * S, "fault", True), Change(4 * S, "fault", False)]
    assert terminal.shown[-1] == "not taken: fault was on already"
