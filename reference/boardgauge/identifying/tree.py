"""The decision tree: from everything a board can be in down to one situation, or to what nothing tells apart.

Law of this module: every question is the next experiment, so a tree asks what ``identify`` asks. A branch that ends
with more than one situation says so. Questions that leave everything as it was are not asked twice.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.identifying.experiments import Experiment, next_experiment
from boardgauge.identifying.knowledge import Candidate, Knowledge, Situation

MOST_QUESTIONS = 12
"""So many questions in a row, and no more."""
_MOST_CHANGES = 2


@frozen
class Leaf:
    """What is left: one situation, or several that no further question tells apart."""

    situations: tuple[Situation, ...]
    left: frozenset[Candidate]


@frozen
class Question:
    """An experiment, and for each of its outcomes (text) what is left then."""

    experiment: Experiment
    answers: tuple[tuple[str, Node], ...]


Node = Leaf | Question


def decision_tree(
    known: Knowledge, left: frozenset[Candidate], *, pokes: bool = True, most: int = MOST_QUESTIONS
) -> Node:
    """Give the tree for what is left. ``pokes``: whether inputs and supply may be changed."""
    return _grow(known, left, pokes, most, frozenset(), 0, {})


_Made = dict[tuple[frozenset[Candidate], frozenset[str], int], Node]


def _grow(
    known: Knowledge,
    left: frozenset[Candidate],
    pokes: bool,
    most: int,
    asked: frozenset[str],
    changed: int,
    made: _Made,
) -> Node:
    key = (left, asked, changed)
    if key in made:
        return made[key]
    experiment = next_experiment(known, left, asked, pokes=pokes and changed < _MOST_CHANGES) if most else None
    node: Node
    if experiment is None:
        node = Leaf(known.origins(left), left)
    else:
        # After time has passed or a hand has moved, what was asked before may be asked again.
        moved = experiment.kind not in {"look", "measure"}
        now = frozenset[str]() if moved else asked | {experiment.id}
        answers = tuple(
            (outcome.text, _grow(known, outcome.left, pokes, most - 1, now, changed + moved, made))
            for outcome in experiment.outcomes
        )
        node = Question(experiment, answers)
    made[key] = node
    return node
