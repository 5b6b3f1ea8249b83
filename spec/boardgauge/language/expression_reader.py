"""Text to expressions.

Law of this module: a text has one reading or it is refused. The grammar (``expressions.lark``) knows no difference
between a condition and an event; the tree is sorted into the two here, so that a mix-up is explained in words. Text is
bounded in length and in depth of brackets, so reading takes bounded time and memory.

A syntax error is explained by the first row of ``expression_errors.EXPLANATIONS`` whose example fails at the same
place of the grammar.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, cast

from boardgauge.language.expression_errors import CHARACTERS, EXPLANATIONS
from boardgauge.language.expressions import (
    And,
    Comparator,
    Comparison,
    Condition,
    Edge,
    EdgeWord,
    Event,
    EventOr,
    EventWhile,
    Expression,
    For,
    InState,
    LessThanAfter,
    Name,
    Not,
    Or,
    PowerUp,
    Reached,
    State,
    Trigger,
    TriggerOr,
    is_event,
)
from boardgauge.language.grammar import expression_parser
from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import EXACTLY, Duration, Quantity
from boardgauge.language.quantity_reader import read_quantity, read_time
from boardgauge.language.supply_words import supply_meant

if TYPE_CHECKING:
    from lark import Token, Tree
    from lark.exceptions import UnexpectedInput

LONGEST_TEXT = 4000
DEEPEST_BRACKETS = 24

_EXPECTED_EVENT = 'a moment, such as "X begins", "X opens" or "power_up"'
_EXPECTED_CONDITION = 'something that holds for a stretch of time, such as "X", "X open" or "X reached"'


def read_condition(text: str, *, in_requirement: bool = False) -> Condition:
    """Read a condition: what holds for a stretch of time. Raises Unreadable."""
    expression = _read(text, in_requirement)
    if is_event(expression) or isinstance(expression, TriggerOr):
        raise Unreadable("an event stands where a condition is needed", _offset(expression), _EXPECTED_CONDITION)
    return cast(Condition, expression)


def read_event(text: str, *, in_requirement: bool = False) -> Event:
    """Read an event: what happens at a moment. Raises Unreadable."""
    expression = _read(text, in_requirement)
    if not is_event(expression):
        at = _offset(expression)
        if isinstance(expression, TriggerOr):
            at = next(_offset(item) for item in expression.items if not is_event(item))
        _check_supply(text, at)
        raise Unreadable("a condition stands where an event is needed", at, _EXPECTED_EVENT)
    return cast(Event, expression)


def read_trigger(text: str, *, in_requirement: bool = False) -> Trigger:
    """Read a trigger: a condition, an event, or both joined by ``or``. Raises Unreadable."""
    return _read(text, in_requirement)


def read_condition_or_event(text: str, *, in_requirement: bool = True) -> Condition | Event:
    """Read a condition or an event, but no mixture. Raises Unreadable."""
    expression = _read(text, in_requirement)
    if isinstance(expression, TriggerOr):
        raise Unreadable("an event and a condition are mixed; this key takes one or the other", expression.at)
    return expression


def _read(text: str, in_requirement: bool) -> Expression:
    from lark.exceptions import UnexpectedInput

    _check_bounds(text)
    try:
        tree = expression_parser().parse(text)
    except UnexpectedInput as error:
        raise _explained(text, error) from None
    return _Builder(in_requirement).build(_only(tree), outermost=True)


def _check_bounds(text: str) -> None:
    if len(text) > LONGEST_TEXT:
        raise Unreadable(f"the expression has {len(text)} characters; {LONGEST_TEXT} is the most", LONGEST_TEXT)
    if not text.strip():
        raise Unreadable("the expression is empty", 0)
    depth = 0
    for at, character in enumerate(text):
        depth += (character == "(") - (character == ")")
        if depth > DEEPEST_BRACKETS:
            raise Unreadable(
                f"brackets stand more than {DEEPEST_BRACKETS} deep; give the inner part a name under [conditions]", at
            )


def _check_supply(text: str, at: int) -> None:
    """Raise Unreadable where the supply is meant at a place of a text that cannot be read."""
    meant = supply_meant(text, at)
    if meant is not None:
        raise Unreadable(meant[1], meant[0])


def _explained(text: str, error: UnexpectedInput) -> Unreadable:
    from lark.exceptions import UnexpectedCharacters

    at = len(text) if error.pos_in_stream is None or error.pos_in_stream < 0 else error.pos_in_stream
    token = getattr(error, "token", None)
    _check_supply(text, at)
    if isinstance(error, UnexpectedCharacters):
        character = text[at]
        return Unreadable(CHARACTERS.get(character, f"{character!r} means nothing in an expression"), at)
    if token is not None and token.type == "$END":
        at = len(text)
    message = _explanation(error)
    if message is None:
        message = "the expression ends too early" if at >= len(text) else f"{str(token)!r} cannot stand here"
    return Unreadable(message, at)


@cache
def _failures() -> tuple[tuple[object, str, str, str], ...]:
    """Where each malformed example of the explanations fails: state of the parser, sort of token, token, message."""
    from lark.exceptions import UnexpectedToken

    found = []
    for message, texts in EXPLANATIONS.items():
        for text in texts:
            try:
                expression_parser().parse(text)
            except UnexpectedToken as error:
                found.append((error.state, error.token.type, str(error.token), message))
    return tuple(found)


def _explanation(error: UnexpectedInput) -> str | None:
    """Give the message of the example that fails most like this: same state and token, same sort, or same state."""
    state, token = getattr(error, "state", None), getattr(error, "token", None)
    near = [failure for failure in _failures() if failure[0] == state]
    if token is None or not near:
        return None
    for _, sort, text, message in near:
        if (sort, text) == (token.type, str(token)):
            return message
    for _, sort, _, message in near:
        if sort == token.type:
            return message
    return near[0][3]


def _only(tree: Tree[Token]) -> Tree[Token]:
    return cast("Tree[Token]", tree.children[0])


def _offset(expression: Expression) -> int:
    return expression.at


def _measured(token: Token) -> Duration:
    try:
        return read_time(str(token))
    except Unreadable as error:
        raise Unreadable(error.message, int(token.start_pos or 0) + error.at, error.expected) from None


def _quantity(token: Token) -> Quantity:
    try:
        return read_quantity(str(token))
    except Unreadable as error:
        raise Unreadable(error.message, int(token.start_pos or 0) + error.at, error.expected) from None


class _Builder:
    """Makes values of a tree, and refuses an event where a condition is needed and the other way about."""

    def __init__(self, in_requirement: bool) -> None:
        self.in_requirement = in_requirement

    def build(self, tree: Tree[Token], *, outermost: bool = False) -> Expression:
        at = int(tree.meta.start_pos)
        parts = tree.children
        match str(tree.data):
            case "bracket":
                return self.build(_only(tree), outermost=False)
            case "name":
                return Name(str(parts[0]), at=at)
            case "in_state":
                return InState(str(parts[0]), cast(State, str(parts[1])), at=at)
            case "reached":
                return Reached(str(parts[0]), at=at)
            case "comparison":
                return self._comparison(cast("list[Token]", parts), at)
            case "power_up":
                return PowerUp(at=at)
            case "negation":
                return Not(self._condition(parts[0], "not"), at=at)
            case "all_of":
                return And(tuple(self._condition(part, "and") for part in parts), at=at)
            case "any_of":
                return self._any_of(tree, at, outermost)
            case "lasting":
                return For(self._condition(parts[0], "for"), _measured(cast("Token", parts[1])), at=at)
            case "edge":
                return self._edge(tree, at)
            case "during":
                return EventWhile(self._event(parts[0], "while"), self._condition(parts[1], "while"), at=at)
            case _:
                return self._soon_after(tree, at)

    def _comparison(self, parts: list[Token], at: int) -> Comparison:
        name, op, limit, *rest = parts
        if not rest:
            return Comparison(str(name), cast(Comparator, str(op)), _quantity(limit), at=at)
        until_op, until = rest
        if (op[0] == "<") == (until_op[0] == "<"):
            raise Unreadable(
                f'after "{op}" a comparison lets go at "{">" if op[0] == "<" else "<"}"', int(until_op.start_pos or 0)
            )
        return Comparison(
            str(name),
            cast(Comparator, str(op)),
            _quantity(limit),
            cast(Comparator, str(until_op)),
            _quantity(until),
            at=at,
        )

    def _any_of(self, tree: Tree[Token], at: int, outermost: bool) -> Expression:
        items = tuple(self.build(cast("Tree[Token]", part)) for part in tree.children)
        events = [is_event(item) for item in items]
        if all(events):
            return EventOr(cast("tuple[Event, ...]", items), at=at)
        if not any(events):
            return Or(cast("tuple[Condition, ...]", items), at=at)
        if not outermost:
            raise Unreadable(
                "an event and a condition are joined by or inside brackets; only a whole trigger may do that", at
            )
        return TriggerOr(cast("tuple[Condition | Event, ...]", items), at=at)

    def _edge(self, tree: Tree[Token], at: int) -> Edge:
        of_tree, word = cast("Tree[Token]", tree.children[0]), cast("Token", tree.children[1])
        of = self._condition(of_tree, str(word))
        if str(word) in ("opens", "closes", "expires") and of_tree.data != "name":
            raise Unreadable(
                f'"{word}" follows a name, not brackets', int(word.start_pos or 0), '"(...) begins" or "ends"'
            )
        return Edge(of, cast(EdgeWord, str(word)), at=at)

    def _soon_after(self, tree: Tree[Token], at: int) -> LessThanAfter:
        event, limit, after = tree.children
        if not self.in_requirement:
            raise Unreadable('"less than ... after" is for requirements only; a rule measures time with a delay', at)
        time = _measured(cast("Token", limit))
        if time.tolerance not in (None, EXACTLY):
            raise Unreadable("this time is a limit and takes no tolerance", int(cast("Token", limit).start_pos or 0))
        return LessThanAfter(
            self._event(event, "less than"), Duration(time.nominal, EXACTLY), self._event(after, "after"), at=at
        )

    def _condition(self, tree: Tree[Token] | Token, word: str) -> Condition:
        built = self.build(cast("Tree[Token]", tree))
        if is_event(built):
            hint = 'an event with a condition: "X begins while Y"' if word == "and" else _EXPECTED_CONDITION
            raise Unreadable(f'"{word}" needs a condition here, and this is an event', _offset(built), hint)
        return cast(Condition, built)

    def _event(self, tree: Tree[Token] | Token, word: str) -> Event:
        built = self.build(cast("Tree[Token]", tree))
        if not is_event(built):
            raise Unreadable(f'"{word}" needs an event here, and this is a condition', _offset(built), _EXPECTED_EVENT)
        return cast(Event, built)
