"""A timing chart as a value: what is drawn, before anything is placed on paper.

Law of this module: these values hold what a chart shows and decide nothing. Times are microseconds, on whatever clock
``zero`` is the zero of; nothing here knows of recordings or judgements.
"""

from __future__ import annotations

from attrs import field, frozen


@frozen
class Edge:
    """A change to ``value`` (None: no longer known), known to lie in [earliest, latest]."""

    earliest: int
    latest: int
    value: bool | None


@frozen
class Band:
    """A stretch shown by its description and not change by change: a lamp that goes on blinking.

    ``brief`` is the same in fewer letters, for where ``text`` has no room.
    """

    start: int
    end: int
    text: str
    brief: str = ""


@frozen
class Ramp:
    """One run of a timing: ``points`` are (time, part of it that has run), rising from where it begins.

    ``over``: it ran to its end, where the last point stands; if not it was cut short there, or ``cut`` is false and it
    goes on beyond the chart. ``window`` is when the spec lets it be over (None: it was cut short before).
    """

    points: tuple[tuple[int, float], ...]
    over: bool
    cut: bool = False
    window: tuple[int, int] | None = None


@frozen
class Curve:
    """What a sensor measures: (time, number) from change to change; NaN where it is not known.

    ``limits`` are (number, words), each drawn as a dashed line; ``steps``: a number holds until the next one.
    """

    points: tuple[tuple[int, float], ...]
    limits: tuple[tuple[float, str], ...] = ()
    unit: str = ""
    steps: bool = True


@frozen
class Row:
    """One signal. ``low`` and ``high`` name its two levels, ``detail`` stands small below its name.

    ``initial`` is the level where the chart begins. Changes inside a band, its ends included, are not drawn one by one.
    A row with ``timing`` has ramps in place of levels, one with a ``curve`` that.
    """

    id: str
    name: str
    initial: bool | None
    edges: tuple[Edge, ...] = ()
    low: str = "off"
    high: str = "on"
    detail: str = ""
    bands: tuple[Band, ...] = ()
    emphasised: bool = False
    timing: bool = False
    ramps: tuple[Ramp, ...] = ()
    curve: Curve | None = None

    def drawn(self) -> tuple[Edge, ...]:
        """Give the changes that are drawn one by one: those in no band."""
        return tuple(e for e in self.edges if not any(b.start <= e.earliest and e.latest <= b.end for b in self.bands))


@frozen
class Window:
    """When a change is allowed on a row: a hatched band from ``earliest`` to ``latest`` with its limits written."""

    row: str
    earliest: int
    latest: int
    label: str


@frozen
class Arrow:
    """What a row is looked at for: an arrow at ``time``, or a bracket over [time, until]."""

    row: str
    time: int
    label: str
    until: int | None = None


@frozen
class Line:
    """A moment that matters to every row: a dashed line, or two where it lies somewhere in [earliest, latest]."""

    earliest: int
    latest: int
    label: str


@frozen
class Cause:
    """What brought a change about: an arrow from a moment of a row to the change on another."""

    source: str
    at: int
    target: str
    time: int


@frozen
class Chart:
    """One timing chart, from ``start`` to ``end`` without what lies inside ``breaks``.

    Times are written in seconds from ``zero``. ``notes`` are printed below (heading, text), ``footer`` last.
    """

    title: str
    start: int
    end: int
    rows: tuple[Row, ...]
    zero: int = 0
    subtitle: str = ""
    windows: tuple[Window, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    lines: tuple[Line, ...] = ()
    causes: tuple[Cause, ...] = ()
    breaks: tuple[tuple[int, int], ...] = ()
    notes: tuple[tuple[str, str], ...] = ()
    footer: str = ""
    axis: str = field(default="seconds from the start of the recording")
