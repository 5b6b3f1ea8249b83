"""A long life of the library's heat-pump board, as a recording with as many edges as asked for.

Law of this module: what is recorded is what a simulated board did within its ranges. Some spells of hours, each from
one switching-on to the next, are simulated; the life is these spells one after another, over and over, with their times
moved. Seeded: the same number of edges is the same recording.

In a spell calls come and go, the coil frosts and is defrosted, its comparators chatter, lines catch short glitches
(most of them below the input filter), pressure switches open, lockouts wait for somebody to switch off and on.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import numpy as np
from attrs import define, field

from boardgauge.boards import board_path, wiring_path
from boardgauge.language import read_board
from boardgauge.language.expression_reader import read_trigger
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Value
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, SetInputs, Until, Wait, play
from boardgauge.traces import Recording, read_wiring
from boardgauge.traces.recording import Channel, channel_of
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.wiring import Wiring

S, MS = 1_000_000, 1_000
SPELLS = 6
OFF_BETWEEN = 5 * S


def heat_pump() -> tuple[Board, Wiring]:
    """Give the board that is judged, and its wiring."""
    return read_board(board_path("tarnbeck")), read_wiring(wiring_path("tarnbeck"))


@define
class _Script:
    """Writes the steps of one spell."""

    random: Random
    steps: list[ScenarioStep] = field(factory=list)

    def set(self, **values: Value) -> None:
        self.steps.append(SetInputs(values))

    def wait(self, seconds: float) -> None:
        self.steps.append(Wait(round(seconds * S)))

    def until(self, text: str, at_most: float) -> None:
        # Nothing may be changed back right after it: the board may only just have acted.
        self.steps.append(Until(read_trigger(text), text, round(at_most * S), "go on"))
        self.wait(1)

    def chatter(self, name: str, level: bool, seconds: float, every: float) -> None:
        """Let a line flicker off its level and back, mostly too short to be seen."""
        left = seconds
        while left > 0.5:
            gap = self.random.uniform(0.2, 2 * every)
            short = self.random.random() < 0.95
            pulse = self.random.uniform(0.002, 0.035) if short else self.random.uniform(0.045, 0.145)
            self.wait(gap)
            self.set(**{name: not level})
            self.wait(pulse)
            self.set(**{name: level})
            left -= gap + pulse
        self.wait(1)

    def quiet(self, seconds: float, **levels: bool) -> None:
        """Let time go by, with a glitch now and then on one of some lines."""
        left = seconds
        while left > 20:
            part = self.random.uniform(10, 20)
            self.chatter(*self.random.choice(list(levels.items())), 1, 1)
            self.wait(part)
            left -= part + 2
        self.wait(max(1.0, left))

    def power_up(self) -> None:
        self.set(lps=True, hps=True, y=False, o=False, cold=False, warm=False, j0=True, j1=True)
        self.steps.append(Power(True))
        self.wait(self.random.uniform(5, 40))

    def power_off(self) -> None:
        self.set(lps=True, hps=True, y=False, o=False, cold=False, warm=False)
        self.wait(2)
        self.steps.append(Power(False))
        self.wait(OFF_BETWEEN / S)

    def heating(self) -> None:
        """A call for heat on a coil that frosts."""
        self.set(y=True)
        self.until("cc begins", 60)
        self.chatter("cold", False, self.random.uniform(20, 80), 0.4)
        self.set(cold=True)
        self.chatter("cold", True, self.random.uniform(20, 90), 0.4)
        self.quiet(self.random.uniform(5, 60), lps=True, hps=True, cold=True)
        if self.random.random() < 0.5:
            self.until("defrost begins", 250)
            self.wait(self.random.uniform(10, 60))
            if self.random.random() < 0.7:
                self.set(cold=False)
                self.chatter("warm", False, 15, 0.5)
                self.set(warm=True)
            self.until("defrost ends", 120)
            self.set(warm=False, cold=False)
        self.wait(self.random.uniform(3, 30))
        self.set(y=False, cold=False, warm=False)

    def cooling(self) -> None:
        self.set(o=True)
        self.wait(self.random.uniform(0, 10))
        self.set(y=True)
        self.quiet(self.random.uniform(40, 200), lps=True, hps=True, o=True)
        self.set(y=False)
        self.wait(self.random.uniform(2, 10))
        self.set(o=False)

    def high_pressure(self, trips: int) -> None:
        """A call in which the high-pressure switch opens; the third time locks the board out."""
        self.set(y=True)
        for _ in range(trips):
            self.until("cc begins", 60)
            self.quiet(self.random.uniform(5, 90), lps=True, y=True)
            self.set(hps=False)
            self.wait(self.random.uniform(4, 60))
            self.chatter("hps", False, 2, 0.5)
            self.set(hps=True)
        self.quiet(self.random.uniform(40, 120), lps=True, y=True)
        self.set(y=False)

    def low_pressure(self) -> None:
        self.set(y=True)
        self.until("cc begins", 60)
        self.quiet(self.random.uniform(30, 90), hps=True, y=True)
        self.set(lps=False)
        self.wait(self.random.uniform(3, 10))
        self.set(lps=True)
        self.quiet(self.random.uniform(100, 400), lps=True, hps=True)
        self.set(y=False)
        self.wait(5)

    def idle(self) -> None:
        """Between calls: often shorter than the restart delay, so that the next call has to wait."""
        short = self.random.random() < 0.9
        self.wait(self.random.uniform(2, 6) if short else self.random.uniform(50, 300))


def _script(seed: int) -> tuple[ScenarioStep, ...]:
    script = _Script(Random(seed))
    script.wait(2)
    script.power_up()
    for _ in range(script.random.randint(30, 40)):
        what = script.random.random()
        if what < 0.62:
            script.heating()
        elif what < 0.80:
            script.cooling()
        elif what < 0.94:
            script.high_pressure(script.random.choice((1, 1, 2)))
        else:
            script.low_pressure() if what < 0.97 else script.high_pressure(3)
            script.power_off()
            script.power_up()
        script.idle()
    script.power_off()
    return tuple(script.steps)


def _spells(board: Board, wiring: Wiring) -> Iterator[Recording]:
    machine = compile_board(board)
    for seed in range(SPELLS):
        scenario = Scenario(board.id, "a spell of its life", _script(seed))
        yield recording_of(play(machine, scenario, "random", seed), board, wiring)


def life(board: Board, wiring: Wiring, *edges: int) -> list[Recording]:
    """Give a recording with each of these numbers of edges (changes of all channels together)."""
    spells: list[Recording] = []
    fresh = _spells(board, wiring)
    found = []
    for number in sorted(edges):
        pieces: dict[str, list[tuple[np.ndarray, np.ndarray]]] = {}
        count, since, turn = 0, 0, 0
        while count < number:
            if turn >= len(spells) and turn < SPELLS:
                spells.append(next(fresh))
            spell = spells[turn % SPELLS]
            for name, channel in spell.channels.items():
                pieces.setdefault(name, []).append((channel.times + since, channel.values))
            count += sum(len(c.times) - 1 for c in spell.channels.values())
            since += spell.end
            turn += 1
        found.append(_cut(_joined(pieces), number, since))
    return [found[sorted(edges).index(number)] for number in edges]


def _joined(pieces: dict[str, list[tuple[np.ndarray, np.ndarray]]]) -> dict[str, Channel]:
    return {
        name: channel_of(name, np.concatenate([t for t, _ in rows]), np.concatenate([v for _, v in rows]))
        for name, rows in pieces.items()
    }


def _cut(channels: dict[str, Channel], edges: int, end: int) -> Recording:
    times = np.sort(np.concatenate([c.times[1:] for c in channels.values()]))
    if len(times) > edges:
        end = int(times[edges]) - 1
    kept = {name: Channel(name, c.times[c.times <= end], c.values[c.times <= end]) for name, c in channels.items()}
    return Recording("a life of the board", "VCD", 0, end, kept)
