"""The rig of kind ``serial``: a fixture that speaks the line protocol on a serial port.

Law of this module: only the port is opened here; what is said on it is that of ``line_rig``.

::

    [serial]
    port = "/dev/ttyUSB0"              # or "COM3"
    baud = 115200                      # unless said
"""

from __future__ import annotations

from collections.abc import Callable

from boardgauge.language.problems import UnusableSpec
from boardgauge.rigs.line_rig import LineRig
from boardgauge.rigs.links import PortLink
from boardgauge.rigs.rig import Rig
from boardgauge.rigs.rig_file import RigFile
from boardgauge.rigs.rig_table import BAUD, text


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Give what opens the port and gives the rig. Raises UnusableSpec; what it gives raises RigFailure."""
    file.own.only(("port", "baud"))
    port = file.own.need("port", "", text, '"/dev/ttyUSB0"')
    baud = file.own.take("baud", 115200, BAUD, "a whole number of bits a second")
    if file.own.problems:
        raise UnusableSpec(file.own.problems)
    return lambda: LineRig.of(file, lambda: PortLink(port, baud))
