"""The rig of kind ``modbus``: relay and input modules, over TCP or a serial line (RTU), by pymodbus.

Law of this module: it looks from time to time, and says so: what it sees are samples. How long a read or a write took
is how far its moment may be off; where that is more than the rig file says, the latency grows, and the judge is told.

::

    [modbus]
    host = "192.0.2.20"                # TCP; or
    serial = "/dev/ttyUSB0"            # RTU, with baud = 19200, parity = "none", stop_bits = 1 unless said
    port = 502
    unit = 1                           # of points that name none
    every = "20 ms"                    # how often it looks, at most
    answers_within = "0.3 s"
    watchdog = "2 s"                   # the module switches everything off after so long without a word, or "none"

    [drives]
    power = "coil 0"
    coil = { point = "holding register 4", scale = 0.1, offset = -50 }

    [sees]
    cc = "discrete input 0"
    fan = "discrete input 1 of unit 2"
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from boardgauge.language.problems import Problem, UnusableSpec, nearest_of
from boardgauge.rigs.modbus_points import TABLES, WRITTEN, address_of
from boardgauge.rigs.modbus_rig import ModbusRig, Places
from boardgauge.rigs.needed import needed
from boardgauge.rigs.points import Point
from boardgauge.rigs.rig import Rig, RigFacts, RigFailure, Value
from boardgauge.rigs.rig_file import RigFile
from boardgauge.rigs.rig_table import BAUD, Table, between, text, time

KEYS = ("host", "port", "serial", "baud", "parity", "stop_bits", "unit", "every", "answers_within", "watchdog")
PARITIES = {"none": "N", "even": "E", "odd": "O"}


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Give what connects and gives the rig. Raises UnusableSpec; what it gives raises RigFailure."""
    own = file.own
    own.only(KEYS)
    host, serial = own.take("host", "", text, '"192.0.2.20"'), own.take("serial", "", text, '"/dev/ttyUSB0"')
    if bool(host) == bool(serial):
        own.wrong(own.node.key_at, "host", "one of host and serial is needed", 'host = "192.0.2.20"')
    parity = own.take("parity", "none", text, "one of " + ", ".join(PARITIES))
    if parity not in PARITIES:
        own.wrong(own.values["parity"].at, "parity", f"{parity!r} is none", "one of " + ", ".join(PARITIES))
    unit = own.take("unit", 1, between(0, 247), "a whole number, 0 to 247")
    port = own.take("port", 502, between(1, 65_535), "a whole number, 1 to 65535")
    baud = own.take("baud", 19200, BAUD, "a whole number of bits a second")
    stop_bits = own.take("stop_bits", 1, between(1, 2), "1 or 2")
    within = own.take("answers_within", 300_000, time, '"0.3 s"')
    watchdog = own.need("watchdog", None, _watchdog, '"2 s", or "none" if the module stays as it is when we are gone')
    every = own.take("every", 20_000, time, '"20 ms"')
    drives = _addressed(own, file.points.drives, unit, "drives")
    for signal, (point, _) in drives.items():
        if point.measured and signal not in file.safe:
            message = f"{signal} is a sensor, and has no value that is off"
            own.problems.append(Problem(point.at, f"drives.{signal}", message, f"[safe] {signal} = ..."))
    sees = _addressed(own, file.points.sees, unit, "sees")
    if own.problems:
        raise UnusableSpec(own.problems)
    seconds = within / 1_000_000

    def connected() -> Any:
        client = needed("pymodbus.client", "pymodbus")
        if host:
            found = client.ModbusTcpClient(host, port=port, timeout=seconds, retries=1)
        else:
            found = client.ModbusSerialClient(
                serial, baudrate=baud, parity=PARITIES[parity], stopbits=stop_bits, timeout=seconds, retries=1
            )
        if not found.connect():
            raise RigFailure(f"{file.name}: nothing answers at {host or serial}")
        return found

    safe: dict[str, Value] = {signal: file.safe.get(signal, False) for signal in drives}
    facts = RigFacts(
        file.name,
        "modbus",
        safe,
        tuple(sees),
        file.latency,
        file.clock_error,
        sampled=True,
        safe_within=file.safe_within,
        watchdog=watchdog,
    )
    return lambda: ModbusRig(facts, connected, drives, sees, every)


def _watchdog(value: object) -> int | None:
    return None if value == "none" else time(value)


def _addressed(own: Table, points: Mapping[str, Point] | None, unit: int, verb: str) -> Places:
    if points is None:
        own.problems.append(Problem(own.node.key_at, verb, "the table is missing", f"[{verb}]"))
        return {}
    found: Places = {}
    for signal, point in points.items():
        table, path = Table(verb, own.node, {}, own.problems), signal
        address = address_of(point.name, unit)
        known = WRITTEN if verb == "drives" else TABLES
        if address is None or address.table not in known:
            near = nearest_of(point.name.rstrip(" 0123456789"), known)
            expected = f'"{known[0]} 0", or of {", ".join(known[1:])}'
            message = f"{point.name!r} is no point that can be {'written' if verb == 'drives' else 'read'}"
            table.wrong(point.at, path, message, expected, near)
        elif address.bit is point.measured:
            expected = "a register" if point.measured else "a coil or a discrete input"
            table.wrong(point.at, path, f"{signal} is {'a' if point.measured else 'no'} sensor", expected)
        else:
            found[signal] = (point, address)
    return found
