"""Reading a curve file.

Law of this module: everything wrong in a file is told at once, each thing with its line; a curve that was read is
monotone from end to end and its numbers are those of the file, digit by digit.

A curve file::

    language = 1

    [curve]
    id = "ntc-10k"
    title = "NTC thermistor, 10 kΩ at 25 °C"
    source = "where the numbers are from"
    from = "-40 °C"
    to = "125 °C"
    tolerance = "± 0.5 K"              # a new sensor: also ± 1 %, ± (0.3 K + 0.005 |t|), class B, exactly
    in_service = "± 1.5 K"             # one in use: beyond it is condemned; optional

and one of these four::

    [steinhart_hart]                   # 1/T = a + b ln R + c (ln R)³, ohms and kelvin
    a = 1.129241e-3
    b = 2.341077e-4
    c = 8.775468e-8

    [beta]
    ohms = "10 kΩ"
    at = "25 °C"
    beta = 3950                        # K, and the two temperatures between which it was measured
    between = ["25 °C", "50 °C"]
    tolerance = "± 1 %"                # of the beta itself; optional

    [table]
    temperature = "°C"                 # of the first column: °C, °F or K
    resistance = "Ω"                   # of the second: Ω or kΩ
    points = [[-40, 336103.2], [-39, 314558]]
    between = "beta line"              # or "straight line"; a rising table is straight unless said

    [platinum]                         # IEC 60751
    ohms = "100 Ω"                     # at 0 °C
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from os import PathLike, fspath
from typing import TypeVar, cast

from boardgauge.language.model import Spot
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import Problem, Unreadable, UnusableSpec, nearest_of
from boardgauge.language.quantities import Quantity
from boardgauge.language.text_file import text_of
from boardgauge.language.units import in_unit
from boardgauge.sensors.amounts import (
    ABSOLUTE_ZERO,
    Allowance,
    read_allowance,
    read_celsius,
    read_ohms,
    read_share,
)
from boardgauge.sensors.curve import PAST, Curve
from boardgauge.sensors.forms import Beta, Form, Platinum, SteinhartHart, Table

T = TypeVar("T")
FORMS = ("steinhart_hart", "beta", "table", "platinum")
MOST_POINTS = 2000
WARMEST = Fraction(2000)
_PLATINUM_ENDS = (Fraction(-200), Fraction(850))


class BadCurve(ValueError):
    """The curve cannot be used. ``problems`` has everything wrong with it."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(sorted(dict.fromkeys(problems), key=lambda one: (one.at, one.key, one.message)))
        super().__init__("\n".join(map(str, self.problems)))


def read_curve(path: str | PathLike[str]) -> Curve:
    """Read a curve file. Raises BadCurve."""
    try:
        text = text_of(path)
    except UnusableSpec as error:
        raise BadCurve(list(error.problems)) from None
    return curve_from(text, fspath(path))


def curve_from(text: str, file: str = "<text>") -> Curve:
    """Read a curve from text; ``file`` stands for it in messages. Raises BadCurve."""
    try:
        root = read_nodes(text, file)
    except UnusableSpec as error:
        raise BadCurve(list(error.problems)) from None
    return _Reader(root).curve()


