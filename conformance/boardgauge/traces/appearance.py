"""What a channel looks like, without a board: kind, levels, changes, pulses.

Law of this module: it describes what is there and judges nothing; what it takes for pulses of the line frequency, for
levels or for bounce is a reading with a stated measure, for a person to confirm.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from attrs import frozen

from boardgauge.traces.recording import Channel, Recording, Times, Values

Kind = Literal["never known", "constant", "logic", "measured", "line frequency"]
LINES = (50, 60)
MOST_PULSES = 25
"""So many pulses in a row at a line frequency are not chance."""
BOUNCE_WITHIN = 20_000
"""Edges so close (microseconds) may be one contact that bounces: contacts settle in a few ms (common practice)."""
_BINS = 200


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


def appearance_of(channel: Channel, recording: Recording) -> Appearance:
    """Describe one channel of a recording."""
    times, values = channel.times, channel.values
    span = max(recording.end - recording.start, 1)
    lasts = np.diff(np.append(times, max(recording.end, int(times[-1]) if len(times) else recording.end)))
    known = ~np.isnan(values)
    if not np.any(known):
        return Appearance(channel.name, "never known", 0, 1.0)
    unknown = 1 - float(lasts[known].sum()) / span if recording.end > recording.start else 0.0
    seen = values[known]
    least, greatest = float(seen.min()), float(seen.max())
    changes = int(np.count_nonzero(known[1:] & known[:-1]))
    shown = Appearance(
        channel.name,
        "constant",
        changes,
        max(unknown, 0.0),
        least=least,
        greatest=greatest,
        first=float(values[0]) if known[0] and times[0] == recording.start else None,
    )
    kept = lasts[known]
    if channel.digital:
        return _logic(shown, channel, recording, _share(kept, seen == 1.0))
    if least == greatest:
        return _with(shown, kind="constant")
    return _measured(shown, channel, recording, seen, kept)


def _with(shown: Appearance, **more: object) -> Appearance:
    from attrs import evolve

    return evolve(shown, **more)  # type: ignore[arg-type]  # fields of its own, from this module alone


def _share(lasts: Times, which: np.ndarray) -> float:
    whole = float(lasts.sum())
    return float(lasts[which].sum()) / whole if whole else float(np.mean(which))


def _logic(shown: Appearance, channel: Channel, recording: Recording, high: float) -> Appearance:
    shown = _with(shown, high=high)
    if not shown.changes:
        return shown
    times, values = channel.times, channel.values
    shortest, at = _shortest(times, values)
    pulses = pulses_of(times, values == 1.0, recording)
    if pulses is not None:
        rest: Literal["low", "high"] = "high" if _share_in_bursts(times, values, pulses) else "low"
        return _with(
            shown,
            kind="line frequency",
            shortest=shortest,
            shortest_at=at,
            pulses=Pulses(pulses.hertz, pulses.a_period, rest),
        )
    return _with(shown, kind="logic", shortest=shortest, shortest_at=at, bounce=_bounce(times, values))


def _shortest(times: Times, values: Values) -> tuple[int | None, int | None]:
    """Give the shortest time that a known level was kept between two changes, and when."""
    known = ~np.isnan(values)
    inner = np.flatnonzero(known[1:-1] & known[:-2] & known[2:]) + 1 if len(times) > 2 else np.zeros(0, dtype=np.int64)
    if not len(inner):
        return None, None
    lasts = times[inner + 1] - times[inner]
    place = int(np.argmin(lasts))
    return int(lasts[place]), int(times[inner[place]])


def pulses_of(times: Times, high: np.ndarray, recording: Recording) -> Pulses | None:
    """Tell whether a level comes up as often as a line frequency or twice as often, many times in a row."""
    rises = times[1:][high[1:] & ~high[:-1]]
    if len(rises) <= MOST_PULSES:
        return None
    apart = np.diff(rises)
    coarse = 0 if recording.samples is None else int(np.median(np.diff(np.asarray(recording.samples)[:10_000])))
    best: tuple[float, Pulses] | None = None
    for hertz in LINES:
        for a_period in (1, 2):
            wanted = 1_000_000 / hertz / a_period
            if coarse * 2 > wanted:
                continue
            near = np.abs(apart - wanted) <= wanted / 20 + coarse
            borders = np.flatnonzero(np.concatenate(([True], ~near, [True])))
            longest = int(np.argmax(np.diff(borders)))
            begin, end = int(borders[longest]), int(borders[longest + 1]) - 1
            if end - begin < MOST_PULSES:
                continue
            # One sample apart says little of a frequency, many in a row say much.
            off = abs(float(np.mean(apart[begin:end])) / wanted - 1)
            if off < 0.03 and (best is None or off < best[0]):
                best = (off, Pulses(hertz, a_period))
    return None if best is None else best[1]


def _share_in_bursts(times: Times, values: Values, pulses: Pulses) -> bool:
    """Tell whether the level is high where it does not pulse: longer than two periods without a change."""
    period = 1_000_000 // pulses.hertz
    lasts = np.diff(times)
    still = lasts > 2 * period
    if np.any(still):
        return float(lasts[still][values[:-1][still] == 1.0].sum()) * 2 > float(lasts[still].sum())
    # On throughout: a pulse is the shorter part of a period.
    return float(lasts[values[:-1] == 1.0].sum()) * 2 > float(lasts.sum()) * 1.1


def _bounce(times: Times, values: Values) -> Bounce | None:
    known = ~np.isnan(values)
    close = (np.diff(times) <= BOUNCE_WITHIN) & known[1:] & known[:-1]
    borders = np.flatnonzero(np.concatenate(([True], ~close, [True])))
    runs = np.diff(borders) - 1
    # A run of two edges or more that are close: three edges and more in one burst.
    found = np.flatnonzero(runs >= 2)
    if not len(found):
        return None
    begins, ends = borders[found], borders[found] + runs[found]
    lengths = times[ends] - times[begins]
    place = int(np.argmax(lengths))
    return Bounce(len(found), int(lengths[place]), int(times[begins[place]]))


def _measured(shown: Appearance, channel: Channel, recording: Recording, seen: Values, lasts: Times) -> Appearance:
    assert shown.least is not None
    assert shown.greatest is not None
    middle = (shown.least + shown.greatest) / 2
    known = ~np.isnan(channel.values)
    above = channel.values[known] > middle
    pulses = pulses_of(channel.times[known], above, recording)
    if pulses is not None:
        return _with(shown, kind="line frequency", pulses=pulses)
    return _with(shown, kind="measured", levels=_levels(seen, lasts))


def _levels(values: Values, lasts: Times) -> Levels | None:
    """Find two levels with next to nothing between them; None if the values lie all over their range."""
    weights = np.maximum(lasts, 1).astype(np.float64)
    counts, edges = np.histogram(values, _BINS, weights=weights)
    centres = (edges[1:] + edges[:-1]) / 2
    whole = counts.sum()
    below = np.cumsum(counts)[:-1]
    sums = np.cumsum(counts * centres)[:-1]
    rest = whole - below
    with np.errstate(invalid="ignore", divide="ignore"):
        # The border that parts the two groups best (Otsu): the greatest variance between them.
        apart = below * rest * (sums / below - ((counts * centres).sum() - sums) / rest) ** 2
    border = edges[1:-1][int(np.nanargmax(apart))]
    low = _median(values[values <= border], weights[values <= border])
    high = _median(values[values > border], weights[values > border])
    third = (high - low) / 3
    between = weights[(values > low + third) & (values < high - third)].sum()
    if high <= low or between > whole * 0.02:
        return None
    digits = max(0, int(np.ceil(-np.log10((high - low) / 20))))
    return Levels(low, high, round((low + high) / 2, digits), round((high - low) / 5, digits + 1))


def _median(values: Values, weights: Values) -> float:
    order = np.argsort(values)
    along = np.cumsum(weights[order])
    return float(values[order][int(np.searchsorted(along, along[-1] / 2))])
