"""The checks a board must pass before anything is built of it.

Law of this module: it says which checks there are; each family of them has a module of its own. A check never raises
and never
stops the others, so that one run finds everything, also in a board of which parts could not be read.
"""

from __future__ import annotations

from collections.abc import Iterable

from boardgauge.language.circles import check_circles
from boardgauge.language.expressions import Expression
from boardgauge.language.given import check_given
from boardgauge.language.model import Board
from boardgauge.language.name_checks import check_declared, check_expressions
from boardgauge.language.places import Places
from boardgauge.language.problems import Problem
from boardgauge.language.reference_checks import ReferenceChecks
from boardgauge.language.scope import Declared, declared_by, expressions_of, scope_of


def check(
    board: Board,
    places: Places | None = None,
    declared: Iterable[Declared] | None = None,
    expressions: Iterable[tuple[str, Expression]] | None = None,
) -> tuple[Problem, ...]:
    """Give everything that is wrong with a board put together of well-formed parts.

    A board made by hand needs only the first argument. The reader gives also where things stand, and which names and
    expressions there are in tables that
    could not be read as a whole.
    """
    places = places or Places()
    names = list(declared_by(board) if declared is None else declared)
    scope = scope_of(board, names)
    circles = tuple(check_circles(board, places))
    return (
        *check_declared(names),
        *check_expressions(expressions_of(board) if expressions is None else expressions, scope, board, places),
        *ReferenceChecks(board, scope, places).problems(),
        *circles,
        # What hangs on itself has no value in any combination, so there is nothing to try.
        *(() if circles else check_given(board, places)),
    )
