"""The kinds of rig, in one table.

Law of this module: a kind is a module of this package with a function ``open_rig(file: RigFile) -> Rig``, which reads
the table of the rig file that is called like the kind (``file.own``), and is loaded when a rig of its kind is opened.
``open_rig`` raises UnusableSpec for what is wrong in the file, and RigFailure for what is wrong on the bench. A library
that is not installed is neither: ``check_installed`` tells of it before anything is opened.
"""

from __future__ import annotations

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


def check_installed(file: RigFile) -> None:
    """See that the libraries are installed that the rig of a rig file needs. Raises MissingPackage."""
    for library in KINDS[file.kind].libraries:
        if not library.key or library.key in file.own.values:
            needed(library.module, library.package)


def open_rig(file: RigFile) -> Rig:
    """Open the rig of a rig file.

    Raises UnusableSpec for what is wrong in the file, MissingPackage for a library that is not installed, RigFailure
    for the rest.
    """
    check_installed(file)
    module = import_module(KINDS[file.kind].module)
    return cast("Rig", module.open_rig(file))
