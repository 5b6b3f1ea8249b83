"""Relay and input modules on Modbus, against pymodbus's own server, over TCP and over a serial line."""

from __future__ import annotations

import asyncio
import os
import socket
import sys
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_plans import TARNBECK
from boardgauge.boards import board_path
from boardgauge.language import read_board
from boardgauge.rigs.kinds import open_rig
from boardgauge.rigs.modbus_points import MOST_ADDRESS, TABLES, Address, address_of, reads
from boardgauge.rigs.modbus_rig import ModbusRig
from boardgauge.rigs.points import Point
from boardgauge.rigs.rig import Change, Report, Rig, RigFacts, RigFailure
from boardgauge.rigs.rig_file import rig_file_from

THERMISTOR = read_board(board_path("tarnbeck-thermistor"))
SENSOR = next(row.id for row in THERMISTOR.inputs.values() if row.kind.value == "sensor")
POINTS = f"""
[safe]
{SENSOR} = "20 °C"
[drives]
power = "coil 0"
y = "coil 3"
{SENSOR} = {{ point = "holding register 4", scale = 0.1, offset = -50 }}
[sees]
cc = "discrete input 0"
fan = {{ point = "discrete input 9", inverted = true }}
"""


READ_INPUTS, WRITE_COIL, WRITE_REGISTER = 2, 5, 6
"""Function codes of the Modbus Application Protocol Specification V1.1b3, section 5.1."""


class Device:
    """What was written to the module."""

    def __init__(self) -> None:
        self.coils: dict[int, bool] = {}
        self.registers: dict[int, int] = {}

    async def act(
        self, function: int, start: int, address: int, count: int, current: list[int], values: list[int] | None
    ) -> None:
        if function == READ_INPUTS:
            # Discrete input 0 follows coil 0.
            current[0] = int(self.coils.get(0, False))
        if function == WRITE_COIL and values is not None:
            self.coils[address] = bool(values[0])
        if function == WRITE_REGISTER and values is not None:
            self.registers[address] = int(values[0])


@contextmanager
def module(serve: Callable[[Any], Any]) -> Iterator[Device]:
    """Run pymodbus's server in a thread; gives what is written to it."""
    from pymodbus.simulator import DataType, SimData, SimDevice

    device = Device()
    bits = [SimData(0, values=[False] * 20, datatype=DataType.BITS)]
    more = [SimData(0, values=[False] * 20, datatype=DataType.BITS)]
    words = [SimData(0, values=[0] * 20, datatype=DataType.REGISTERS)]
    others = [SimData(0, values=[0] * 20, datatype=DataType.REGISTERS)]
    context = SimDevice(1, simdata=(bits, more, words, others), action=device.act)
    loop = asyncio.new_event_loop()
    ready = threading.Event()
    servers: list[Any] = []

    def run() -> None:
        asyncio.set_event_loop(loop)

        async def go() -> None:
            server = serve(context)
            servers.append(server)
            await server.serve_forever(background=True)
            ready.set()

        loop.run_until_complete(go())
        loop.run_forever()

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    assert ready.wait(5)
    try:
        yield device
    finally:
        asyncio.run_coroutine_threadsafe(servers[0].shutdown(), loop).result(5)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(5)


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


def rig_of(own: str) -> Rig:
    head = 'language = 1\n[rig]\nkind = "modbus"\nname = "modules"\nlatency = "0.001 ms"\n[modbus]\nwatchdog = "2 s"\n'
    return open_rig(rig_file_from(head + own + POINTS, "rig.toml", THERMISTOR))


def drive_and_see(rig: Rig, device: Device) -> None:
    """Drive, see what follows, and be safe at the end."""
    with rig:
        report = rig.start()
        assert set(report.changes) == {Change(report.now, "cc", False), Change(report.now, "fan", True)}
        assert rig.facts.sampled
        moment = rig.set({"power": True, "y": True, SENSOR: Fraction(-125, 10)})
        assert device.coils == {0: True, 3: True}
        assert device.registers == {4: 375}
        report = rig.wait(moment + 10**6)
        assert report.changes == (Change(report.now, "cc", True),)
        assert report.now >= moment
        assert rig.facts.latency > 1, "how long the calls took is what its moments may be off"
        before = report.now
        for _ in range(3):
            report = rig.wait(before + 10**6)
            assert report.now > before
            before = report.now
    assert device.coils == {0: False, 3: False}
    assert device.registers == {4: 700}


def test_over_tcp() -> None:
    """Coils and registers are written, discrete inputs are read, and everything is safe at the end."""
    from pymodbus.server import ModbusTcpServer

    port = free_port()
    with module(lambda context: ModbusTcpServer(context, address=("127.0.0.1", port))) as device:
        drive_and_see(rig_of(f'host = "127.0.0.1"\nport = {port}\n'), device)


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are those of POSIX")
def test_over_a_serial_line() -> None:
    """The same by RTU, over a pair of pseudo-terminals with a cable between them."""
    from pymodbus.framer import FramerType
    from pymodbus.server import ModbusSerialServer

    pairs = [os.openpty() for _ in range(2)]
    for ends in pairs:
        for descriptor in ends:
            tty.setraw(descriptor)

    def copy(source: int, sink: int) -> None:
        with suppress(OSError):
            while data := os.read(source, 1024):
                os.write(sink, data)

    (one, ours), (other, theirs) = pairs
    for source, sink in ((one, other), (other, one)):
        threading.Thread(target=copy, args=(source, sink), daemon=True).start()
    with module(
        lambda context: ModbusSerialServer(context, framer=FramerType.RTU, port=os.ttyname(theirs), baudrate=19200)
    ) as device:
        drive_and_see(rig_of(f'serial = "{os.ttyname(ours)}"\n'), device)
    for ends in pairs:
        for descriptor in ends:
            with suppress(OSError):
                os.close(descriptor)


