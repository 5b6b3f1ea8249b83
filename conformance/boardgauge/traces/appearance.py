"""What a channel looks like, without a board: kind, levels, changes, pulses.

Law of this module: it describes what is there and judges nothing; what it takes for pulses of the line frequency, for
levels or for bounce is a reading with a stated measure, for a person to confirm. A channel is gone through in pieces
(``passes``), however long it is, and looks the same in pieces of any size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Literal

import numpy as np
from attrs import evolve, frozen

from boardgauge.traces.passes import (
    Pieces,
    chosen,
    known_only,
    longest,
    ordered,
    overlapping,
    rises,
    runs,
    steps,
    stretches,
    unordered,
)
from boardgauge.traces.recording import Channel, Recording, Times, Values

Kind = Literal["never known", "constant", "logic", "measured", "line frequency"]
LINES = (50, 60)
MOST_PULSES = 25
"""So many pulses in a row at a line frequency are not chance."""
BOUNCE_WITHIN = 20_000
"""Edges so close (microseconds) may be one contact that bounces: contacts settle in a few ms (common practice)."""
_BINS = 200
Weighed = Callable[[], Iterator[tuple[Values, Times]]]
"""Values with their weights, in pieces; each time from the beginning."""


@frozen
class Pulses:
    """Pulses of the line frequency: how many a period (two if full-wave), and from the level which."""

    hertz: int
    a_period: int
    rest: Literal["low", "high"] = "low"


@frozen
class Levels:
    """Two levels that a measured channel keeps to, and a threshold between them with a differential."""

    low: float
    high: float
    threshold: float
    differential: float


@frozen
class Bounce:
    """Bursts of three and more edges that settle at once: how many, the longest (microseconds) and where it begins."""

    bursts: int
    longest: int
    at: int


@frozen
class Appearance:
    """One channel as it looks; times in microseconds, shares from 0 to 1 of the span (``high``: of what is known)."""

    channel: str
    kind: Kind
    changes: int
    unknown: float
    high: float | None = None
    least: float | None = None
    greatest: float | None = None
    first: float | None = None
    shortest: int | None = None
    shortest_at: int | None = None
    pulses: Pulses | None = None
    levels: Levels | None = None
    bounce: Bounce | None = None


class _Seen:
    """How long and how often a channel was known, and 1, and within which values."""

    def __init__(self, channel: Channel, recording: Recording) -> None:
        self.lasted = self.high = self.count = self.highs = self.changes = 0
        self.digital = True
        self.least, self.greatest = np.inf, -np.inf
        self.first: float | None = None
        before = False
        for number, (times, values, lasts) in enumerate(stretches(channel, recording.end)):
            known = ~np.isnan(values)
            seen, kept = values[known], lasts[known]
            if not number and known[0] and times[0] == recording.start:
                self.first = float(values[0])
            self.changes += int(np.count_nonzero(known[1:] & known[:-1])) + int(before and known[0])
            before = bool(known[-1])
            if len(seen):
                self.least, self.greatest = min(self.least, float(seen.min())), max(self.greatest, float(seen.max()))
            high = seen == 1.0
            self.digital = self.digital and bool((high | (seen == 0.0)).all())
            self.count, self.highs = self.count + len(seen), self.highs + int(np.count_nonzero(high))
            self.lasted, self.high = self.lasted + int(kept.sum()), self.high + int(kept[high].sum())


def appearance_of(channel: Channel, recording: Recording) -> Appearance:
    """Describe one channel of a recording."""
    seen = _Seen(channel, recording)
    if not seen.count:
        return Appearance(channel.name, "never known", 0, 1.0)
    span = max(recording.end - recording.start, 1)
    unknown = 1 - float(seen.lasted) / span if recording.end > recording.start else 0.0
    shown = Appearance(
        channel.name,
        "constant",
        seen.changes,
        max(unknown, 0.0),
        least=seen.least,
        greatest=seen.greatest,
        first=seen.first,
    )
    if seen.digital:
        share = seen.high / seen.lasted if seen.lasted else seen.highs / seen.count
        return _logic(evolve(shown, high=share), channel, recording)
    if seen.least == seen.greatest:
        return shown
    return _measured(shown, channel, recording)


def _logic(shown: Appearance, channel: Channel, recording: Recording) -> Appearance:
    if not shown.changes:
        return shown
    shortest, at = _shortest(channel)
    pulses = pulses_of(channel.pieces, 0.5, recording)
    if pulses is None:
        return evolve(shown, kind="logic", shortest=shortest, shortest_at=at, bounce=_bounce(channel))
    rest: Literal["low", "high"] = "high" if _rests_high(channel, pulses) else "low"
    return evolve(shown, kind="line frequency", shortest=shortest, shortest_at=at, pulses=evolve(pulses, rest=rest))


def _shortest(channel: Channel) -> tuple[int | None, int | None]:
    """Give the shortest time that a known level was kept between two changes, and when."""
    best: tuple[int, int] | None = None
    for times, values in overlapping(channel.pieces(), 2):
        known = ~np.isnan(values)
        inner = np.flatnonzero(known[1:-1] & known[:-2] & known[2:]) + 1
        if len(inner):
            lasts = times[inner + 1] - times[inner]
            place = int(np.argmin(lasts))
            if best is None or int(lasts[place]) < best[0]:
                best = int(lasts[place]), int(times[inner[place]])
    return best or (None, None)


def pulses_of(pieces: Callable[[], Pieces], middle: float, recording: Recording) -> Pulses | None:
    """Tell whether a level comes up as often as a line frequency or twice as often, many times in a row.

    It is up above the middle. ``pieces`` gives its changes, each time from the beginning.
    """

    def risen() -> Iterator[Times]:
        return rises(pieces(), lambda values: values > middle)

    count = 0
    for some in risen():
        count += len(some)
        if count > MOST_PULSES:
            break
    else:
        return None
    coarse = 0 if recording.samples is None else int(np.median(np.diff(recording.samples[:10_000])))
    best: tuple[float, Pulses] | None = None
    for hertz in LINES:
        for a_period in (1, 2):
            wanted = 1_000_000 / hertz / a_period
            if coarse * 2 > wanted:
                continue
            near = ((t, np.abs(np.diff(t) - wanted) <= wanted / 20 + coarse) for t in steps(risen()))
            found = longest(runs(near))
            if found is None or found.length < MOST_PULSES:
                continue
            # One sample apart says little of a frequency, many in a row say much.
            off = abs((found.end - found.begin) / found.length / wanted - 1)
            if off < 0.03 and (best is None or off < best[0]):
                best = (off, Pulses(hertz, a_period))
    return None if best is None else best[1]


def _rests_high(channel: Channel, pulses: Pulses) -> bool:
    """Tell whether the level is high where it does not pulse: longer than two periods without a change."""
    period = 1_000_000 // pulses.hertz
    still = still_high = whole = high = 0
    for times, values in overlapping(channel.pieces()):
        lasts, up = np.diff(times), values[:-1] == 1.0
        long = lasts > 2 * period
        still, still_high = still + int(lasts[long].sum()), still_high + int(lasts[long & up].sum())
        whole, high = whole + int(lasts.sum()), high + int(lasts[up].sum())
    # On throughout: a pulse is the shorter part of a period.
    return still_high * 2 > still if still else high * 2 > whole * 1.1


def _bounce(channel: Channel) -> Bounce | None:
    def close() -> Iterator[tuple[Times, np.ndarray]]:
        for times, values in overlapping(channel.pieces()):
            known = ~np.isnan(values)
            yield times, (np.diff(times) <= BOUNCE_WITHIN) & known[1:] & known[:-1]

    bursts, most, at = 0, -1, 0
    for found in runs(close()):
        # Two steps or more that are close: three edges and more in one burst.
        burst = found.lengths >= 2
        if burst.any():
            begins, lasted = found.begins[burst], (found.ends - found.begins)[burst]
            bursts += len(begins)
            place = int(np.argmax(lasted))
            if int(lasted[place]) > most:
                most, at = int(lasted[place]), int(begins[place])
    return Bounce(bursts, most, at) if bursts else None


def _measured(shown: Appearance, channel: Channel, recording: Recording) -> Appearance:
    assert shown.least is not None
    assert shown.greatest is not None
    middle = shown.least / 2 + shown.greatest / 2
    pulses = pulses_of(lambda: known_only(channel.pieces()), middle, recording)
    if pulses is not None:
        return evolve(shown, kind="line frequency", pulses=pulses)
    levels = levels_of(partial(_weighed, channel, recording.end), shown.least, shown.greatest)
    return evolve(shown, kind="measured", levels=levels)


def _weighed(channel: Channel, end: int) -> Iterator[tuple[Values, Times]]:
    """Give the known values, each with how long it lasts."""
    for _, values, lasts in stretches(channel, end):
        known = ~np.isnan(values)
        if known.any():
            yield values[known], np.maximum(lasts[known], 1)


def levels_of(pieces: Weighed, least: float, greatest: float) -> Levels | None:
    """Find two levels with next to nothing between them; None if the values lie all over their range.

    ``pieces`` gives the values with their weights, each time from the beginning.
    """
    if not np.isfinite(greatest - least):
        return None
    counts, edges = np.zeros(_BINS), np.zeros(0)
    for values, weights in pieces():
        some, edges = np.histogram(values, _BINS, (least, greatest), weights=weights.astype(np.float64))
        counts += some
    centres = (edges[1:] + edges[:-1]) / 2
    whole = counts.sum()
    below = np.cumsum(counts)[:-1]
    sums = np.cumsum(counts * centres)[:-1]
    rest = whole - below
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # The border that parts the two groups best (Otsu): the greatest variance between them.
        apart = below * rest * (sums / below - ((counts * centres).sum() - sums) / rest) ** 2
    if np.isnan(apart).all():
        return None
    border = edges[1:-1][int(np.nanargmax(apart))]
    low = _median(pieces, lambda values: values <= border)
    high = _median(pieces, lambda values: values > border)
    if low is None or high is None:
        return None
    third, between = (high - low) / 3, 0
    for values, weights in pieces():
        between += int(weights[(values > low + third) & (values < high - third)].sum())
    if high <= low or between > whole * 0.02:
        return None
    digits = max(0, int(np.ceil(-np.log10((high - low) / 20))))
    return Levels(low, high, round((low + high) / 2, digits), round((high - low) / 5, digits + 1))


def _median(
    pieces: Callable[[], Iterator[tuple[Values, Times]]], which: Callable[[Values], np.ndarray]
) -> float | None:
    """Give the median of some of the values, by their weights; None if there are none."""

    def some() -> Iterator[tuple[Times, Times]]:
        for values, weights in pieces():
            own = which(values)
            yield ordered(values[own]), weights[own]

    whole = sum(int(weights.sum()) for _, weights in some())
    return unordered(chosen(some, -(-whole // 2))) if whole else None
