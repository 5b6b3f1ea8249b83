"""A Board to the text of a spec.

Law of this module: reading what was written gives an equal board. What the reader fills in by itself (defaults, the
board's tolerance, the next step) is left out. The digest of a board is that of its text with the tables in the order
of their
names, so neither layout nor order changes it, and everything that was written does.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

import attrs

from boardgauge.language.expression_writer import write_expression
from boardgauge.language.expressions import Expression
from boardgauge.language.keys import ALL_OUTPUTS, END, HARD, OTHERWISE
from boardgauge.language.model import (
    Accumulator,
    Always,
    Board,
    Count,
    Delay,
    Follows,
    Input,
    Lamp,
    Lasting,
    Lockout,
    Mode,
    Never,
    Note,
    NotJudged,
    Output,
    Requirement,
    Rule,
    Sequence,
    Setting,
    SettingRef,
    SpeedUp,
    Toggle,
)
from boardgauge.language.quantities import EXACTLY, Tolerance
from boardgauge.language.quantity_writer import (
    write_accuracy,
    write_blink,
    write_pattern,
    write_plain_time,
    write_time,
    write_time_range,
    write_tolerance,
)
from boardgauge.language.toml_writer import Rows, inline, key, pairs, quoted

T = TypeVar("T")


def write_board(board: Board) -> str:
    """Write a board as the text of a spec. Raises ValueError for a value the language cannot say."""
    return _Writer(board).text()


def digest_of(board: Board) -> str:
    """Give the SHA-256 of the board's content, in hexadecimal."""
    sections: dict[str, object] = {
        name: dict(sorted(getattr(board, name).items()))
        for name in (
            "inputs",
            "settings",
            "conditions",
            "rules",
            "outputs",
            "lamps",
            "requirements",
            "speed_ups",
        )
    }
    not_judged = tuple(attrs.evolve(item, signals=tuple(sorted(item.signals))) for item in board.not_judged)
    ordered = attrs.evolve(board, not_judged=not_judged, **sections)  # type: ignore[arg-type]
    return hashlib.sha256(write_board(ordered).encode()).hexdigest()


def _note(note: Note) -> Rows:
    return [("title", note.title), ("text", note.text), ("why", note.why), ("clause", note.clause)]


