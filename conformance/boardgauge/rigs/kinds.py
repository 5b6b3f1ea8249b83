"""The kinds of rig, in one table.

Law of this module: a kind is a module of this package with a function ``open_rig(file: RigFile) -> Rig``, which reads
the table of the rig file that is called like the kind (``file.own``), and is loaded when a rig of its kind is opened.
``open_rig`` raises UnusableSpec for what is wrong in the file, and RigFailure for what is wrong on the bench.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, cast

from attrs import frozen

if TYPE_CHECKING:
    from boardgauge.rigs.rig import Rig
    from boardgauge.rigs.rig_file import RigFile


@frozen
class Kind:
    """A kind of rig: its module, what it is in words, and the tables of a rig file that it reads beside its own."""

    module: str
    meaning: str
    tables: tuple[str, ...] = ()


_POINTS = ("drives", "sees")
KINDS: dict[str, Kind] = {
    "simulated": Kind("boardgauge.rigs.simulated_kind", "a simulated board in a process of its own", ("durations",)),
    "library": Kind("boardgauge.rigs.library", "firmware as a shared library, in virtual time", _POINTS),
    "process": Kind("boardgauge.rigs.process_kind", "a program that speaks the line protocol", _POINTS),
    "serial": Kind("boardgauge.rigs.serial_kind", "a fixture on a serial port, by the line protocol", _POINTS),
    "modbus": Kind("boardgauge.rigs.modbus_kind", "relay and input modules on Modbus", _POINTS),
    "person": Kind("boardgauge.rigs.person_kind", "a person who sets, looks and types", _POINTS),
}


def open_rig(file: RigFile) -> Rig:
    """Open the rig of a rig file. Raises UnusableSpec for what is wrong in the file, RigFailure for the rest."""
    module = import_module(KINDS[file.kind].module)
    return cast("Rig", module.open_rig(file))
