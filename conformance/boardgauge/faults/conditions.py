"""Faults of conditions and events: a part ignored, stuck, inverted; an event missed, or another one heeded.

Law of this module: every part of every expression that says what the board does is taken in turn, in each of its ways
to fail, alone.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.faults.editing import Site, sites
from boardgauge.faults.fault import Fault
from boardgauge.faults.folding import NO_EVENT, constant, replaced
from boardgauge.faults.naming import clause_of, of_site, written
from boardgauge.language.expressions import (
    And,
    Comparison,
    Edge,
    EdgeWord,
    EventOr,
    EventWhile,
    Expression,
    For,
    InState,
    Name,
    Not,
    Or,
    PowerUp,
    Reached,
    TriggerOr,
    parts,
)
from boardgauge.language.model import Board

Path = tuple[Expression, ...]
_OTHER: dict[EdgeWord, EdgeWord] = {"begins": "ends", "ends": "begins", "opens": "closes", "closes": "opens"}


def condition_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of every expression of a board."""
    for site in sites(board):
        for number, (node, path) in enumerate(_nodes(site.expression)):
            yield from _Part(board, site, node, path, number).faults()


def _nodes(expression: Expression, path: Path = ()) -> Iterator[tuple[Expression, Path]]:
    yield expression, path
    for part in parts(expression):
        yield from _nodes(part, (*path, expression))


@frozen
class _Part:
    """One part of an expression; ``path`` are the parts it stands in, outermost first."""

    board: Board
    site: Site
    node: Expression
    path: Path
    number: int

    def faults(self) -> Iterator[Fault]:
        match self.node:
            case Name() | InState() | Reached() | Comparison() | For():
                yield from self._stuck()
                if self.path and isinstance(self.path[-1], Edge):
                    # The other edge of it, which the edge itself takes up.
                    return
                yield self._fault("inverted", f"{self._where} takes {self._what} the wrong way round", Not(self.node))
            case And() | Or():
                yield from self._stuck()
            case PowerUp():
                yield self._missed()
            case Edge(of=of, word=word):
                yield self._missed()
                for other in _others(word):
                    new = Edge(of, other)
                    name = f"{self._where} goes by {written(new, self.board)} in place of {self._what}"
                    yield self._fault(f"by {other}", name, new, "wrong event")
            case EventWhile() | EventOr() if not self.path:
                yield self._missed()

    @property
    def _where(self) -> str:
        return of_site(self.board, self.site)

    @property
    def _what(self) -> str:
        return written(self.node, self.board)

    def _fault(self, how: str, name: str, new: Expression, group: str = "part inverted") -> Fault:
        site, node = self.site, self.node
        changed = replaced(site.expression, lambda e: new if e is node else None)
        key = f"{site.id}.{site.key}"
        if site.index >= 0:
            key += f".{site.index + 1}"
        if self.path:
            key += f".{self.number}"
        clause = clause_of(self.board, site.section, site.id, site.index)
        return Fault(f"{key}.{how.replace(' ', '-')}", name, group, site.id, clause, site.put(self.board, changed))

    def _missed(self) -> Fault:
        if self.path:
            return self._fault("missed", f"{self._where} does not heed {self._what}", NO_EVENT, "part ignored")
        return self._fault("missed", f"{self._where} never comes", NO_EVENT, "part stuck")

    def _stuck(self) -> Iterator[Fault]:
        for value in (True, False):
            how = "always" if value else "never"
            if self._ignored_if(value):
                name, group = f"{self._where} does not heed {self._what}", "part ignored"
            elif not self.path:
                name, group = f"{self._where} {self._wholly(value)}", "part stuck"
            else:
                name, group = f"{self._where} takes {self._what} as {how} so", "part stuck"
            yield self._fault(how, name, constant(value), group)

    def _wholly(self, value: bool) -> str:
        site = self.site
        if site.section == "lamps":
            return f"is {'always' if value else 'never'} shown"
        if site.section == "conditions":
            return f"{'always' if value else 'never'} holds"
        if site.key == "on":
            return f"is {'always' if value else 'never'} commanded"
        return "comes whenever it can" if value else "never comes"

    def _ignored_if(self, value: bool) -> bool:
        """Tell whether the part, stuck so, has no say any more in what it is a part of."""
        for outer in reversed(self.path):
            if not isinstance(outer, Not):
                return isinstance(outer, (And, EventWhile)) if value else isinstance(outer, (Or, TriggerOr))
            value = not value
        return False


def _others(word: EdgeWord) -> tuple[EdgeWord, ...]:
    if word == "changes":
        return ("begins", "ends")
    return ("ends",) if word == "expires" else (_OTHER[word],)