class _Reader:
    def __init__(self, root: Node) -> None:
        self.root = root
        self.problems: list[Problem] = []

    def wrong(self, at: Spot, key: str, message: str, expected: str | None = None, nearest: str | None = None) -> None:
        self.problems.append(Problem(at, key, message, expected, nearest))

    def table(self, node: Node, key: str, keys: tuple[str, ...], optional: tuple[str, ...] = ()) -> dict[str, Node]:
        if not isinstance(node.value, dict):
            self.wrong(node.at, key, "this is not a table", f"[{key}]")
            return {}
        found = cast("dict[str, Node]", node.value)
        known = (*keys, *optional)
        for name, inner in found.items():
            if name not in known:
                path = f"{key}.{name}" if key else name
                near = nearest_of(name, known)
                self.wrong(inner.key_at, path, "there is no such key", None if near else ", ".join(known), near)
        for name in keys:
            if name not in found:
                self.wrong(node.key_at if key else Spot(node.source.file), f"{key}.{name}".strip("."), _MISSING[name])
        return found

    def take(self, table: dict[str, Node], path: str, name: str, read: Callable[[str], T], default: T) -> T:
        """Read a text by ``read``, which raises Unreadable."""
        node = table.get(name)
        if node is None:
            return default
        if not isinstance(node.value, str):
            self.wrong(node.at, f"{path}.{name}", f"{_told(node)} stands where a text is needed")
            return default
        try:
            return read(node.value)
        except Unreadable as error:
            self.wrong(node.at, f"{path}.{name}", error.message, error.expected)
            return default

    def number(self, table: dict[str, Node], path: str, name: str, least: Fraction | None, open_: bool) -> Fraction:
        node = table.get(name)
        if node is None:
            return Fraction(1)
        value = _number(node)
        if value is None:
            self.wrong(node.at, f"{path}.{name}", f"{_told(node)} stands where a number is needed")
            return Fraction(1)
        if least is not None and (value < least or (open_ and value == least)):
            self.wrong(node.at, f"{path}.{name}", f"{_told(node)} cannot be; the resistance would not fall throughout",
                       f"{'above' if open_ else 'not below'} {least}")  # fmt: skip
            return Fraction(1)
        return value

    def curve(self) -> Curve:
        root = self.table(self.root, "", ("language", "curve"), FORMS)
        if "language" in root and (root["language"].value != 1 or isinstance(root["language"].value, bool)):
            self.wrong(root["language"].at, "language", f"{root['language'].value!r} is not known", "1")
        forms = [name for name in FORMS if name in root]
        if len(forms) != 1:
            what = "this says " + (f"{' and '.join(forms)} at once" if forms else "nothing of how the curve runs")
            self.wrong(Spot(self.root.source.file), "", what, f"one of [{'], ['.join(FORMS)}]")
        keys = ("id", "title", "source", "tolerance")
        about = self.table(root["curve"], "curve", keys, ("from", "to", "in_service")) if "curve" in root else {}
        form = {"steinhart_hart": self.steinhart_hart, "beta": self.beta, "table": self.points,
                "platinum": self.platinum}[forms[0]](root[forms[0]]) if forms else None  # fmt: skip
        ends = _ends(form)
        low = self.take(about, "curve", "from", read_celsius, ends[0] if ends else None)
        high = self.take(about, "curve", "to", read_celsius, ends[1] if ends else None)
        if "curve" in root and ends is None:
            for name in ("from", "to"):
                if name not in about:
                    self.wrong(root["curve"].key_at, f"curve.{name}", _MISSING[name])
        tolerance = self.take(about, "curve", "tolerance", read_allowance, Allowance())
        in_service = self.take(about, "curve", "in_service", read_allowance, None)
        id_ = self.take(about, "curve", "id", _words, "")
        title = self.take(about, "curve", "title", _words, "")
        source = self.take(about, "curve", "source", _words, "")
        share = Fraction(0)
        if "beta" in root and isinstance(root["beta"].value, dict):
            share = self.take(cast("dict[str, Node]", root["beta"].value), "beta", "tolerance", read_share, share)
        if self.problems:
            raise BadCurve(self.problems)
        assert form is not None
        assert low is not None
        assert high is not None
        curve = Curve(
            id_, title, source, form, low, high, tolerance, in_service, share, self.root.source.file,
        )  # fmt: skip
        self.reach(curve, ends, about)
        if self.problems:
            raise BadCurve(self.problems)
        return curve

    def reach(self, curve: Curve, ends: tuple[Fraction, Fraction] | None, about: dict[str, Node]) -> None:
        """Refuse ends between which the curve is not one, or beyond what its form says."""
        at = about["to"].at if "to" in about else about["id"].at
        if curve.low >= curve.high:
            self.wrong(at, "curve.to", "the curve ends before it begins", "from the colder end to the warmer")
        elif curve.high > WARMEST:
            self.wrong(at, "curve.to", f"no resistance sensor is used above {WARMEST} °C")
        elif ends is not None and (curve.low < ends[0] or curve.high > ends[1]):
            told = f"{float(ends[0]):g} °C to {float(ends[1]):g} °C"
            self.wrong(at, "curve.from", "the curve says nothing so far out", f"ends inside {told}")
        else:
            cold, warm = curve.ohms(curve.low), curve.ohms(curve.high)
            if not (0 < cold < 1e12 and 0 < warm < 1e12) or (cold > warm) != curve.falls:
                what = f"from {cold:.4g} Ω to {warm:.4g} Ω: these are no resistances of a sensor"
                self.wrong(at, "curve", f"at its ends the curve runs {what}", "other numbers, or other ends")

    def steinhart_hart(self, node: Node) -> Form:
        table = self.table(node, "steinhart_hart", ("a", "b", "c"))
        zero = Fraction(0)
        return SteinhartHart(
            self.number(table, "steinhart_hart", "a", None, False),
            self.number(table, "steinhart_hart", "b", zero, True),
            self.number(table, "steinhart_hart", "c", zero, False),
        )

    def beta(self, node: Node) -> Form:
        table = self.table(node, "beta", ("ohms", "at", "beta", "between"), ("tolerance",))
        return Beta(
            self.take(table, "beta", "ohms", _some_ohms, Fraction(1)),
            self.take(table, "beta", "at", read_celsius, Fraction(25)),
            self.number(table, "beta", "beta", Fraction(0), True),
            self.pair(table),
        )

    def pair(self, table: dict[str, Node]) -> tuple[Fraction, Fraction]:
        usual = (Fraction(25), Fraction(50))
        node = table.get("between")
        if node is None:
            return usual
        expected = '["25 °C", "50 °C"]: two temperatures'
        items = cast("list[Node]", node.value) if isinstance(node.value, list) else []
        if len(items) != 2 or not all(isinstance(item.value, str) for item in items):
            self.wrong(node.at, "beta.between", f"{_told(node)} is no pair of temperatures", expected)
            return usual
        found = []
        for item in items:
            try:
                found.append(read_celsius(str(item.value)))
            except Unreadable as error:
                self.wrong(item.at, "beta.between", error.message, error.expected)
        if len(found) == 2 and found[0] == found[1]:
            self.wrong(node.at, "beta.between", "the two temperatures are one", expected)
        return (found[0], found[1]) if len(found) == 2 else usual

    def platinum(self, node: Node) -> Form:
        table = self.table(node, "platinum", ("ohms",))
        return Platinum(self.take(table, "platinum", "ohms", _some_ohms, Fraction(1)))

    def points(self, node: Node) -> Form:
        table = self.table(node, "table", ("points",), ("temperature", "resistance", "between"))
        scale = self.take(table, "table", "temperature", _one_of("°C", "°F", "K"), "°C")
        times = {"Ω": 1, "kΩ": 1000}[self.take(table, "table", "resistance", _one_of("Ω", "kΩ"), "Ω")]
        between = self.take(table, "table", "between", _one_of("beta line", "straight line"), "")
        rows = table.get("points")
        found: list[tuple[Fraction, Fraction, Node]] = []
        items = cast("list[Node]", rows.value) if rows is not None and isinstance(rows.value, list) else []
        if rows is not None and not 2 <= len(items) <= MOST_POINTS:
            self.wrong(rows.at, "table.points", f"there are {len(items)} points", f"2 to {MOST_POINTS} of them")
        for item in items[:MOST_POINTS]:
            pair = cast("list[Node]", item.value) if isinstance(item.value, list) else []
            numbers = [_number(one) for one in pair]
            if len(numbers) != 2 or numbers[0] is None or numbers[1] is None:
                self.wrong(item.at, "table.points", "this is no point", "[temperature, resistance], two numbers")
                continue
            celsius = in_unit(Quantity(numbers[0], scale), "°C").number
            if celsius <= ABSOLUTE_ZERO or numbers[1] <= 0:
                self.wrong(item.at, "table.points", "there is no such temperature or resistance")
                continue
            found.append((celsius, numbers[1] * times, item))
        self.in_order(found)
        points = tuple((celsius, ohms) for celsius, ohms, _ in found)
        if len(points) < 2:
            points = ((Fraction(0), Fraction(2)), (Fraction(1), Fraction(1)))
        falls = points[0][1] > points[-1][1]
        return Table(points, between == "straight line" or (not between and not falls))

    def in_order(self, found: list[tuple[Fraction, Fraction, Node]]) -> None:
        falls = len(found) > 1 and found[0][1] > found[-1][1]
        for (cold, first, _), (warm, second, node) in pairwise(found):
            if warm <= cold:
                self.wrong(node.at, "table.points", "this point is not warmer than the one before it")
            elif first == second or (first > second) != falls:
                way = "falls" if falls else "rises"
                what = f"the table {way} from its first point to its last, but not to this one"
                self.wrong(node.at, "table.points", what, "a resistance that goes one way only")


