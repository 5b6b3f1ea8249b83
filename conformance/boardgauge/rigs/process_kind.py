"""The rig of kind ``process``: a program that speaks the line protocol on its standard input and output.

Law of this module: the program is run as it is written, by no shell, in the folder of the rig file.

::

    [process]
    command = ["python3", "fixture.py"]
"""

from __future__ import annotations

from collections.abc import Callable

from boardgauge.language.problems import UnusableSpec
from boardgauge.rigs.line_rig import LineRig
from boardgauge.rigs.links import ProgramLink
from boardgauge.rigs.rig import Rig
from boardgauge.rigs.rig_file import RigFile
from boardgauge.rigs.rig_table import texts


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Give what runs the program and gives the rig. Raises UnusableSpec; what it gives raises RigFailure."""
    file.own.only(("command",))
    nothing: tuple[str, ...] = ()
    command = file.own.need("command", nothing, texts, '["program", "argument"]')
    if file.own.problems:
        raise UnusableSpec(file.own.problems)
    return lambda: LineRig.of(file, lambda: ProgramLink(command, str(file.folder)))
