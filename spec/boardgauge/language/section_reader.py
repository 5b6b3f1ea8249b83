"""The tables of a spec other than rules, each to its value of the model.

Law of this module: one function a table. It gives None where something in the table is wrong, which has then been
noted; what hangs on other tables is left to ``checks``.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, cast

from boardgauge.language.expression_reader import read_condition
from boardgauge.language.expressions import Condition
from boardgauge.language.keys import (
    ALL_OUTPUTS,
    CONDITION_KEYS,
    INPUT_KEYS,
    LAMP_KEYS,
    LINE_KEYS,
    NOT_JUDGED_KEYS,
    NOTE_KEYS,
    OTHERWISE,
    OUTPUT_KEYS,
    POSITION_KEYS,
    REQUIREMENT_KEYS,
    SETTING_KEYS,
    SPEED_UP_KEYS,
)
from boardgauge.language.model import (
    Always,
    Contact,
    Flashes,
    Follows,
    Input,
    InputKind,
    Lamp,
    LampLine,
    NamedCondition,
    Never,
    NotJudged,
    Output,
    Position,
    Requirement,
    Setting,
    SpeedUp,
    Together,
)
from boardgauge.language.nodes import Node
from boardgauge.language.quantities import Quantity, TimeRange
from boardgauge.language.table_reader import Reading, TableReader
from boardgauge.language.units import convertible


def read_input(reading: Reading, id_: str, node: Node, usual: TimeRange, responds_within: int) -> Input | None:
    """Read ``[inputs.X]``; ``usual`` (the filter) and ``responds_within`` are the board's."""
    table = TableReader(reading, node, f"inputs.{id_}", (*INPUT_KEYS, *NOTE_KEYS))
    kind = table.word("kind")
    contact, unit, accuracy = table.word("contact"), table.unit("unit"), table.accuracy("accuracy")
    filter_, responds, note = table.time_range("filter"), table.time("responds_within"), table.note()
    curve = table.text("curve")
    if kind == "switch":
        table.need("contact", 'a switch rests "normally open" or "normally closed"')
    elif kind is not None:
        table.refuse("contact", f"a {kind} has no contact; only a switch has")
    if kind == "sensor":
        table.need("unit", "a sensor says what it measures in")
        accuracy = Quantity(Fraction(0), unit or "") if accuracy is None else accuracy
        if unit is not None and not convertible(unit, "°C"):
            table.refuse("curve", f"a curve gives a temperature, and this sensor measures {unit}")
        if curve is not None and not curve.strip():
            table.fail(table.values["curve"].at, "curve", "this names nothing", "the name or the file of a curve")
    elif kind is not None:
        table.refuse("unit", f"a {kind} measures nothing; only a sensor has a unit")
        table.refuse("accuracy", f"a {kind} measures nothing; only a sensor has an accuracy")
        table.refuse("curve", f"a {kind} measures nothing; only a sensor has a curve")
    if table.failed or kind is None:
        return None
    return Input(
        id_,
        InputKind(kind),
        usual if filter_ is None else filter_,
        responds_within if responds is None else responds,
        cast("Contact | None", contact),
        unit,
        accuracy,
        note,
        curve,
        at=node.key_at,
    )


def read_setting(reading: Reading, id_: str, node: Node) -> Setting | None:
    """Read ``[settings.X]``."""
    table = TableReader(reading, node, f"settings.{id_}", (*SETTING_KEYS, *NOTE_KEYS))
    rows = table.rows("positions", "positions", POSITION_KEYS)
    positions = [_position(row) for row in rows]
    read, factory, note = table.word("read"), table.text("factory"), table.note()
    named = [row.has("name") for row in rows]
    if any(named) and not all(named):
        table.fail(table.values["positions"].at, "positions", "either every position has a name, or every one has when")
    elif any(named):
        table.need("factory", "it names the position taken when nothing says otherwise")
    elif rows:
        table.refuse("factory", "the inputs choose the position, so there is no factory position")
    if table.spoiled_by(rows) or read is None:
        return None
    read_ = cast('Literal["at power-up", "always"]', read)
    return Setting(id_, tuple(filter(None, positions)), read_, factory, note, at=node.key_at)


def _position(row: TableReader) -> Position | None:
    name, when, is_ = row.text("name"), row.condition("when"), row.duration("is")
    if row.has("name"):
        row.refuse("when", "a position has a name or a when, not both")
    else:
        row.need("when", "a position has a name, or a when by which the inputs choose it")
    return None if row.failed or is_ is None else Position(is_, name, when)


def read_named_condition(reading: Reading, id_: str, node: Node) -> NamedCondition | None:
    """Read ``[conditions.X]``."""
    table = TableReader(reading, node, f"conditions.{id_}", (*CONDITION_KEYS, *NOTE_KEYS))
    is_, note = table.condition("is"), table.note()
    return None if table.failed or is_ is None else NamedCondition(id_, is_, note, at=node.key_at)


def read_output(reading: Reading, id_: str, node: Node) -> Output | None:
    """Read ``[outputs.X]``."""
    table = TableReader(reading, node, f"outputs.{id_}", (*OUTPUT_KEYS, *NOTE_KEYS))
    on, starts, stops = table.condition("on"), table.condition("starts"), table.condition("stops")
    contact, lag, note = table.word("contact"), table.time("lag"), table.note()
    if table.has("on"):
        for name in ("starts", "stops"):
            table.refuse(name, "an output has on, or starts and stops, not both")
    elif table.has("starts") or table.has("stops"):
        table.need("starts", "starts and stops belong together")
        table.need("stops", "starts and stops belong together")
    else:
        table.need("on", "an output has on, or starts and stops")
    if table.failed:
        return None
    return Output(id_, on, starts, stops, cast("Contact", contact), lag or 0, note, at=node.key_at)