def test_nobody_there_is_told() -> None:
    """A module that does not answer is a failure of the rig, not a traceback."""
    with pytest.raises(RigFailure, match=r"modules: nothing answers at 127\.0\.0\.1"):
        rig_of(f'host = "127.0.0.1"\nport = {free_port()}\nanswers_within = "0.1 s"\n')


def test_a_point_that_the_module_does_not_have_ends_the_run() -> None:
    """What a module refuses is told with the point."""
    from pymodbus.server import ModbusTcpServer

    port = free_port()
    text = f'language = 1\n[rig]\nkind = "modbus"\nname = "modules"\n[modbus]\nhost = "127.0.0.1"\nport = {port}\n'
    points = 'watchdog = "none"\n[drives]\npower = "coil 0"\n[sees]\ncc = "discrete input 900"\n'
    with (
        module(lambda context: ModbusTcpServer(context, address=("127.0.0.1", port))),
        open_rig(rig_file_from(text + points, "rig.toml", TARNBECK)) as rig,
        pytest.raises(RigFailure) as error,
    ):
        rig.start()
    assert "discrete input 900 of unit 1: refused" in str(error.value)


class Line:
    """A module that fails while ``broken``, and notes what is written."""

    def __init__(self) -> None:
        self.broken = False
        self.written: list[tuple[int, bool]] = []
        self.closed = 0

    def connect(self) -> Any:
        return self

    def close(self) -> None:
        self.closed += 1

    def write_coil(self, address: int, value: bool, device_id: int) -> Any:
        if self.broken:
            raise OSError("no route")
        self.written.append((address, value))
        return self

    def read_discrete_inputs(self, address: int, count: int, device_id: int) -> Any:
        return self

    read_coils = read_holding_registers = read_input_registers = read_discrete_inputs
    bits: Any = [False] * 8

    def isError(self) -> bool:
        return False


def line_rig(line: Line, watchdog: int | None = None) -> ModbusRig:
    ticks = iter(range(0, 10**9, 50_000))
    drives = {n: (Point(n, n), Address(1, "coil", k)) for k, n in enumerate(("y", "power", "lps"))}
    sees = {"cc": (Point("cc", "cc"), Address(1, "discrete input", 0))}
    facts = RigFacts("m", "modbus", dict.fromkeys(drives, False), ("cc",), sampled=True, watchdog=watchdog)
    return ModbusRig(facts, line.connect, drives, sees, 0, wall=lambda: next(ticks))


def test_what_goes_off_goes_first_and_the_supply_before_all_in_safe() -> None:
    """Nothing is on together that was not meant to be."""
    line = Line()
    rig = line_rig(line)
    rig.set({"y": True, "lps": False})
    assert line.written == [(2, False), (0, True)]
    line.written.clear()
    rig.safe()
    assert line.written[0] == (1, False)
    assert sorted(line.written) == [(0, False), (1, False), (2, False)]


def test_safe_tries_again_until_its_time_is_over_and_then_says_what_is_left() -> None:
    """A line that comes back in time is made safe; one that does not is told, with what the watchdog will do."""
    line = Line()
    rig = line_rig(line, 2_000_000)
    line.broken = True
    with pytest.raises(RigFailure, match=r"power, y, lps could not be made safe .* 2 s after our last word"):
        rig.safe()
    assert line.closed > 1, "it was connected to anew"
    line.broken = False
    rig.safe()
    assert len(line.written) == 3


def test_each_report_is_a_later_sample_and_tells_only_what_changed() -> None:
    """Samples rise strictly, also where the clock stands still."""
    line = Line()
    rig = line_rig(line)
    first = rig.start()
    assert first.changes == (Change(first.now, "cc", False),)
    second = rig.wait(0)
    assert second.now > first.now
    assert second.changes == ()
    line.bits = [True]
    third: Report = rig.wait(0)
    assert third.changes == (Change(third.now, "cc", True),)


addresses = st.builds(Address, st.integers(0, 247), st.sampled_from(TABLES), st.integers(0, 300))


@given(st.lists(addresses, max_size=30))
def test_reads_fetch_every_address_and_nothing_too_long(wanted: list[Address]) -> None:
    """Each address lies in one read of its own unit and table, and no read is longer than a small module takes."""
    found: set[Address] = set()
    for first, count in reads(wanted):
        assert 1 <= count <= 100
        found |= {Address(first.unit, first.table, first.number + k) for k in range(count)}
    assert set(wanted) <= found


@given(addresses)
def test_the_name_of_a_point_is_read_back(address: Address) -> None:
    """With its unit, or without where it is the rig's own."""
    assert address_of(f"{address.table} {address.number} of unit {address.unit}", 1) == address
    assert address_of(f"{address.table}  {address.number}", address.unit) == address


@pytest.mark.parametrize(
    "name", ["coil", "coil -1", "relay 1", f"coil {MOST_ADDRESS + 1}", "coil 1 of unit 248", "Coil 1", ""]
)
def test_what_is_no_point_is_refused(name: str) -> None:
    """Beyond the protocol's addresses there is nothing."""
    assert address_of(name, 1) is None
