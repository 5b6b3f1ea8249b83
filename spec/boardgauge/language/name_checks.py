"""Checks of names: that they are names, that each stands once, and that each is used as its thing allows.

Law of this module: a check gives problems and changes nothing. What could not be read is still known by name, so one
mistake is not reported again wherever the
name is used.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from boardgauge.language.expressions import Comparison, Edge, Expression, InState, Name, Reached, parts
from boardgauge.language.keys import RESERVED
from boardgauge.language.model import Board
from boardgauge.language.places import Places
from boardgauge.language.problems import Problem, nearest_of
from boardgauge.language.scope import BARE, STATES, WITH_EDGES, Declared
from boardgauge.language.supply_words import COMES
from boardgauge.language.units import convertible, in_unit

LONGEST_NAME = 60
MOST_SUGGESTIONS = 200
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")


def check_declared(declared: Iterable[Declared]) -> Iterator[Problem]:
    """Check that names are names, are no words of the language, and stand once."""
    first: dict[str, Declared] = {}
    for item in sorted(declared, key=lambda item: item.at):
        if not _NAME.fullmatch(item.name) or len(item.name) > LONGEST_NAME:
            expected = f"a letter, then letters, digits and _, {LONGEST_NAME} at most"
            yield Problem(item.at, item.key, f"{item.name[:LONGEST_NAME]!r} is no name", expected)
        elif item.name.lower() in RESERVED:
            yield Problem(item.at, item.key, f"{item.name!r} is a word of the language and cannot be a name")
        if not item.shared:
            continue
        other = first.setdefault(item.name.lower(), item)
        if other is item:
            continue
        where = f"{other.key}, line {other.at.line}"
        if other.name == item.name:
            yield Problem(item.at, item.key, f"the name {item.name!r} is taken by {where}")
        else:
            yield Problem(item.at, item.key, f"the name {item.name!r} differs from {where}, in capital letters only")


def check_expressions(
    expressions: Iterable[tuple[str, Expression]], scope: dict[str, Declared], board: Board, places: Places
) -> Iterator[Problem]:
    """Check that expressions mention what exists, in the words that its kind has."""
    use = _Use(scope, board)
    for key, expression in expressions:
        for at, message, expected, nearest in use.of(expression):
            yield Problem(places.inside(key, at), key, message, expected, nearest)


Finding = tuple[int, str, "str | None", "str | None"]
Verdict = tuple[str, "str | None"] | None
Judge = Callable[[Declared], Verdict]


class _Use:
    """Looks how names are used in an expression."""

    def __init__(self, scope: dict[str, Declared], board: Board) -> None:
        self.scope = scope
        self.board = board
        self.suggestions = MOST_SUGGESTIONS

    def of(self, expression: Expression) -> Iterator[Finding]:
        match expression:
            case Edge(of=Name(name=name), word=word):
                yield from self._known(name, expression.at, lambda thing: self._edge(thing, word))
                return
            case Name(name=name):
                yield from self._known(name, expression.at, self._bare)
            case InState(name=name, state=state):
                yield from self._known(name, expression.at, lambda thing: self._state(thing, state))
            case Reached(name=name):
                yield from self._known(name, expression.at, self._reached)
            case Comparison(name=name):
                yield from self._known(name, expression.at, lambda thing: self._comparison(thing, expression))
        for part in parts(expression):
            yield from self.of(part)

    def _known(self, name: str, at: int, judge: Judge) -> Iterator[Finding]:
        thing = self.scope.get(name)
        if thing is None:
            self.suggestions -= 1
            nearest = nearest_of(name, (*self.scope, COMES)) if self.suggestions >= 0 else None
            yield at, f"there is nothing called {name!r}", None, nearest
        elif thing.kind is not None:
            verdict = judge(thing)
            if verdict is not None:
                yield at, *verdict, None

    def _bare(self, thing: Declared) -> Verdict:
        kind, name = thing.kind or "", thing.name
        if kind in BARE:
            return None
        if kind in STATES:
            first, second = STATES[kind]
            return f"a {kind} is not on or off", f'"{name} {first}" or "{name} {second}"'
        return _elsewhere(thing)

    def _edge(self, thing: Declared, word: str) -> Verdict:
        kind, name = thing.kind or "", thing.name
        if word in ("opens", "closes"):
            if kind in ("switch", "link"):
                return None
            return f'"{word}" is for a switch or a link, and {name!r} is {_a(kind)}', _edge_for(thing)
        if word == "expires":
            if thing.own_time is not False and kind in ("delay", "lockout", "mode", "step"):
                return None
            if kind in ("lockout", "mode", "step"):
                key = "at_most" if kind == "mode" else "lasts"
                return f"{name!r} has no {key}, so it has no time of its own that could expire", _edge_for(thing)
            return f'"expires" is for what has a time of its own, and {name!r} is {_a(kind)}', _edge_for(thing)
        if kind in WITH_EDGES:
            return None
        if kind in STATES:
            words = f'"{name} opens", "{name} closes"'
            return f'"{word}" is for what is on or off, and {name!r} is {_a(kind)}', words
        return _elsewhere(thing, word)

    def _state(self, thing: Declared, state: str) -> Verdict:
        kind, name = thing.kind or "", thing.name
        words = STATES.get(kind, ())
        if state in words:
            return None
        if words:
            return f"a {kind} is never {state}", f'"{name} {words[0]}" or "{name} {words[1]}"'
        if kind in BARE:
            return f"only an input has states; {name!r} is {_a(kind)}", f'"{name}" or "not {name}"'
        return _elsewhere(thing)

    def _reached(self, thing: Declared) -> Verdict:
        if thing.kind in ("count", "accumulator"):
            return None
        return f'"reached" is for a count or an accumulator, and {thing.name!r} is {_a(thing.kind or "")}', None

    def _comparison(self, thing: Declared, comparison: Comparison) -> Verdict:
        if thing.kind != "sensor":
            return f"only a sensor is compared, and {thing.name!r} is {_a(thing.kind or '')}", None
        sensor = self.board.inputs.get(thing.name)
        if sensor is None or sensor.unit is None:
            return None
        for limit in (comparison.limit, comparison.until):
            if limit is not None and not convertible(limit.unit, sensor.unit):
                return f"{limit.unit!r} does not go with the unit of {thing.name!r}", f"a limit in {sensor.unit}"
        if comparison.until is not None and _overlaps(comparison, sensor.unit):
            return "the limits overlap: there are values at which it holds and lets go at once", None
        return None


def _overlaps(comparison: Comparison, unit: str) -> bool:
    assert comparison.until is not None
    limit, until = in_unit(comparison.limit, unit).number, in_unit(comparison.until, unit).number
    if limit == until:
        return "=" in comparison.op and "=" in (comparison.until_op or "")
    return until > limit if comparison.op[0] == ">" else until < limit


def _a(kind: str) -> str:
    return f"an {kind}" if kind[:1] in "aeiou" else f"a {kind}"


def _edge_for(thing: Declared) -> str | None:
    if thing.kind in WITH_EDGES:
        return f'"{thing.name} begins", "{thing.name} ends"'
    if thing.kind in ("switch", "link"):
        return f'"{thing.name} opens", "{thing.name} closes"'
    return None


def _elsewhere(thing: Declared, word: str | None = None) -> Verdict:
    """Say what to write for a thing that is neither on nor off."""
    kind, name = thing.kind or "", thing.name
    match kind:
        case "sensor":
            example = f"({name} > ...) {word}" if word else f"{name} > ..."
            return f"{name!r} is a sensor and has numbers, not states", f'a comparison, "{example}"'
        case "count" | "accumulator":
            example = f"({name} reached) {word}" if word else f"{name} reached"
            return f"{name!r} is {_a(kind)}, which is reached or not", f'"{example}"'
        case "setting":
            return f"{name!r} is a setting, which is a time; only a rule's time can name it", None
        case "lamp":
            return f"{name!r} is a lamp; write the condition of the line that is meant", None
    return f"{name!r} is {_a(kind)}, which cannot stand here", None
