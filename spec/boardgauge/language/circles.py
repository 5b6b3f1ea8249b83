"""Circles among what is followed.

Law of this module: what is followed is worked out in the order of what reads what, so conditions and outputs with
``on``
may not read each other in a circle. What is kept breaks a circle, and so does a delay: those are worked out together.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.language.expressions import Condition, names
from boardgauge.language.model import Board
from boardgauge.language.places import Places
from boardgauge.language.problems import Problem

DEEPEST = 50


def check_circles(board: Board, places: Places) -> Iterator[Problem]:
    """Check that no condition and no output with ``on`` hangs on itself; each circle is reported once, spelled out."""
    meanings = _meanings(board)
    reads = {name: _reads(meaning, meanings) for name, (_, meaning) in meanings.items()}
    done: set[str] = set()
    found = False
    for start in reads:
        circle = _circle_from(start, reads, done)
        if circle:
            key = meanings[circle[0]][0]
            chain = " -> ".join([*circle, circle[0]])
            message = f"it is worked out from itself: {chain}" if len(circle) > 1 else "it is worked out from itself"
            found = True
            yield Problem(places.of(key), key, message, "a rule, which is kept, or a delay somewhere in the circle")
    if not found:
        yield from _check_depth(reads, meanings, places)


def _check_depth(
    reads: dict[str, list[str]], meanings: dict[str, tuple[str, Condition]], places: Places
) -> Iterator[Problem]:
    """Check that names do not stand too deep on one another; the reads go in no circle."""
    depths: dict[str, int] = {}
    waiting = list(reads)
    while waiting:
        name = waiting[-1]
        open_ = [other for other in reads[name] if other not in depths]
        if open_:
            waiting += open_
            continue
        waiting.pop()
        if name not in depths:
            depths[name] = 1 + max((depths[other] for other in reads[name]), default=0)
            if depths[name] == DEEPEST + 1:
                key = meanings[name][0]
                yield Problem(places.of(key), key, f"conditions stand more than {DEEPEST} deep on one another")


def _meanings(board: Board) -> dict[str, tuple[str, Condition]]:
    found = {id_: (f"conditions.{id_}.is", item.is_) for id_, item in board.conditions.items()}
    for id_, output in board.outputs.items():
        if output.on is not None:
            found[id_] = (f"outputs.{id_}.on", output.on)
    return found


def _reads(meaning: Condition, known: dict[str, tuple[str, Condition]]) -> list[str]:
    return [name for name in dict.fromkeys(name for name, _ in names(meaning)) if name in known]


def _circle_from(start: str, reads: dict[str, list[str]], done: set[str]) -> list[str]:
    """Give the first circle found from a start, or none; what was looked at goes into ``done``. Needs no recursion."""
    path: list[str] = []
    stack: list[tuple[str, Iterator[str]]] = []
    circle: list[str] = []

    def enter(name: str) -> None:
        done.add(name)
        path.append(name)
        stack.append((name, iter(reads[name])))

    if start not in done:
        enter(start)
    while stack:
        for name in stack[-1][1]:
            if name in path and not circle:
                circle = path[path.index(name) :]
            elif name not in done:
                enter(name)
                break
        else:
            stack.pop()
            path.pop()
    return circle
