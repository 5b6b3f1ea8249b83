"""Numbers that write down what is done with them.

Law of this module: a symbol has no way to tell its value but by comparing it, and each comparison is written down. So
a computation done on symbols goes the same way for all numbers for which these comparisons come out the same. Anything
else that would need the value (to look it up, to print it) is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NoReturn

ZERO = -1
"""The node that stands for nought: a plain number is so much beyond it."""

FAR = 1 << 62
"""Farther apart than two times can be."""

Place = tuple[int, int]
"""A node and what is to be added to it."""


class Untraceable(Exception):
    """Something wanted to know a number that only symbols stand for."""


class Tape:
    """What was done with the symbols of one computation: nodes that are worked out, and comparisons that came out."""

    def __init__(self) -> None:
        self.values: list[int] = []
        self.nodes: list[tuple[str, tuple[Place, ...]]] = []
        self.guards: list[tuple[str, int, int, int]] = []
        self._made: dict[tuple[str, tuple[Place, ...]], int] = {}
        self._apart: dict[tuple[int, int], tuple[int, int]] = {}

    def given(self, text: str, value: int) -> Symbol:
        """Take in a number; ``text`` is how the made function comes by it."""
        return Symbol(self, self._node(text, (), lambda: value), 0)

    def called(self, text: str, arguments: Sequence[int], do: Callable[..., int]) -> Symbol:
        """Ask something outside, that answers the same for the same numbers."""
        places = tuple(place_of(a) for a in arguments)
        return Symbol(self, self._node(text, places, lambda: do(*(self.value(p) for p in places))), 0)

    def value(self, place: Place) -> int:
        """Give what stands at a place for the numbers given."""
        return place[1] + (self.values[place[0]] if place[0] != ZERO else 0)

    def made(self, text: str, places: tuple[Place, ...], value: int) -> Symbol:
        """Give the symbol of an operation; the same operation on the same symbols is done once."""
        return Symbol(self, self._node(text, places, lambda: value), 0)

    def _node(self, text: str, places: tuple[Place, ...], value: Callable[[], int]) -> int:
        key = (text, places)
        if key not in self._made:
            self._made[key] = len(self.nodes)
            self.nodes.append(key)
            self.values.append(value())
        return self._made[key]

    # -- comparisons -----------------------------------------------------------------------------------------------

    def apart(self, one: int, other: int) -> tuple[int, int]:
        """Give between which bounds the difference of two nodes is known to lie."""
        if one <= other:
            return self._apart.get((one, other), (-FAR, FAR))
        low, high = self._apart.get((other, one), (-FAR, FAR))
        return -high, -low

    def learn(self, one: int, other: int, low: int, high: int) -> None:
        """Note that the difference of two nodes lies between these."""
        known = self.apart(one, other)
        low, high = max(low, known[0]), min(high, known[1])
        if one <= other:
            self._apart[one, other] = (low, high)
        else:
            self._apart[other, one] = (-high, -low)

    def less(self, one: Place, other: Place) -> bool:
        """Tell whether one place is less than another, and write it down if that was not known yet."""
        by = other[1] - one[1]
        if one[0] == other[0]:
            return by > 0
        low, high = self.apart(one[0], other[0])
        if high < by:
            return True
        if low >= by:
            return False
        found = self.value((one[0], 0)) - self.value((other[0], 0)) < by
        self.guards.append(("<" if found else ">=", one[0], other[0], by))
        self.learn(one[0], other[0], *((-FAR, by - 1) if found else (by, FAR)))
        return found

    def equal(self, one: Place, other: Place) -> bool:
        """Tell whether two places are equal, and write it down if that was not known yet."""
        by = other[1] - one[1]
        if one[0] == other[0]:
            return by == 0
        low, high = self.apart(one[0], other[0])
        if low == high == by:
            return True
        if not low <= by <= high:
            return False
        found = self.value((one[0], 0)) - self.value((other[0], 0)) == by
        self.guards.append(("==" if found else "!=", one[0], other[0], by))
        if found:
            self.learn(one[0], other[0], by, by)
        return found


class Symbol:
    """A number of a tape: a node and what is added to it."""

    __slots__ = ("node", "offset", "tape")

    def __init__(self, tape: Tape, node: int, offset: int) -> None:
        self.tape, self.node, self.offset = tape, node, offset

    def __add__(self, other: int | Symbol) -> int | Symbol:
        if type(other) is int:
            return Symbol(self.tape, self.node, self.offset + other)
        if type(other) is Symbol:
            one, two = sorted((self.node, other.node))
            values = self.tape.values
            return self.tape.made("+", ((one, 0), (two, 0)), values[one] + values[two]) + (self.offset + other.offset)
        return NotImplemented

    __radd__ = __add__

    def __neg__(self) -> int | Symbol:
        return 0 - self

    def __sub__(self, other: int | Symbol) -> int | Symbol:
        if type(other) is int:
            return Symbol(self.tape, self.node, self.offset - other)
        if type(other) is Symbol:
            if self.node == other.node:
                return self.offset - other.offset
            values = self.tape.values
            made = self.tape.made("-", ((self.node, 0), (other.node, 0)), values[self.node] - values[other.node])
            return made + (self.offset - other.offset)
        return NotImplemented

    def __rsub__(self, other: int) -> int | Symbol:
        if type(other) is int:
            made = self.tape.made("-", ((ZERO, 0), (self.node, 0)), -self.tape.values[self.node])
            return made + (other - self.offset)
        return NotImplemented

    def __mul__(self, other: int | Symbol) -> int | Symbol:
        if type(other) is int and other in {0, 1}:
            return self if other else 0
        return self._made("*", self, other, lambda a, b: a * b)

    __rmul__ = __mul__

    def __floordiv__(self, other: int | Symbol) -> int | Symbol:
        return self._made("//", self, other, lambda a, b: a // b)

    def __rfloordiv__(self, other: int | Symbol) -> int | Symbol:
        return self._made("//", other, self, lambda a, b: a // b)

    def _made(self, text: str, one: int | Symbol, two: int | Symbol, do: Callable[[int, int], int]) -> int | Symbol:
        places = place_of(one), place_of(two)
        return self.tape.made(text, places, do(self.tape.value(places[0]), self.tape.value(places[1])))

    def __lt__(self, other: object) -> bool:
        return self.tape.less((self.node, self.offset), place_of(other))

    def __gt__(self, other: object) -> bool:
        return self.tape.less(place_of(other), (self.node, self.offset))

    def __le__(self, other: object) -> bool:
        return not self > other

    def __ge__(self, other: object) -> bool:
        return not self < other

    def __eq__(self, other: object) -> bool:
        return self.tape.equal((self.node, self.offset), place_of(other))

    def __ne__(self, other: object) -> bool:
        return not self == other

    def _refused(self, *_: object) -> NoReturn:
        raise Untraceable("a number was asked for that only a symbol stands for")

    __hash__ = __bool__ = __index__ = __int__ = __float__ = __abs__ = __repr__ = __str__ = __format__ = _refused


def place_of(number: object) -> Place:
    """Give the place of a symbol or of a plain number."""
    if type(number) is Symbol:
        return number.node, number.offset
    if type(number) is int:
        return ZERO, number
    raise Untraceable(f"a symbol met {type(number).__name__}")


def is_symbol(value: object) -> bool:
    """Tell whether a value is a symbol."""
    return type(value) is Symbol


def later(one: int, other: int) -> int:
    """Give the greater of two times: of symbols without asking which it is."""
    if type(one) is int and type(other) is int:
        return one if one >= other else other
    return _extreme("max", one, other)


def earlier(one: int, other: int) -> int:
    """Give the lesser of two times: of symbols without asking which it is."""
    if type(one) is int and type(other) is int:
        return one if one <= other else other
    return _extreme("min", one, other)


def _extreme(text: str, one: int | Symbol, other: int | Symbol) -> int:
    if type(one) is not Symbol:
        one, other = other, one
    assert type(one) is Symbol
    tape, (node, offset), (second, by) = one.tape, place_of(one), place_of(other)
    by -= offset
    low, high = (by, by) if node == second else tape.apart(node, second)
    most = text == "max"
    found: int | Symbol
    if node == second:
        found = one if (by <= 0) == most else other
    elif low >= by:
        found = one if most else other
    elif high <= by:
        found = other if most else one
    else:
        places = (node, 0), (second, by)
        values = tape.value(places[0]), tape.value(places[1])
        made = tape.made(text, places, max(values) if most else min(values))
        least, greatest = (0, FAR) if most else (-FAR, 0)
        tape.learn(made.node, node, least, greatest)
        tape.learn(made.node, second, *((by, FAR) if most else (-FAR, by)))
        found = made + offset
    return found  # type: ignore[return-value]