def _ends(form: Form | None) -> tuple[Fraction, Fraction] | None:
    if isinstance(form, Table):
        return form.points[0][0], form.points[-1][0]
    return _PLATINUM_ENDS if isinstance(form, Platinum) else None


def _told(node: Node) -> str:
    return "a table" if isinstance(node.value, dict) else "a list" if isinstance(node.value, list) else repr(node.value)


def _number(node: Node) -> Fraction | None:
    value = node.value
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value or abs(value) > 1e15:
        return None
    return Fraction(repr(value))


def _words(text: str) -> str:
    if not text.strip():
        raise Unreadable("this says nothing", 0, "some words")
    return " ".join(text.split())


def _some_ohms(text: str) -> Fraction:
    value = read_ohms(text)
    if not value:
        raise Unreadable("a sensor has some resistance", 0, '"10 kΩ"')
    return value


def _one_of(*words: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in words:
            raise Unreadable(f"{text!r} cannot stand here", 0, " or ".join(f'"{word}"' for word in words))
        return text

    return read


_MISSING = {
    "language": "this is missing: the version of the language, 1",
    "curve": "this is missing: the table that names the curve",
    "id": "this is missing: a short name",
    "title": "this is missing: the name for people",
    "source": "this is missing: where the numbers are from",
    "tolerance": 'this is missing: how far a new sensor may be off, "± 0.5 K"; "exactly" for not at all',
    "from": "this is missing: the coldest temperature it holds for",
    "to": "this is missing: the warmest temperature it holds for",
    "a": "this is missing",
    "b": "this is missing",
    "c": "this is missing",
    "ohms": "this is missing: the resistance",
    "at": "this is missing: the temperature of that resistance",
    "beta": "this is missing: the beta in kelvin",
    "between": "this is missing: a beta means nothing without its pair of temperatures",
    "points": "this is missing: the points, [[temperature, resistance], ...]",
}
"""Why each required key is needed."""

assert PAST < 70  # a platinum curve can be asked so far past its colder end and still has some resistance