class _Writer:
    def __init__(self, board: Board) -> None:
        self.board = board
        self.usual = board.tolerance

    def text(self) -> str:
        """Give the whole file."""
        board = self.board
        blocks = [["language = 1"], ["[board]", *pairs(self._board())]]
        blocks += self._tables("inputs", board.inputs, self._input)
        blocks += self._tables("settings", board.settings, self._setting)
        blocks += self._tables(
            "conditions",
            board.conditions,
            lambda item: pairs([("is", self._expression(item.is_)), *_note(item.note)]),
        )
        blocks += self._tables("rules", board.rules, self._rule)
        blocks += self._tables("outputs", board.outputs, self._output)
        blocks += self._tables("lamps", board.lamps, self._lamp)
        blocks += self._tables("requirements", board.requirements, self._requirement)
        blocks += self._tables("speed_ups", board.speed_ups, self._speed_up)
        blocks += [["[[not_judged]]", *pairs(self._not_judged(item))] for item in board.not_judged]
        return "\n\n".join("\n".join(block) for block in blocks) + "\n"

    @staticmethod
    def _tables(section: str, items: Mapping[str, T], lines: Callable[[T], list[str]]) -> list[list[str]]:
        return [[f"[{section}.{key(id_)}]", *lines(item)] for id_, item in items.items()]

    # -- values ------------------------------------------------------------------------------------------------------
    def _expression(self, expression: Expression | None) -> str | None:
        return None if expression is None else write_expression(expression, self.usual)

    @staticmethod
    def _limit(expression: Expression | None) -> str | None:
        """Write an expression of a requirement, where a time that states no tolerance is exact."""
        return None if expression is None else write_expression(expression, EXACTLY)

    def _lasting(self, lasting: Lasting | None) -> str | None:
        if isinstance(lasting, SettingRef):
            return lasting.setting
        return None if lasting is None else write_time(lasting, self.usual)

    @staticmethod
    def _time(time: int, usual: int = 0) -> str | None:
        return None if time == usual else write_plain_time(time)

    @staticmethod
    def _tolerance(tolerance: Tolerance | None, usual: Tolerance | None = None) -> str | None:
        return None if tolerance is None or tolerance == usual else write_tolerance(tolerance)

    # -- tables ------------------------------------------------------------------------------------------------------
    def _board(self) -> Rows:
        board = self.board
        usual = type(board.filter)()
        return [
            ("id", board.id),
            ("title", board.title),
            ("source", board.source),
            ("text", board.text),
            ("tolerance", self._tolerance(board.tolerance)),
            ("responds_within", self._time(board.responds_within)),
            ("filter", None if board.filter == usual else write_time_range(board.filter)),
            ("same_moment", self._time(board.same_moment)),
            ("clock", None if board.clock == "independent" else board.clock),
            ("rides_through", None if board.rides_through == usual else write_time_range(board.rides_through)),
        ]

    def _input(self, item: Input) -> list[str]:
        accuracy = item.accuracy
        return pairs(
            [
                ("kind", item.kind.value),
                ("contact", item.contact),
                ("unit", item.unit),
                ("accuracy", None if accuracy is None or not accuracy.number else write_accuracy(accuracy)),
                ("curve", item.curve),
                ("filter", None if item.filter == self.board.filter else write_time_range(item.filter)),
                ("responds_within", self._time(item.responds_within, self.board.responds_within)),
                *_note(item.note),
            ]
        )

    def _setting(self, item: Setting) -> list[str]:
        positions: list[Rows] = [
            [("name", each.name), ("when", self._expression(each.when)), ("is", self._lasting(each.is_))]
            for each in item.positions
        ]
        return [
            *pairs([("read", item.read), ("factory", item.factory), *_note(item.note)]),
            *inline("positions", positions),
        ]

    def _rule(self, rule: Rule) -> list[str]:
        kind = type(rule).__name__.lower()
        rows = [*self._rule_rows(rule), ("kept_without_power", rule.kept_without_power or None), *_note(rule.note)]
        lines = [f"kind = {quoted(kind)}", *pairs(rows)]
        return lines + inline("steps", self._steps(rule)) if isinstance(rule, Sequence) else lines

    def _rule_rows(self, rule: Rule) -> Rows:
        say, time = self._expression, self._lasting
        match rule:
            case Delay():
                again = ("if_begun_again", rule.if_begun_again)
                return [("begins", say(rule.begins)), ("lasts", time(rule.lasts)), again, ("cut_by", say(rule.cut_by))]
            case Lockout():
                clears = HARD if rule.clears is None else say(rule.clears)
                return [("trips", say(rule.trips)), ("clears", clears), ("lasts", time(rule.lasts))]
            case Count():
                times: Rows = [("within", time(rule.within)), ("forgets", say(rule.forgets))]
                return [("counts", say(rule.counts)), ("limit", rule.limit), *times]
            case Accumulator():
                target = ("target", time(rule.target))
                return [("adds_while", say(rule.adds_while)), target, ("resets", say(rule.resets))]
            case Mode():
                stay: Rows = [("at_least", time(rule.at_least)), ("at_most", time(rule.at_most))]
                return [("begins", say(rule.begins)), ("ends", say(rule.ends)), *stay]
            case Sequence():
                return [("begins", say(rule.begins)), ("ends", say(rule.ends))]
            case Toggle():
                return [("flips", say(rule.flips))]

    def _steps(self, sequence: Sequence) -> Iterable[Rows]:
        followers = [*(step.name for step in sequence.steps[1:]), END]
        for step, follower in zip(sequence.steps, followers, strict=True):
            yield [
                ("name", step.name),
                ("until", self._expression(step.until)),
                ("lasts", self._lasting(step.lasts)),
                ("then", None if step.then == follower else step.then),
                ("if_not", step.if_not),
            ]

    def _output(self, item: Output) -> list[str]:
        return pairs(
            [
                ("on", self._expression(item.on)),
                ("starts", self._expression(item.starts)),
                ("stops", self._expression(item.stops)),
                ("contact", None if item.contact == "normally open" else item.contact),
                ("lag", self._time(item.lag)),
                *_note(item.note),
            ]
        )

    def _lamp(self, item: Lamp) -> list[str]:
        lines: list[Rows] = [
            [
                ("when", OTHERWISE if line.when is None else self._expression(line.when)),
                ("shows", write_pattern(line.shows)),
                ("means", line.means),
                ("do", line.do),
                ("clause", line.clause),
            ]
            for line in item.lines
        ]
        between = item.between_groups
        rows: Rows = [
            ("flash", None if item.flash is None else write_blink(item.flash)),
            ("between_groups", None if between is None else f"{write_plain_time(between)} dark"),
            ("tolerance", self._tolerance(item.tolerance, self.usual)),
            ("changes_within", self._time(item.changes_within, self.board.responds_within)),
            ("not_judged_for", self._time(item.not_judged_for)),
            *_note(item.note),
        ]
        return [*pairs(rows), *inline("lines", lines)]

    def _requirement(self, item: Requirement) -> list[str]:
        rows: Rows
        match item.demand:
            case Never(what=what):
                rows = [("never", self._limit(what))]
            case Always(what=held):
                rows = [("always", self._limit(held))]
            case Follows(after=after, then=then, within=within):
                rows = [
                    ("after", self._limit(after)),
                    ("then", self._limit(then)),
                    ("within", write_plain_time(within)),
                ]
            case together:
                rows = [
                    ("together", list(together.outputs)),
                    ("within", write_plain_time(together.within)),
                    ("after", self._limit(together.after)),
                ]
        return pairs([*rows, ("except_while", self._limit(item.except_while)), *_note(item.note)])

    def _speed_up(self, item: SpeedUp) -> list[str]:
        rows: Rows = [
            ("while", self._expression(item.while_)),
            ("times_faster", item.times_faster),
            ("what", list(item.what)),
        ]
        return pairs([*rows, *_note(item.note)])

    def _not_judged(self, item: NotJudged) -> Rows:
        everything = (*self.board.outputs, *self.board.lamps)
        return [
            ("signals", ALL_OUTPUTS if item.signals == everything else list(item.signals)),
            ("after", self._expression(item.after)),
            ("lasts", self._lasting(item.lasts)),
            ("clause", item.clause),
        ]
