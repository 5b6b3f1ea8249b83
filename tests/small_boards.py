"""Small boards of random rules, what happens at their inputs, and how a recorder may take it: coarse, and begun late.

    python tests/small_boards.py --seconds 60 [--first SEED]

Law of this module: a seed says all of it. The boards in it do what their specs say, so none may ever be accused; run as
a program it counts how many were. Boards that contradict themselves are left out.
"""

from __future__ import annotations

import time
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Iterator
from random import Random

import numpy as np
from attrs import evolve, field, frozen, mutable

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from cut_recordings import cut

S = 1_000_000
SHORTEST_SUPPLY_GAP = 4 * S
"""Longer than the coarsest sampling: a gap of the supply between two samples is taken not to be there."""
HEAD = 'language = 1\n[board]\nid = "small"\ntitle = "A small board (invented)"\ntolerance = "exactly"\n'
GAPS = (None, 20_000, 100_000, 250_000, 400_000, 1_000_000, 2_000_000, 3_000_000)
FILTERS = ("", "", "", "0.05 s to 0.2 s", "0.3 s to 0.5 s", "1 s to 1.5 s")


@mutable
class Writer:
    """Writes the spec of one board."""

    chance: Random
    inputs: list[str] = field(factory=list)
    on_off: list[str] = field(factory=list)
    timed: list[str] = field(factory=list)
    reached: list[str] = field(factory=list)
    tables: list[str] = field(factory=list)

    def lasts(self) -> str:
        low = self.chance.choice([1, 2, 3, 5, 8]) * self.chance.choice([0.5, 1, 1, 1.3])
        width = self.chance.choice([0, 0, 0, 0.3, 1, 3])
        return f"{low:g} s to {low + width:g} s" if width else f"{low:g} s exactly"

    def event(self) -> str:
        name = self.chance.choice([*self.on_off, *self.inputs, *self.inputs])
        return f"{name} {self.chance.choice(['begins', 'ends', 'changes', *['expires'] * 2 * (name in self.timed)])}"

    def events(self) -> str:
        form = self.chance.random()
        if form < 0.15:
            return f"{self.event()} while {self.literal(self.inputs)}"
        found = dict.fromkeys(self.event() for _ in range(self.chance.choice([1, 1, 1, 2])))
        return " or ".join([*found, *["power_up"] * (form > 0.95)])

    def literal(self, names: list[str] | None = None) -> str:
        pool = names or [*self.inputs, *self.on_off, *(f"{name} reached" for name in self.reached)]
        return self.chance.choice(["", "", "not "]) + self.chance.choice(pool)

    def condition(self) -> str:
        joint = self.chance.choice([" and ", " or "])
        return joint.join(dict.fromkeys(self.literal() for _ in range(self.chance.choice([1, 1, 2]))))

    def trigger(self) -> str:
        form = self.chance.random()
        if form < 0.3:
            return self.condition()
        return f"({self.condition()}) for {self.lasts()}" if form < 0.45 else self.events()

    def add(self, header: str, **keys: object) -> None:
        rows = [f"{key} = {value}" if isinstance(value, int) else f'{key} = "{value}"' for key, value in keys.items()]
        self.tables.append("\n".join([f"[{header}]", *rows]))

    def some(self, **keys: str) -> dict[str, str]:
        """Give each of these keys or leave it out."""
        return {key: value for key, value in keys.items() if self.chance.random() < 0.5}

    def rule(self, name: str) -> None:
        kind = self.chance.choice(["delay"] * 3 + ["lockout", "count", "accumulator", "mode", "toggle", "sequence"])
        add, header = self.add, f"rules.{name}"
        match kind:
            case "delay":
                again = self.chance.choice(["starts over", "runs on"])
                cut_by = {"cut_by": self.literal(self.inputs)} if self.chance.random() < 0.2 else {}
                add(header, kind=kind, begins=self.events(), lasts=self.lasts(), if_begun_again=again, **cut_by)
                self.timed.append(name)
            case "lockout":
                rest = self.some(lasts=self.lasts()) or {"clears": self.trigger()}
                add(header, kind=kind, trips=self.trigger(), **rest)
            case "count":
                more = self.some(within=self.lasts(), forgets=self.trigger())
                add(header, kind=kind, counts=self.event(), limit=self.chance.choice([1, 2, 2, 3]), **more)
            case "accumulator":
                more = self.some(resets=self.trigger())
                add(header, kind=kind, adds_while=self.condition(), target=self.lasts(), **more)
            case "mode":
                more = self.some(at_least=self.lasts()) or self.some(at_most=self.lasts())
                add(header, kind=kind, begins=self.trigger(), ends=self.trigger(), **more)
            case "toggle":
                add(header, kind=kind, flips=self.event())
            case "sequence":
                steps = f'{{ name = "{name}_one", lasts = "{self.lasts()}" }}, '
                steps += f'{{ name = "{name}_two", until = "{self.condition()}" }}'
                add(header, kind=kind, begins=self.trigger(), ends=self.trigger())
                self.tables[-1] += f"\nsteps = [{steps}]"
                self.on_off.append(f"{name}_one")
        (self.reached if kind in {"count", "accumulator"} else self.on_off).append(name)

    def text(self) -> str:
        chance = self.chance
        filter_ = chance.choice(FILTERS)
        responds = max(chance.choice([0, 0, 0, 0.1, 0.5, 1]), float(filter_.split()[3]) if filter_ else 0)
        lines = [f'responds_within = "{responds} s"' if responds else "", f'filter = "{filter_}"' if filter_ else ""]
        lines += ['same_moment = "0.2 s"' if chance.random() < 0.2 else ""]
        lines += ['clock = "shared"' if chance.random() < 0.15 else ""]
        for name in "abc"[: chance.choice([1, 2, 2, 3])]:
            self.add(f"inputs.{name}", kind="call")
            self.inputs.append(name)
        for number in range(chance.choice([1, 1, 2, 2, 3])):
            self.rule(f"r{number}")
        for number in range(chance.choice([1, 1, 2])):
            lag = chance.choice([{}, {}, {"lag": "0.1 s"}, {"lag": "0.5 s"}])
            if chance.random() < 0.75:
                self.add(f"outputs.q{number}", on=self.condition(), **lag)
            else:
                self.add(f"outputs.q{number}", starts=self.condition(), stops=self.condition(), **lag)
            self.on_off.append(f"q{number}")
        return HEAD + "\n".join([*filter(None, lines), *self.tables]) + "\n"


