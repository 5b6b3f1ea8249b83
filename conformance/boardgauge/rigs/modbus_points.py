"""Points of a Modbus module by name: ``coil 3``, ``discrete input 0``, ``input register 7 of unit 2``.

Law of this module: the names are those of the Modbus Application Protocol Specification V1.1b3, section 4.3, and an
address is that of the protocol, which counts from 0.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from attrs import frozen

TABLES = ("coil", "discrete input", "holding register", "input register")
WRITTEN = ("coil", "holding register")
MOST_ADDRESS = 65_535
LONGEST_READ = 100
"""So many neighbours are read at once; the protocol takes 2,000 bits or 125 registers, and small modules fewer."""

_NAME = re.compile(r"(coil|discrete input|holding register|input register) ([0-9]{1,5})(?: of unit ([0-9]{1,3}))?")


@frozen(order=True)
class Address:
    """One bit or register: in which table, of which unit."""

    unit: int
    table: str
    number: int

    @property
    def bit(self) -> bool:
        """Tell whether it is on or off, and no number."""
        return self.table in ("coil", "discrete input")


def address_of(name: str, unit: int) -> Address | None:
    """Read the name of a point; ``unit`` is meant where it names none. None for what is no name."""
    found = _NAME.fullmatch(" ".join(name.split()))
    if found is None or int(found.group(2)) > MOST_ADDRESS or not 0 <= int(found.group(3) or unit) <= 247:
        return None
    return Address(int(found.group(3) or unit), found.group(1), int(found.group(2)))


def reads(addresses: Iterable[Address]) -> Iterator[tuple[Address, int]]:
    """Give the reads that fetch all addresses: the first of each and how many."""
    first, count = None, 0
    for address in sorted(set(addresses)):
        near = first is not None and (address.unit, address.table) == (first.unit, first.table)
        if near and first is not None and address.number - first.number < LONGEST_READ:
            count = address.number - first.number + 1
            continue
        if first is not None:
            yield first, count
        first, count = address, 1
    if first is not None:
        yield first, count
