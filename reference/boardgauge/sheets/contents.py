"""What sheets there are of a board, by name.

Law of this module: the one list of sheets, in the order in which a handout has them; it makes none itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

from attrs import frozen

from boardgauge.sheets.blocks import Sheet
from boardgauge.sheets.decision_sheet import TREE, decision_sheet
from boardgauge.sheets.lamp_card import CARD, lamp_card
from boardgauge.sheets.output_table import OUTPUTS, output_table
from boardgauge.sheets.pictures import OVERVIEW, RULES, overview_sheet, rules_sheet
from boardgauge.sheets.sensor_sheet import SENSORS, sensor_sheet
from boardgauge.sheets.sequence import SEQUENCE, sequence_sheet
from boardgauge.sheets.settings_table import SETTINGS, settings_sheet
from boardgauge.sheets.story_chart import CHARTS, chart_sheet
from boardgauge.sheets.study import Study
from boardgauge.sheets.terminal_list import TERMINALS, terminal_list
from boardgauge.sheets.timing_table import TIMINGS, timing_sheet


@frozen
class Kind:
    """One kind of sheet: what it tells, whether it is a table (and can be printed on a terminal), and what makes it.

    ``asked_only``: a handout has it only where it is asked for.
    """

    tells: str
    form: Literal["drawing", "table"]
    make: Callable[[Study], Sheet]
    asked_only: bool = False


KINDS: dict[str, Kind] = {
    OVERVIEW: Kind("the operating states and what leads from one to the next", "drawing", overview_sheet),
    TERMINALS: Kind("what is connected where", "table", terminal_list),
    OUTPUTS: Kind("what every output does in every operating state", "table", output_table),
    CARD: Kind("what each pattern of the lamp means, and which look alike", "table", lamp_card),
    SEQUENCE: Kind("what happens from the call on, step by step", "table", sequence_sheet),
    CHARTS: Kind("the same as timing charts", "drawing", chart_sheet),
    TIMINGS: Kind("every time with its limits", "table", timing_sheet),
    SETTINGS: Kind("what can be set, and the speed-ups", "table", settings_sheet),
    TREE: Kind("which state the board is in, question by question", "drawing", decision_sheet, asked_only=True),
    SENSORS: Kind("temperature and resistance of each sensor with a curve", "table", sensor_sheet),
    RULES: Kind("a state diagram of each rule", "drawing", rules_sheet),
}
"""Every kind of sheet by its name, in the order of a handout."""


class NoSuchSheet(LookupError):
    """There is no sheet of this name."""


def chosen(wanted: Iterable[str], unwanted: Iterable[str]) -> tuple[str, ...]:
    """Give the names of the sheets asked for, in order; without any, all but the rest. Raises NoSuchSheet."""
    asked, left_out = set(map(_known, wanted)), set(map(_known, unwanted))
    plain = {name for name, kind in KINDS.items() if not kind.asked_only}
    return tuple(name for name in KINDS if name in (asked or plain) and name not in left_out)


def make(study: Study, name: str) -> Sheet:
    """Make one sheet. Raises NoSuchSheet."""
    return KINDS[_known(name)].make(study)


def tables() -> tuple[str, ...]:
    """Give the names of the sheets that a terminal can show."""
    return tuple(name for name, kind in KINDS.items() if kind.form == "table")


def printed(name: str, board: str) -> str:
    """Give the name of a sheet that a terminal can show. Raises NoSuchSheet for others; ``board`` as it was named."""
    if name in tables():
        return name
    can = f"What can be printed: {', '.join(tables())}"
    if name in KINDS:
        drawn = f"boardgauge handout {board} --with {name} -o {name}.pdf"
        raise NoSuchSheet(f"{name} is drawn, not printed: {drawn}\n{can}")
    raise NoSuchSheet(f"there is no sheet {name!r} to print{_hint(name, tables())}\n{can}")


def _known(name: str) -> str:
    if name in KINDS:
        return name
    raise NoSuchSheet(f"there is no sheet {name!r}{_hint(name, KINDS)}\nThere are {', '.join(KINDS)}")


def _hint(name: str, names: Iterable[str]) -> str:
    from boardgauge.language.problems import nearest_of

    near = nearest_of(name, names)
    return f"; did you mean {near!r}?" if near else ""
