"""A small fixture that speaks the line protocol, for tests over real links: it sees its own relay K1 at D1.

    python bench_fixture.py LOG           on standard input and output
    python bench_fixture.py LOG PORT      on a serial port

Law of this module: it is written from ``docs/rigs.md`` and uses nothing of Boardgauge. What it drives is in its log.
"""

from __future__ import annotations

import os
import select
import sys
import time

WATCHDOG = 1.5
"""Seconds: longer than a busy machine keeps anybody from saying a word."""
LATE = 50_000
"""Microseconds from the relay to what is seen of it."""


class Fixture:
    """Two relays, one input that follows the first relay."""

    def __init__(self, log: str) -> None:
        self.log = open(log, "a", buffering=1)  # noqa: SIM115  # it lives as long as the program
        self.relays = {"K1": 0, "K2": 0}
        self.started: float | None = None
        self.fallen = False
        self.coming: list[tuple[int, int]] = []
        self.seen = 0

    def now(self) -> int:
        return 0 if self.started is None else int((time.monotonic() - self.started) * 1e6)

    def drive(self, name: str, level: int, now: int) -> None:
        if name == "K1" and level != self.relays[name]:
            self.coming.append((now + LATE, level))
        self.relays[name] = level
        self.log.write(f"{name}={level}\n")

    def safe(self) -> None:
        now = self.now()
        for name in self.relays:
            self.drive(name, 0, now)

    def answer(self, line: str) -> list[str]:
        words = line.split()
        if not words:
            return []
        if words[0] == "hello":
            return [
                "fixture two relays", "drives K1", "drives K2", "sees D1", "time real",
                f"watchdog {int(WATCHDOG * 1e6)}", "ok 1",
            ]  # fmt: skip
        if words[0] == "start":
            self.safe()
            self.started, self.fallen, self.coming, self.seen = time.monotonic(), False, [], 0
            return ["at 0 D1 0", "ok 0"]
        if words[0] in ("safe", "bye"):
            self.safe()
            return ["safe"]
        if self.fallen:
            return ["error watchdog nothing was heard"]
        if words[0] == "set":
            now = self.now()
            for pair in words[1:]:
                name, _, level = pair.partition("=")
                if name not in self.relays or level not in ("0", "1"):
                    return [f"error name {pair}"]
                self.drive(name, int(level), now)
            return [f"ok {now}"]
        if words[0] == "wait":
            now = self.now()
            due = [row for row in self.coming if row[0] <= now]
            self.coming = [row for row in self.coming if row[0] > now]
            return [*(f"at {at} D1 {level}" for at, level in due), f"ok {now}"]
        return [f"error line {words[0]}"]


def main() -> None:
    fixture = Fixture(sys.argv[1])
    try:
        serve(fixture)
    except OSError:
        # Nobody is there any more to read an answer: an end as good as that of the input.
        pass
    finally:
        fixture.safe()
        fixture.log.write("end\n")


def serve(fixture: Fixture) -> None:
    if len(sys.argv) > 2:
        source = sink = os.open(sys.argv[2], os.O_RDWR | os.O_NOCTTY)
    else:
        source, sink = 0, 1
    rest = b""
    while True:
        ready, _, _ = select.select([source], [], [], WATCHDOG)
        if not ready:
            if not fixture.fallen:
                fixture.fallen = True
                fixture.safe()
                fixture.log.write("silence\n")
            continue
        try:
            data = os.read(source, 4096)
        except OSError:
            data = b""
        if not data:
            return
        *lines, rest = (rest + data).split(b"\n")
        for line in lines:
            for row in fixture.answer(line.decode()):
                os.write(sink, row.encode() + b"\n")


if __name__ == "__main__":
    main()
