"""Relay and input modules on Modbus as a rig.

Law of this module: what goes off goes first; what was read was read at some moment of the time that it took, and the
latency is never less than that.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from attrs import define, evolve, field

from boardgauge.rigs.modbus_points import Address, reads
from boardgauge.rigs.needed import needed
from boardgauge.rigs.points import Point
from boardgauge.rigs.rig import POWER, Change, Report, Rig, RigFacts, RigFailure, Value

Places = dict[str, tuple[Point, Address]]
LONGEST = 100_000
"""Microseconds: no wait takes longer."""


def _wall() -> int:
    return time.monotonic_ns() // 1000


@define(eq=False)
class ModbusRig(Rig):
    """Modules behind one client, which ``connect`` makes."""

    _facts: RigFacts
    connect: Callable[[], Any]
    drives: Places
    sees: Places
    every: int
    wall: Callable[[], int] = _wall
    _client: Any = None
    _since: int = 0
    _polled: int = -1
    _levels: dict[str, Value] = field(factory=dict)
    _driven: dict[str, Value] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._client = self.connect()

    @property
    def facts(self) -> RigFacts:
        return self._facts

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        self.safe()
        self._levels, self._polled = {}, -1
        self._since = self.wall()
        return self._poll()

    def set(self, levels: Mapping[str, Value]) -> int:
        unknown = [name for name in levels if name not in self.drives]
        if unknown:
            raise RigFailure(f"{self.facts.name} does not drive {', '.join(unknown)}")
        began = self.wall()
        # What goes off first: nothing is on together that was not meant to be.
        for name in sorted(levels, key=lambda name: levels[name] is not False):
            self._write(name, levels[name])
        return self._moment(began)

    def wait(self, until: int) -> Report:
        now = self.wall() - self._since
        soon = min(max(until, now), now + LONGEST, max(self._polled + self.every, now))
        if soon > now:
            time.sleep((soon - now) / 1_000_000)
        return self._poll()

    def _poll(self) -> Report:
        began = self.wall()
        found: dict[Address, int] = {}
        for first, count in reads(address for _, address in self.sees.values()):
            for offset, value in enumerate(self._read(first, count)):
                found[evolve(first, number=first.number + offset)] = value
        self._polled = max(self._moment(began), self._polled + 1)
        changes = []
        for signal, (point, address) in self.sees.items():
            level = point.value(Fraction(found[address]))
            if self._levels.get(signal) != level:
                self._levels[signal] = level
                changes.append(Change(self._polled, signal, level))
        return Report(self._polled, tuple(changes))

    def _moment(self, began: int) -> int:
        """Give the moment now; what was done happened at some time since ``began``."""
        now = self.wall()
        if now - began > self._facts.latency:
            self._facts = evolve(self._facts, latency=now - began)
        return now - self._since

    def safe(self) -> None:
        deadline = self.wall() + self.facts.safe_within
        left = sorted(self.drives, key=lambda name: name != POWER)
        why = "it was not reached in time"
        while left and self.wall() < deadline:
            try:
                self._write(left[0], self.facts.drives[left[0]])
                left = left[1:]
            except RigFailure as error:
                why = str(error)
                with contextlib.suppress(RigFailure):
                    self.close()
                    self._client = self.connect()
        if left:
            silence = self.facts.watchdog
            itself = (
                "" if silence is None else f"; it switches off by itself {silence / 1_000_000:g} s after our last word"
            )
            raise RigFailure(
                f"{self.facts.name}: {', '.join(left)} could not be made safe ({why}){itself}; "
                "check it, or switch the supply off by hand"
            )

    def close(self) -> None:
        if self._client is not None:
            self._client.close()

    # -- the line ------------------------------------------------------------------------------------------------

    def _write(self, name: str, value: Value) -> None:
        point, address = self.drives[name]
        level = point.level(value)
        if address.bit:
            self._ask(lambda: self._client.write_coil(address.number, bool(level), device_id=address.unit), name)
            return
        register = round(level)
        if not 0 <= register <= 65_535:
            raise RigFailure(f"{self.facts.name}: {name} would take {register} in a register, which holds 0 to 65535")
        self._ask(lambda: self._client.write_register(address.number, register, device_id=address.unit), name)

    def _read(self, first: Address, count: int) -> list[int]:
        call = {
            "coil": self._client.read_coils,
            "discrete input": self._client.read_discrete_inputs,
            "holding register": self._client.read_holding_registers,
            "input register": self._client.read_input_registers,
        }[first.table]
        what = f"{first.table} {first.number} of unit {first.unit}"
        answer = self._ask(lambda: call(first.number, count=count, device_id=first.unit), what)
        values = answer.bits if first.bit else answer.registers
        if len(values) < count:
            raise RigFailure(f"{self.facts.name}: {what}: {len(values)} values came, and not {count}")
        return [int(value) for value in values[:count]]

    def _ask(self, call: Callable[[], Any], what: str) -> Any:
        error = needed("pymodbus.exceptions", "pymodbus").ModbusException
        try:
            answer = call()
        except (error, OSError) as failure:
            raise RigFailure(f"{self.facts.name}: {what}: no answer ({failure})") from None
        if answer.isError():
            raise RigFailure(f"{self.facts.name}: {what}: refused ({answer})")
        return answer
