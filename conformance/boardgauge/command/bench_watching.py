"""What a person at the bench sees while a plan runs, and is asked.

Law of this module: everything goes to standard error. On a terminal one line says how far it is and is wiped out again;
elsewhere only sittings and deviations are told. Nothing is asked that ``yes`` has answered.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping

from attrs import define, field

from boardgauge.judging.judgement import Deviation
from boardgauge.language.model import Board
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.plans.plan import Measure, Observe, Plan, PlanStep, Set, Sitting, Wait, WaitFor
from boardgauge.rigs.rig import RigFailure, Value

EVERY = 0.2
"""Seconds between two lines."""
WIDTH = 78
STEADY, RECENT = 3_000_000, 8_000_000
"""Microseconds: a lamp that stands so long does not flash; a group that ended longer ago is not told of."""


@define
class Watching:
    """Tells a person, and asks."""

    board: Board
    plan: Plan
    yes: bool = False
    shown: bool = field(factory=lambda: sys.stderr.isatty())
    asks: Callable[[str], str | None] = field(default=lambda text: _asked(text))
    deviations: int = 0
    _sitting: str = ""
    _step: str = ""
    _left: int = 0
    _begun: int = 0
    _now: int = 0
    _last: float = 0.0
    _width: int = 0
    _lamps: dict[str, _Lamp] = field(factory=dict)

    def begins(self, sitting: Sitting, number: int, step: PlanStep) -> None:
        """Take note of a step."""
        if sitting.id != self._sitting:
            self._sitting = sitting.id
            self._lamps = {name: _Lamp() for name in self.board.lamps}
            order = [row.id for row in self.plan.sittings].index(sitting.id) + 1
            self.say(f"sitting {order} of {len(self.plan.sittings)}: {sitting.id}, {len(sitting.steps)} steps")
        self._begun = self._now
        self._left = _left(self.plan, sitting, number)
        self._step = f"step {number + 1} of {len(sitting.steps)}: {in_words(step)}"
        self._show(True)

    def goes_on(self, now: int, levels: Mapping[str, Value]) -> None:
        """Show how far it is."""
        self._now = now if now >= self._begun else self._now
        if now < self._begun:
            self._begun = self._now = now
        for name, lamp in self._lamps.items():
            if name in levels:
                lamp.take(now, bool(levels[name]))
        self._show(False)

    def deviates(self, deviation: Deviation) -> None:
        """Tell of a deviation at once."""
        self.deviations += 1
        clause = f", clause {deviation.clause}" if deviation.clause else ""
        moment = deviation.time / 1_000_000
        self.say(f"deviates at {moment:.3f} s of {self._sitting}: {deviation.signal}: {deviation.rule}{clause}")
        self.say(f"  seen      {deviation.observed}")
        self.say(f"  expected  {deviation.expected}")

    def agrees(self, sitting: Sitting, settings: Mapping[str, str], cautions: tuple[str, ...]) -> bool:
        """Ask before a sitting, while the supply is off."""
        if settings:
            self.say(f"before {sitting.id}, with the supply off, set on the board:")
            for name, position in settings.items():
                self.say(f"  {name}: {position}")
        for caution in cautions:
            self.say(f"caution: {caution}")
        return self.agreed(f"Begin {sitting.id}?")

    def agreed(self, question: str) -> bool:
        """Ask a question that takes yes or no; no answer is no."""
        if self.yes:
            return True
        self.wipe()
        answer = self.asks(f"{question} [y/N]")
        if answer is None:
            self.say("nobody is there to answer; --yes says that cautions were read and settings are as they should be")
            return False
        return answer.strip().lower() in ("y", "yes")

    def say(self, message: str) -> None:
        """Print a line of its own."""
        self.wipe()
        say(message)

    def wipe(self) -> None:
        """Take the line away, before something else is printed."""
        if self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            sys.stderr.flush()
            self._width = 0

    def _show(self, at_once: bool) -> None:
        now = time.monotonic()
        if not self.shown or (not at_once and now - self._last < EVERY):
            return
        self._last = now
        left = max(0, self._left - (self._now - self._begun))
        told = [self._step, f"{_rounded(left)} left"]
        told += [f"{name} {lamp.words(self._now)}" for name, lamp in self._lamps.items() if lamp.known]
        if self.deviations:
            told.append(f"{self.deviations} deviation{'' if self.deviations == 1 else 's'}")
        line = "; ".join(told)
        line = line if len(line) <= WIDTH else line[: WIDTH - 1] + "…"
        sys.stderr.write("\r" + line.ljust(self._width))
        sys.stderr.flush()
        self._width = max(self._width, len(line))


@define
class _Lamp:
    """A lamp as a person follows it: lit, dark, or flashing, and how many flashes the last group had."""

    known: bool = False
    lit: bool = False
    since: int = 0
    flashes: int = 0
    groups: tuple[int, int] = (0, 0)
    _group_at: int = 0
    _lit_for: int = 0

    def take(self, now: int, lit: bool) -> None:
        """Take in how it stands."""
        if self.known and lit == self.lit:
            return
        lasted = now - self.since
        if lit:
            # A dark part much longer than the lit one before it is between two groups.
            if lasted > 2 * max(self._lit_for, 1):
                self.groups, self.flashes, self._group_at = (self.groups[1], self.flashes), 0, now
            self.flashes += 1
        else:
            self._lit_for = lasted
        self.known, self.lit, self.since = True, lit, now

    def words(self, now: int) -> str:
        """Say what it shows; of groups the number only where the last two had the same."""
        if now - self.since > STEADY:
            return "lit" if self.lit else "dark"
        before, last = self.groups
        if last > 1 and before == last and now - self._group_at < RECENT:
            return f"flashing in groups of {last}"
        return "flashing"


def in_words(step: PlanStep) -> str:
    """Say what a step does."""
    match step:
        case Set(inputs=inputs, power=power):
            said = [f"{name} {_value(value)}" for name, value in inputs.items()]
            said += [] if power is None else [f"power {'on' if power else 'off'}"]
            return "set " + ", ".join(said)
        case Wait(time=lasts):
            return f"wait {write_plain_time(lasts)}"
        case WaitFor():
            level = "on" if step.level else "off"
            return f"wait for {step.signal} {level}, at most {write_plain_time(step.at_most)}"
        case Observe(outputs=outputs, lamps=lamps, held=held):
            looked = [*outputs, *lamps]
            return f"look at {', '.join(looked)} for {write_plain_time(held)}"
        case Measure(what=what):
            return f"measure {what}"


def _value(value: Value) -> str:
    return ("on" if value else "off") if isinstance(value, bool) else f"{float(value):g}"


def _left(plan: Plan, sitting: Sitting, number: int) -> int:
    """Give how long a plan still takes from a step on, as a board at nominal times would."""
    left = sum(map(_expected, sitting.steps[number:]))
    order = [row.id for row in plan.sittings].index(sitting.id)
    return left + sum(_expected(step) for row in plan.sittings[order + 1 :] for step in row.steps)


def _expected(step: PlanStep) -> int:
    match step:
        case Wait(time=lasts):
            return lasts
        case Observe(held=held):
            return held
        case WaitFor(earliest=earliest, latest=latest, at_most=at_most):
            return min((earliest + latest) // 2, at_most)
    return 0


def _rounded(left: int) -> str:
    seconds = -(-left // 1_000_000)
    return f"{seconds} s" if seconds < 100 else f"{-(-seconds // 60)} min"


def _asked(text: str) -> str | None:
    """Ask on the terminal; None where nobody is there."""
    if not sys.stdin.isatty():
        return None
    from boardgauge.rigs.person_kind import TERMINAL

    TERMINAL.send(text)
    try:
        while (line := TERMINAL.line(1.0)) is None:
            pass
    except RigFailure:
        return None
    return line


def say(message: str) -> None:
    """Print a line for the person at the bench."""
    print(message, file=sys.stderr, flush=True)


def caution_lines(title: str, items: tuple[str, ...]) -> Iterator[str]:
    """Give cautions as lines."""
    yield f"{title}:"
    for item in items:
        yield f"  - {item}"
