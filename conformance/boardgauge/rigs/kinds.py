"""The kinds of rig, in one table.

Law of this module: a kind is a module of this package with a function ``prepare(file: RigFile)``, which reads the table
of the rig file that is called like the kind (``file.own``), raises UnusableSpec for what is wrong in it, and touches
nothing. It gives a function that opens the rig and raises RigFailure for what is wrong on the bench. A module is loaded
when a rig of its kind is prepared.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING, cast

from attrs import frozen

from boardgauge.rigs.needed import needed

if TYPE_CHECKING:
    from boardgauge.rigs.rig import Rig
    from boardgauge.rigs.rig_file import RigFile


@frozen
class Library:
    """A library that a kind of rig needs: the module that is imported and its package.

    With ``key``, only where the kind's own table has that key.
    """

    module: str
    package: str
    key: str = ""


@frozen
class Kind:
    """A kind of rig: its module, what it is in words, and the tables of a rig file that it reads beside its own.

    ``libraries`` are those of the extra ``rigs`` that it needs.
    """

    module: str
    meaning: str
    tables: tuple[str, ...] = ()
    libraries: tuple[Library, ...] = ()


_POINTS = ("drives", "sees")
_SERIAL = (Library("serial", "pyserial"),)
_MODBUS = (Library("pymodbus.client", "pymodbus"), Library("serial", "pyserial", key="serial"))
KINDS: dict[str, Kind] = {
    "simulated": Kind("boardgauge.rigs.simulated_kind", "a simulated board in a process of its own", ("durations",)),
    "library": Kind("boardgauge.rigs.library", "firmware as a shared library, in virtual time", _POINTS),
    "process": Kind("boardgauge.rigs.process_kind", "a program that speaks the line protocol", _POINTS),
    "serial": Kind("boardgauge.rigs.serial_kind", "a fixture on a serial port, by the line protocol", _POINTS, _SERIAL),
    "modbus": Kind("boardgauge.rigs.modbus_kind", "relay and input modules on Modbus", _POINTS, _MODBUS),
    "person": Kind("boardgauge.rigs.person_kind", "a person who sets, looks and types", _POINTS),
}


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Read what a rig file says to its kind, and give what opens the rig; nothing is opened yet.

    Raises UnusableSpec for what is wrong in the file, MissingPackage for a library that is not installed. What is given
    raises RigFailure.
    """
    for library in KINDS[file.kind].libraries:
        if not library.key or library.key in file.own.values:
            needed(library.module, library.package)
    module = import_module(KINDS[file.kind].module)
    return cast("Callable[[], Rig]", module.prepare(file))


def open_rig(file: RigFile) -> Rig:
    """Open the rig of a rig file. Raises UnusableSpec and MissingPackage, as ``prepare`` does, and RigFailure."""
    return prepare(file)()