@frozen
class Life:
    """A board, and a recording of all that one of it did."""

    text: str
    judge: Judge
    whole: Recording

    @property
    def board(self) -> Board:
        return self.judge.engine.machine.board


def life(seed: int) -> Life | None:
    """Give the board of a seed and what one did; None if that seed makes no board that does anything."""
    chance = Random(seed)
    for _ in range(40):
        text = Writer(chance).text()
        try:
            board = read_board_text(text, "small.toml")
            judge = Judge.of(board)
            happens = timeline(chance, judge)
            mode = chance.choice(["nominal", "earliest", "latest", "random", "random"])
            run = Simulator(judge.engine.machine, mode, seed, engine=judge.engine).run(happens)  # type: ignore[arg-type]
        except (UnusableSpec, CannotSettle):
            continue
        return Life(text, judge, recording_of(run, board))
    return None


def timeline(chance: Random, judge: Judge) -> Timeline:
    """Give what happens at the inputs: much of it soon after one another, or about as far apart as a timing is long."""
    machine = judge.engine.machine
    lengths = [c.nominal for t in machine.timings for c in t.choices if c.nominal < 60 * S] or [S]
    names, at = list(machine.board.inputs), chance.randint(1, S)
    level = {name: chance.random() < 0.4 for name in names}
    changes: dict[str, list[tuple[int, bool]]] = {"power": [(0, False), (at, True)]}
    changes |= {name: [(0, level[name])] for name in names}
    for _ in range(chance.randint(1, 12)):
        near = chance.choice(lengths) + chance.choice([0, 0, chance.randint(-300_000, 300_000), chance.randint(-S, S)])
        ways = [chance.randint(1, 200_000), chance.randint(1, 1_500_000), max(1, near), chance.randint(S, 8 * S)]
        at += chance.choice(ways)
        for name in chance.sample(names, min(len(names), chance.choice([1, 1, 1, 1, 1, 2]))):
            level[name] = not level[name]
            changes[name].append((at, level[name]))
        if chance.random() < 0.04:
            gone = at + 5 * S
            at = gone + chance.randint(SHORTEST_SUPPLY_GAP, 2 * SHORTEST_SUPPLY_GAP)
            changes["power"] += [(gone, False), (at, True)]
    return Timeline({name: tuple(row) for name, row in changes.items()}, at + chance.randint(S // 10, 20 * S))


def recordings(whole: Recording, chance: Random) -> Iterator[Recording]:
    """Give the recording as recorders may have taken it: from later on, coarsely, without its first input."""
    for _ in range(4):
        begin, gap = chance.randint(1, max(2, whole.end - 2 * S)), chance.choice(GAPS)
        taken = whole if chance.random() < 0.4 else cut(whole, begin)
        if gap is not None:
            rows = np.arange(taken.start + chance.choice([0, chance.randrange(gap)]), taken.end, gap, dtype=np.int64)
            if len(rows) < 3:
                continue
            taken = at_rows(taken, rows)
        if chance.random() < 0.15 and "b" in taken.channels:
            taken = evolve(taken, channels={name: c for name, c in taken.channels.items() if name != "a"})
        yield taken


def at_rows(recording: Recording, rows: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Recording:
    """Give the recording as a logger would have taken it at these times."""
    channels = {}
    for name, channel in recording.channels.items():
        values = channel.values[np.searchsorted(channel.times, rows, side="right") - 1]
        news = np.append(True, values[1:] != values[:-1])
        channels[name] = Channel(name, rows[news], values[news])
    return evolve(recording, start=int(rows[0]), end=int(rows[-1]), channels=channels, samples=rows)


def judged(found: Life, recording: Recording) -> Judgement:
    """Give the verdict on a recording of a life."""
    return found.judge.judge(condition(recording, default_wiring(found.board), found.board))


def main() -> None:
    """Judge recordings of board after board for a time, and tell of every one that is accused."""
    parser = ArgumentParser(description="Look for a board in order that is accused.")
    parser.add_argument("--seconds", type=float, default=60.0, help="how long to look")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    given = parser.parse_args()
    until, seed, counts = time.monotonic() + given.seconds, given.first, Counter[str]()
    while time.monotonic() < until:
        found = life(seed)
        for recording in () if found is None else recordings(found.whole, Random(seed)):
            assert found is not None
            judgement = judged(found, recording)
            counts[judgement.verdict] += 1
            if judgement.verdict == "deviates":
                print(f"seed {seed}: {judgement.deviations[0].observed}\n{found.text}")
        seed += 1
    print(f"seeds {given.first} to {seed - 1}: {sum(counts.values())} recordings, {dict(counts)}")


if __name__ == "__main__":
    main()