def read_lamp(reading: Reading, id_: str, node: Node, responds_within: int) -> Lamp | None:
    """Read ``[lamps.X]``; ``responds_within`` is the board's."""
    table = TableReader(reading, node, f"lamps.{id_}", (*LAMP_KEYS, *NOTE_KEYS))
    rows = table.rows("lines", "lines", LINE_KEYS)
    lines = [_line(row, last=row is rows[-1]) for row in rows]
    flash, between, tolerance = table.blink("flash"), table.dark_part("between_groups"), table.tolerance("tolerance")
    changes, not_judged, note = table.time("changes_within"), table.time("not_judged_for"), table.note()
    if any(line is not None and isinstance(line.shows, Flashes) for line in lines):
        table.need("flash", "a line shows flashes, so say what one flash is")
        table.need("between_groups", "a line shows flashes, so say how long it is dark between groups")
    if tolerance is None:
        tolerance = reading.tolerance
        if tolerance is None and not table.has("tolerance"):
            table.need("tolerance", "the board has none either")
    if table.spoiled_by(rows) or tolerance is None:
        return None
    return Lamp(
        id_,
        tuple(filter(None, lines)),
        tolerance,
        flash,
        between,
        responds_within if changes is None else changes,
        not_judged or 0,
        note,
        at=node.key_at,
    )


def _line(row: TableReader, *, last: bool) -> LampLine | None:
    shows, means, do, clause = row.pattern("shows"), row.text("means"), row.text("do"), row.text("clause")
    node = row.take("when", "lamp condition")
    when: Condition | None = None
    if node is not None and not isinstance(node.value, str):
        row.fail(node.at, "when", "a text is needed", f'a condition, or "{OTHERWISE}"')
    elif node is not None and str(node.value).strip() == OTHERWISE:
        if not last:
            row.fail(node.at, "when", f'"{OTHERWISE}" is for the last line; the lines below it would never show')
    elif node is not None:
        if last:
            row.fail(node.at, "when", "the last line shows when no other does", f'"{OTHERWISE}"')
        when = cast("Condition | None", row.expression_text("when", str(node.value), read_condition))
    return None if row.failed or shows is None else LampLine(when, shows, clause, means, do)


def read_requirement(reading: Reading, id_: str, node: Node) -> Requirement | None:
    """Read ``[requirements.X]``. Its times are limits: exact where they state no tolerance of their own."""
    table = TableReader(reading, node, f"requirements.{id_}", (*REQUIREMENT_KEYS, *NOTE_KEYS))
    never, always = table.condition_or_event("never"), table.condition("always", limits=True)
    after, then = table.event("after", limits=True), table.trigger("then", limits=True)
    together, within = table.names("together"), table.time("within")
    except_while, note = table.condition("except_while", limits=True), table.note()
    allowed = {
        "never": {"never"},
        "always": {"always"},
        "then": {"after", "then", "within"},
        "together": {"after", "together", "within"},
    }
    sort = next((name for name in allowed if table.has(name)), None)
    if sort is None:
        table.fail(
            node.key_at,
            "",
            "the requirement demands nothing",
            "never, always, after with then and within, or together with within",
        )
        return None
    for name in ("never", "always", "after", "then", "together", "within"):
        if name not in allowed[sort]:
            table.refuse(name, f"it does not go with {sort}; make a requirement of its own")
    for name in allowed[sort] - {sort} - ({"after"} if sort == "together" else set()):
        table.need(name, f"it goes with {sort}")
    if table.failed:
        return None
    demand: Never | Always | Follows | Together | None = None
    if never is not None:
        demand = Never(never)
    elif always is not None:
        demand = Always(always)
    elif after is not None and then is not None and within is not None:
        demand = Follows(after, then, within)
    elif together is not None and within is not None:
        demand = Together(together, within, after)
    return None if demand is None else Requirement(id_, demand, except_while, note, at=node.key_at)


def read_speed_up(reading: Reading, id_: str, node: Node) -> SpeedUp | None:
    """Read ``[speed_ups.X]``."""
    table = TableReader(reading, node, f"speed_ups.{id_}", (*SPEED_UP_KEYS, *NOTE_KEYS))
    while_, faster, what, note = (
        table.condition("while"),
        table.whole("times_faster", 2),
        table.names("what"),
        table.note(),
    )
    if table.failed or while_ is None or faster is None or what is None:
        return None
    return SpeedUp(id_, while_, faster, what, note, at=node.key_at)


def read_not_judged(reading: Reading, index: int, node: Node, everything: tuple[str, ...]) -> NotJudged | None:
    """Read one ``[[not_judged]]``; ``everything`` is what "all outputs" stands for, outputs and lamps."""
    table = TableReader(reading, node, f"not_judged[{index + 1}]", NOT_JUDGED_KEYS)
    signals: tuple[str, ...] | None
    if table.has("signals") and isinstance(table.values["signals"].value, str):
        signals = everything
        if table.values["signals"].value != ALL_OUTPUTS:
            table.fail(
                table.values["signals"].at, "signals", "a list of names is needed", f'["a", "b"] or "{ALL_OUTPUTS}"'
            )
    else:
        signals = table.names("signals", "names or words")
    after, lasts, clause = table.event("after"), table.duration("lasts"), table.text("clause")
    if table.failed or signals is None or after is None or lasts is None:
        return None
    return NotJudged(signals, after, lasts, clause, at=node.at)
