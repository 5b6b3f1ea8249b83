"""Which configurations behave alike from now on, whatever comes: nothing seen from outside ever tells them apart.

Law of this module: two configurations are alike if they look alike and every step of the one can be taken by the other
and leads to what is alike again (bisimulation on the explored machine). How long it takes is left out, and the end of
a timing that changes nothing is no step.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence

from boardgauge.machine.explore import Edge, Step

_TIME = -1


def behaviours(looks: Sequence[Hashable], edges: Sequence[Edge]) -> list[int]:
    """Give each configuration the number of its behaviour; ``looks`` are what each shows."""
    labels: dict[Step, int] = {}
    leaving: list[list[tuple[int, int]]] = [[] for _ in looks]
    for edge in edges:
        touched = edge.step.levels or edge.step.power is not None
        label = labels.setdefault(edge.step, len(labels)) if touched else _TIME
        leaving[edge.source].append((label, edge.target))
    numbers = _numbered(looks)
    while True:
        finer = _numbered([(numbers[n], frozenset(_after(numbers, n, steps))) for n, steps in enumerate(leaving)])
        if max(finer, default=0) == max(numbers, default=0):
            return finer
        numbers = finer


def _after(numbers: list[int], source: int, steps: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    for label, target in steps:
        if label != _TIME or numbers[target] != numbers[source]:
            yield label, numbers[target]


def _numbered(keys: Sequence[Hashable]) -> list[int]:
    number: dict[Hashable, int] = {}
    return [number.setdefault(key, len(number)) for key in keys]
