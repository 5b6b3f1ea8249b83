"""``[rules.X]``: the seven kinds of rule, each to its value of the model.

Law of this module: one function a kind. What is wrong is noted; a rule of which enough could be read is given all the
same, so that ``checks`` can look at the rest of it. What hangs on other tables is left to ``checks``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, cast

from boardgauge.language.expression_reader import read_trigger
from boardgauge.language.expressions import PowerUp, Trigger
from boardgauge.language.keys import END, HARD, NOTE_KEYS, RULE_KEYS, RULE_KIND, STEP_KEYS
from boardgauge.language.model import Accumulator, Count, Delay, Lockout, Mode, Rule, Sequence, Step, Toggle
from boardgauge.language.nodes import Node
from boardgauge.language.problems import Unreadable
from boardgauge.language.supply_words import nearest_words
from boardgauge.language.table_reader import Reading, TableReader


def rule_kind(node: Node) -> str | None:
    """Give the kind a rule's table states, if it is one of the seven."""
    kind = node.value.get("kind") if isinstance(node.value, dict) else None
    return kind.value if isinstance(kind, Node) and isinstance(kind.value, str) and kind.value in RULE_KEYS else None


def read_rule(reading: Reading, id_: str, node: Node) -> Rule | None:
    """Read ``[rules.X]``."""
    kind = rule_kind(node)
    if kind is None:
        every = {key.name: key for keys in RULE_KEYS.values() for key in keys}
        table = TableReader(reading, node, f"rules.{id_}", (RULE_KIND, *every.values(), *NOTE_KEYS))
        table.word("kind")
        return None
    table = TableReader(reading, node, f"rules.{id_}", (RULE_KIND, *RULE_KEYS[kind], *NOTE_KEYS))
    return _READERS[kind](id_, table)


def _delay(id_: str, table: TableReader) -> Delay | None:
    begins, lasts = table.event("begins"), table.lasting("lasts")
    again, cut_by = table.word("if_begun_again"), table.trigger("cut_by")
    kept, note = table.yes_or_no("kept_without_power"), table.note()
    if begins is not None and not isinstance(begins, PowerUp):
        table.need("if_begun_again", 'say whether it "starts over" or "runs on" when it is begun again while it runs')
    if begins is None or lasts is None:
        return None
    again_ = cast('Literal["starts over", "runs on"] | None', again)
    return Delay(id_, begins, lasts, again_, cut_by, kept, note, at=table.node.key_at)


def _lockout(id_: str, table: TableReader) -> Lockout | None:
    trips, clears = table.trigger("trips"), _clears(table)
    lasts, kept, note = table.lasting("lasts"), table.yes_or_no("kept_without_power"), table.note()
    if trips is None:
        return None
    return Lockout(id_, trips, clears, lasts, kept, note, at=table.node.key_at)


def _clears(table: TableReader) -> Trigger | None:
    node = table.take("clears", "trigger or words")
    if node is None:
        return None
    if not isinstance(node.value, str):
        table.fail(node.at, "clears", "a text is needed", f'a trigger, or "{HARD}"')
        return None
    if node.value == HARD:
        return None
    try:
        read_trigger(node.value)
    except Unreadable:
        if (near := nearest_words(node.value, HARD, "power loss")) is not None:
            table.fail(node.at, "clears", f"{node.value!r} is no trigger", None, near)
            return None
    return table.expression_text("clears", node.value, read_trigger)


def _count(id_: str, table: TableReader) -> Count | None:
    counts, limit = table.event("counts"), table.whole("limit", 1, 1000)
    within, forgets = table.lasting("within"), table.trigger("forgets")
    kept, note = table.yes_or_no("kept_without_power"), table.note()
    if counts is None or limit is None:
        return None
    return Count(id_, counts, limit, within, forgets, kept, note, at=table.node.key_at)


def _accumulator(id_: str, table: TableReader) -> Accumulator | None:
    adds_while, target = table.condition("adds_while"), table.lasting("target")
    resets, kept, note = table.trigger("resets"), table.yes_or_no("kept_without_power"), table.note()
    if adds_while is None or target is None:
        return None
    return Accumulator(id_, adds_while, target, resets, kept, note, at=table.node.key_at)


def _mode(id_: str, table: TableReader) -> Mode | None:
    begins, ends = table.trigger("begins"), table.trigger("ends")
    at_least, at_most = table.lasting("at_least"), table.lasting("at_most")
    kept, note = table.yes_or_no("kept_without_power"), table.note()
    if begins is None or ends is None:
        return None
    return Mode(id_, begins, ends, at_least, at_most, kept, note, at=table.node.key_at)


def _sequence(id_: str, table: TableReader) -> Sequence | None:
    begins, ends = table.trigger("begins"), table.trigger("ends")
    rows = table.rows("steps", "steps", STEP_KEYS)
    kept, note = table.yes_or_no("kept_without_power"), table.note()
    stated = [row.text("name") for row in rows]
    steps = [
        _step(row, name, follower or END) for row, name, follower in zip(rows, stated, [*stated[1:], END], strict=False)
    ]
    if begins is None or ends is None:
        return None
    return Sequence(id_, begins, ends, tuple(steps), kept, note, at=table.node.key_at)


def _step(row: TableReader, name: str | None, follower: str) -> Step:
    lasts, until = row.lasting("lasts"), row.condition("until")
    then, if_not = row.step("then"), row.step("if_not")
    if row.has("lasts") and row.has("until"):
        row.need("if_not", "with lasts and until, say where the step goes when its time runs out first")
    else:
        row.refuse("if_not", "this is for a step with both lasts and until; one alone goes on to then")
    if not row.has("lasts") and not row.has("until"):
        row.refuse("then", "the step has neither lasts nor until, so it never goes on")
    return Step(name or "", then or follower, lasts, until, if_not)


def _toggle(id_: str, table: TableReader) -> Toggle | None:
    flips, kept, note = table.event("flips"), table.yes_or_no("kept_without_power"), table.note()
    return None if flips is None else Toggle(id_, flips, kept, note, at=table.node.key_at)


_READERS: dict[str, Callable[[str, TableReader], Rule | None]] = {
    "delay": _delay,
    "lockout": _lockout,
    "count": _count,
    "accumulator": _accumulator,
    "mode": _mode,
    "sequence": _sequence,
    "toggle": _toggle,
}
