"""What may happen at one moment in a kernel, for every way of the inputs at once: see ``proving.together``.

Law of this module: what ``Together`` has happen at one moment happens here; two things are left apart only where in
either order, and together, they do the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from boardgauge.proving.folding import Atom, Folds, Kernel, silent
from boardgauge.proving.many import Done
from boardgauge.proving.words import NO, YES, Bits, Words, packed

Combos = tuple[list[tuple[int, ...]], Words]
"""Up to three atoms each, by their numbers, and in which ways of the inputs they happen together."""


def happenings(folds: Folds, kernel: Kernel) -> Combos:
    """Give what may happen in a kernel: each thing alone, and up to three together where that is not the same."""
    found = folds.together.get(kernel)
    if found is None:
        found = folds.together[kernel] = _worked_out(folds, kernel)
    return found


def _worked_out(folds: Folds, kernel: Kernel) -> Combos:
    atoms = folds.here(kernel).atoms
    number = len(atoms)
    alone = np.full((number, folds.width), YES)
    alone[: len(folds.inputs)] = packed(folds.to != np.arange(len(folds.levels)))
    combos: list[tuple[int, ...]] = [(n,) for n in range(number)]
    if number < 2:
        return combos, alone
    pairs = _entwined(folds, kernel, atoms, alone)
    some = [pair for pair in combinations(range(number), 2) if pairs[pair].any()]
    threes, together = _threes(atoms, pairs)
    words = [pairs[pair][None] for pair in some]
    return [*combos, *some, *threes], np.concatenate((alone, *words, together))


def due(atoms: Sequence[Atom], combos: Sequence[tuple[int, ...]]) -> tuple[dict[int, Words], dict[int, Words]]:
    """Give which timings are over, and of which counts an event is too old, in each of these: a column each."""
    expired: dict[int, Words] = {}
    dropped: dict[int, Words] = {}
    for row, combo in enumerate(combos):
        for number in combo:
            end = atoms[number].end
            if end is None:
                continue
            table, key = (expired, end.timing) if end.region < 0 else (dropped, end.region)
            table.setdefault(key, np.zeros((len(combos), 1), dtype=np.uint64))[row] = YES
    return expired, dropped


def _entwined(folds: Folds, kernel: Kernel, atoms: tuple[Atom, ...], alone: Words) -> Words:
    """Tell of each two atoms in which ways of the inputs they have to be looked at together.

    In an array of both, the first index is that of what comes second.
    """
    number, width = alone.shape
    shape = (number, number, width)
    each = [(n,) for n in range(number)]
    standing, (expired, dropped) = folds.standing(kernel), due(atoms, each)
    after = folds.levels_after(folds.ways_after(each, atoms))
    first = folds.many.settle(standing, after, expired, dropped, causes=False)
    levels = []
    for level, column in enumerate(after):
        both = np.broadcast_to(column, shape).copy()
        for index, atom in enumerate(atoms):
            if atom.end is None and level in folds.ways[atom.input][0]:
                both[index] = column[index]
        levels.append(both)
    then, drops = ({key: column[:, None] for key, column in table.items()} for table in (expired, dropped))
    last = folds.many.settle(first.standing, levels, then, drops, causes=False)
    then, drops = ({key: column[:, None] | column for key, column in table.items()} for table in (expired, dropped))
    together = folds.many.settle(standing, levels, then, drops, causes=False)

    def turned(bits: Bits) -> Bits:
        return np.broadcast_to(bits, shape).swapaxes(0, 1)

    def of_the_second(bits: Bits) -> Bits:
        return np.broadcast_to(bits, (number, width))[:, None]

    comes = _still_comes(atoms, first, shape)
    same = comes & turned(comes)
    for column in last.standing.columns():
        same = same & ~(column ^ turned(column))
    # What does nothing, before or after the other, and leaves the other as it is, does nothing with it.
    nothing = silent(standing, first) & turned(silent(first.standing, last)) & _alike(last, first, of_the_second)
    as_one = _adds_up(first, last, together)
    as_one = as_one & turned(as_one) & ~together.refused
    same = same & (nothing | turned(nothing) | as_one) & ~last.refused & ~turned(last.refused)
    same = same & ~first.refused & ~of_the_second(first.refused)
    entwined = np.asarray(~same & alone & alone[:, None])
    kinds = _kinds(atoms)
    entwined[kinds[:, None] == kinds] = NO
    return entwined


def _kinds(atoms: Sequence[Atom]) -> Words:
    """Give a number for each atom; what has the same never happens at one moment."""
    return np.array([atom.input if atom.end is None else -1 - n for n, atom in enumerate(atoms)])


def _still_comes(atoms: Sequence[Atom], first: Done, shape: tuple[int, ...]) -> Words:
    """Tell where what comes second still can, after the first."""
    comes = np.full(shape, YES)
    for index, atom in enumerate(atoms):
        if atom.end is not None:
            over = atom.end
            left = first.standing.running[over.timing] if over.region < 0 else ~first.standing.places[over.region][0]
            comes[index] = left
    return comes


def _threes(atoms: Sequence[Atom], pairs: Words) -> Combos:
    """Give three that hang together: two at least of their pairs are looked at together."""
    kinds = _kinds(atoms)
    met = np.triu(pairs.any(axis=2), 1)
    met |= met.T
    one, other, third = np.array(list(combinations(range(len(atoms)), 3)), dtype=np.intp).reshape(-1, 3).T
    apart = (kinds[one] != kinds[other]) & (kinds[one] != kinds[third]) & (kinds[other] != kinds[third])
    enough = met[one, other].astype(int) + met[one, third] + met[other, third] > 1
    some = np.flatnonzero(apart & enough)
    one, other, third = one[some], other[some], third[some]
    first, second, last = pairs[one, other], pairs[one, third], pairs[other, third]
    together = (first & second) | (first & last) | (second & last)
    some = np.flatnonzero(together.any(axis=1))
    rows = np.stack((one[some], other[some], third[some]), axis=1)
    return [tuple(row) for row in rows.tolist()], together[some]


def _alike(one: Done, other: Done, shaped: Callable[[Bits], Bits]) -> Bits:
    """Tell where two instants did the same, apart from the levels."""
    differ: Bits = NO
    for a, b in zip(one.standing.columns(), other.standing.columns(), strict=True):
        differ = differ | (a ^ shaped(b))
    for first, second in zip(one.tables(), other.tables(), strict=True):
        for key in {*first, *second}:
            differ = differ | (first.get(key, NO) ^ shaped(second.get(key, NO)))
    for command, bits in one.commands.items():
        differ = differ | (bits ^ shaped(other.commands[command]))
    return ~differ


def _adds_up(alone: Done, after: Done, together: Done) -> Bits:
    """Tell where one thing and then another did what both did together."""
    differ: Bits = NO
    for a, b in zip(after.standing.columns(), together.standing.columns(), strict=True):
        differ = differ | (a ^ b)
    for name in ("begun", "emptied", "counted", "forgot", "broken"):
        first, second, both = (getattr(done, name) for done in (alone, after, together))
        for key in {*first, *second, *both}:
            differ = differ | ((first.get(key, NO) | second.get(key, NO)) ^ both.get(key, NO))
    for key in alone.commands:
        one, other = alone.commands[key], after.commands[key]
        differ = differ | (one & other) | ((one | other) ^ together.commands[key])
    return ~differ
