"""The fixture's end of the line protocol, for any rig.

Law of this module: whatever comes in is answered, and an end of input, an answer that nobody reads, an error or silence
beyond the watchdog's time makes the rig safe. ``Answering`` is pure: it reads no clock and no stream; ``serve`` is the
edge.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from fractions import Fraction

from attrs import define, field

from boardgauge.rigs.lines import LONGEST, VERSION, BadLine, number_text, pairs_of, shown, time_of
from boardgauge.rigs.pump import Pump
from boardgauge.rigs.rig import LONGEST_PULSE, Change, Rig, RigFailure, Value


@define
class Answering:
    """Answers the lines that come for a rig; ``ended`` after ``bye``, ``fallen`` after the watchdog came in."""

    rig: Rig
    ended: bool = False
    fallen: bool = False
    started: bool = False
    _settings: dict[str, str] = field(factory=dict)

    def answer(self, line: str) -> list[str]:
        """Give the lines that answer a line; none for an empty one."""
        words = line.split()
        if not words:
            return []
        try:
            if len(line) > LONGEST:
                raise BadLine(f"the line is longer than {LONGEST} characters")
            return list(self._answered(words, line))
        except BadLine as error:
            return [f"error line {error}"]
        except RigFailure as error:
            return [f"error rig {error}".replace("\n", " ")[:LONGEST]]

    def silence(self) -> None:
        """Make the rig safe, since nothing was heard for the watchdog's time."""
        if self.started and not self.fallen:
            self.fallen = True
            self.rig.safe()

    def _answered(self, words: list[str], line: str) -> Iterator[str]:
        match words:
            case ["hello", version]:
                if version != str(VERSION):
                    raise BadLine(f"version {shown(version)} is not known here; this is {VERSION}")
                yield from self._about()
                yield f"ok {VERSION}"
            case ["setting", name, _, *_]:
                self._settings[name] = line.split(maxsplit=2)[2].strip()
                yield "ok"
            case ["start"]:
                self.fallen, self.started = False, True
                report = self.rig.start(self._settings)
                self._settings = {}
                yield from map(_at, report.changes)
                yield f"ok {report.now}"
            case ["safe"]:
                self.rig.safe()
                yield "safe"
            case ["bye"]:
                self.rig.safe()
                self.ended = True
                yield "safe"
            case ["set" | "pulse" | "wait", *_] if not self.started:
                yield "error order start comes first"
            case ["set" | "pulse" | "wait", *_] if self.fallen:
                yield "error watchdog nothing was heard for too long, and everything was made safe"
            case ["set", *pairs] if pairs:
                yield f"ok {self.rig.set(self._values(pairs_of(pairs)))}"
            case ["pulse", length, *pairs] if pairs:
                lasts = time_of(length)
                if lasts > LONGEST_PULSE:
                    raise BadLine(f"a pulse lasts {LONGEST_PULSE} at most")
                levels, back = _there_and_back(pairs)
                begins, ends = self.rig.pulse(self._values(levels), self._values(back), lasts)
                yield f"ok {begins} {ends}"
            case ["wait", until]:
                report = self.rig.wait(time_of(until))
                yield from map(_at, report.changes)
                yield f"ok {report.now}"
            case _:
                raise BadLine(f"{shown(line)} is not known")

    def _about(self) -> Iterator[str]:
        facts = self.rig.facts
        yield f"fixture {facts.name}"
        for name, safe in facts.drives.items():
            yield f"drives {name} {number_text(safe)}"
        for name in facts.sees:
            yield f"sees {name}"
        yield f"time {'virtual' if facts.virtual else 'real'}"
        if facts.sampled:
            yield "sampled" if facts.least_pulse is None else f"sampled {facts.least_pulse}"
        if facts.watchdog is not None:
            yield f"watchdog {facts.watchdog}"
        if facts.chooses:
            yield "chooses"
        if facts.pulses:
            yield "pulses"

    def _values(self, pairs: dict[str, Fraction]) -> dict[str, Value]:
        drives = self.rig.facts.drives
        found: dict[str, Value] = {}
        for name, level in pairs.items():
            if name not in drives:
                raise BadLine(f"{name} is not driven here")
            if isinstance(drives[name], bool):
                if level not in (0, 1):
                    raise BadLine(f"{name} takes 0 or 1")
                found[name] = level == 1
            else:
                found[name] = level
        return found


def _there_and_back(words: list[str]) -> tuple[dict[str, Fraction], dict[str, Fraction]]:
    """Read ``NAME=LEVEL/BACK`` words."""
    there = pairs_of([word.partition("/")[0] for word in words])
    return there, pairs_of([f"{name}={word.partition('/')[2]}" for name, word in zip(there, words, strict=True)])


def _at(change: Change) -> str:
    return f"at {change.time} {change.signal} {number_text(change.value)}"


def serve(rig: Rig, source: int = 0, sink: int = 1) -> None:
    """Answer lines from one file descriptor on another until either ends; leave the rig safe and closed."""
    answering = Answering(rig)
    watchdog = rig.facts.watchdog
    pump, rest = Pump(source), b""
    with rig:
        while not answering.ended:
            data = pump.take(None if watchdog is None else watchdog / 1_000_000)
            if data is None:
                return
            if not data:
                answering.silence()
                continue
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                said = answering.answer(line.decode("utf-8", "replace").rstrip("\r"))
                try:
                    os.write(sink, "".join(f"{row}\n" for row in said).encode())
                except OSError:
                    # Nobody reads it any more: whoever asked was ended in the middle.
                    return
            rest = rest[-2 * LONGEST :]
