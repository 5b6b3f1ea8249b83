"""Which things have to be looked at together on one of two machines: asked of every way of the inputs at once.

Law of this module: it says what ``proving.together`` says. Where a machine has too many ways that its inputs may be, it
is asked there, pair by pair.
"""

from __future__ import annotations

from itertools import combinations

from attrs import define, field

from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine
from boardgauge.proving.folded_together import happenings
from boardgauge.proving.folding import Folds, Kernel, kernel_of
from boardgauge.proving.together import Happens, Together
from boardgauge.proving.words import Truths, unpacked

Pairs = set[tuple[int, int]]


@define
class _OfKernel:
    """Of one kernel: the number of each end among its atoms, each two atoms that ever go together, and where."""

    ends: dict[tuple[int, int], int]
    pairs: list[tuple[int, int]]
    truths: Truths


@define
class Entwining:
    """Answers for one machine. With ``at_once`` false it is asked pair by pair, whatever the machine."""

    engine: Engine
    at_once: bool = True
    _folds: Folds | None = field(init=False)
    _together: Together = field(init=False)
    _inputs: dict[int, tuple[int, dict[tuple[bool, ...], int]]] = field(factory=dict)
    """For each level the input it is of, among those folded, and the atom of each way of that input."""
    _known: dict[Kernel, _OfKernel] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._folds = Folds(self.engine, True) if self.at_once and Folds.serves(self.engine, ()) else None
        self._together = Together(self.engine, [])
        if self._folds is not None:
            first = 0
            for number, (indices, values) in enumerate(self._folds.ways):
                atoms = {value: first + place for place, value in enumerate(values)}
                self._inputs.update(dict.fromkeys(indices, (number, atoms)))
                first += len(values)

    def pairs(self, config: Config, things: list[Happens]) -> Pairs:
        """Give each two of these things, by their numbers, that have to be looked at together."""
        nothing = Happens()
        some = [number for number, what in enumerate(things) if what != nothing]
        if self._folds is None:
            two = combinations(some, 2)
            return {(a, b) for a, b in two if self._together.entwined(config, things[a], things[b])}
        # A level that only the other machine reads does nothing here.
        some = [number for number in some if things[number].over or self._input(things[number]) is not None]
        rows = zip(config.levels, self.engine.machine.levels, strict=True)
        way = self._folds.number[tuple(v if row.index in self._inputs else row.at_rest for v, row in rows)]
        found = self._of_kernel(kernel_of(config))
        of_atom: dict[int, list[int]] = {}
        for number in some:
            of_atom.setdefault(self._atom(config, things[number], found), []).append(number)
        here: Pairs = set()
        for row in found.truths[:, way].nonzero()[0].tolist():
            one, other = found.pairs[row]
            for a in of_atom.get(one, ()):
                here.update((min(a, b), max(a, b)) for b in of_atom.get(other, ()))
        return here

    def _input(self, what: Happens) -> tuple[int, dict[tuple[bool, ...], int]] | None:
        return next((self._inputs[index] for index, _ in what.levels if index in self._inputs), None)

    def _atom(self, config: Config, what: Happens, found: _OfKernel) -> int:
        assert self._folds is not None
        if what.over:
            return found.ends[what.over[0][:2]]
        input_ = self._input(what)
        assert input_ is not None
        number, atoms = input_
        new = dict(what.levels)
        return atoms[tuple(new.get(index, config.levels[index]) for index in self._folds.ways[number][0])]

    def _of_kernel(self, kernel: Kernel) -> _OfKernel:
        found = self._known.get(kernel)
        if found is None:
            assert self._folds is not None
            combos, words = happenings(self._folds, kernel)
            twos = [row for row, combo in enumerate(combos) if len(combo) == 2]
            atoms = self._folds.here(kernel).atoms
            ends = {atom.end[:2]: number for number, atom in enumerate(atoms) if atom.end is not None}
            truths = unpacked(words[twos], len(self._folds.levels))
            pairs = [(combos[row][0], combos[row][1]) for row in twos]
            found = self._known[kernel] = _OfKernel(ends, pairs, truths)
        return found
