"""What a person should look at in a recording before it is judged.

Law of this module: a suspicion is what was seen, and what to do if it is so; it changes nothing. Times in the words are
seconds from the start of the recording.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from hashlib import blake2b
from typing import Literal

import numpy as np
from attrs import frozen

from boardgauge.language.model import Blink, Board, Flashes, InputKind, Lamp
from boardgauge.traces.appearance import LINES, Appearance
from boardgauge.traces.pace import Pace, common_step
from boardgauge.traces.passes import longest, rises, runs, steps, stretches
from boardgauge.traces.recording import PIECE, Channel, Recording, Times
from boardgauge.traces.wiring import Wire

_MUCH_UNKNOWN = 0.05
_RESTS = 0.9
"""A channel that keeps a level for so much of the time rests there."""
_SAMPLES_A_PERIOD = 4
_ALIASED = 20
"""So many rises as evenly spaced as those of line-frequency pulses sampled too slowly."""


About = Literal[
    "rounded", "gaps", "common step", "never known", "never changes", "not known", "line frequency", "levels", "bounce",
    "too slow", "no levels", "unpowered", "inverted", "twins", "crossed",
]  # fmt: skip


@frozen
class Suspicion:
    """What it is about, what was seen, of one channel or of all (None), and what to do if it is as it looks."""

    about: About
    channel: str | None
    what: str
    advice: str | None = None


def suspicions_of(
    recording: Recording,
    pace: Pace | None,
    appearances: Iterable[Appearance],
    board: Board | None = None,
    wires: Mapping[str, Wire] | None = None,
) -> list[Suspicion]:
    """Give what is suspicious; ``wires`` has for each channel of which it is known (or taken) what it shows."""
    wires = wires or {}
    appearances = list(appearances)
    found = list(_of_time(recording, pace))
    for shown in appearances:
        wire = wires.get(shown.channel)
        found += _of_channel(shown, recording, pace, wire)
        if board is not None and wire is not None:
            found += _against_board(shown, wire, board, recording, wires)
    if board is not None and pace is not None:
        found += _too_slow(pace, board, [wire.signal for wire in wires.values()])
    return found + list(_twins(recording))


def _ms(microseconds: float) -> str:
    return f"{microseconds / 1000:g} ms"


def _of_time(recording: Recording, pace: Pace | None) -> Iterator[Suspicion]:
    if recording.rounded:
        yield Suspicion(
            "rounded",
            None,
            "some time is finer than a microsecond; it was taken down to it, and the judge allows for that",
        )
    if pace is not None and pace.gaps:
        assert pace.longest_gap is not None
        at, length = pace.longest_gap
        what = (
            f"{pace.gaps} {'gaps' if pace.gaps > 1 else 'gap'} between samples, the longest {_ms(length)} from "
            f"{(at - recording.start) / 1e6:g} s on: rows lost, or the clock was set"
        )
        yield Suspicion("gaps", None, what, "what may have happened inside is not known to the judge")
    step = common_step(recording)
    if step is not None:
        what = f"every change falls on a multiple of {_ms(step)}: it may have been sampled so far apart"
        yield Suspicion("common step", None, what, f'then the wiring says [recorder] skew = "{_ms(step)}"')


def _of_channel(shown: Appearance, recording: Recording, pace: Pace | None, wire: Wire | None) -> Iterator[Suspicion]:
    name = shown.channel
    if shown.kind == "never known":
        yield Suspicion("never known", name, "never known")
        return
    if shown.kind == "constant":
        yield Suspicion("never changes", name, f"never changes: {shown.least:g} throughout")
    if shown.unknown > _MUCH_UNKNOWN:
        yield Suspicion("not known", name, f"not known for {shown.unknown:.0%} of the time")
    if shown.pulses is not None and (wire is None or wire.line_frequency != shown.pulses.hertz):
        pulses, rest = shown.pulses, ' and at_rest = "high"' if shown.pulses.rest == "high" else ""
        half = "twice in each period" if pulses.a_period == 2 else "once in each period"
        yield Suspicion(
            "line frequency",
            name,
            f"pulses {half} of {pulses.hertz} Hz",
            f"line_frequency = {pulses.hertz}{rest} in the wiring",
        )
    if shown.kind == "measured" and shown.levels is not None and (wire is None or wire.threshold is None):
        low, high = shown.levels.low, shown.levels.high
        advice = (
            f"if it is a level: threshold = {shown.levels.threshold:g}, differential = {shown.levels.differential:g}"
        )
        yield Suspicion("levels", name, f"keeps to {low:g} and {high:g}, and not to 0 and 1", advice)
    if shown.bounce is not None and (wire is None or wire.bounce < shown.bounce.longest):
        bursts, longest = shown.bounce.bursts, shown.bounce.longest
        times = "once" if bursts == 1 else f"{bursts} times"
        what = (
            f"comes and goes within {_ms(longest)}, {times}, most at {(shown.bounce.at - recording.start) / 1e6:g} s: "
            "contact bounce, noise, or chatter of the board"
        )
        yield Suspicion("bounce", name, what, f'if the contact bounces: bounce = "{-(-longest // 1000)} ms"')
    if pace is not None and (hertz := _aliased(shown, recording, pace)):
        what = f"comes and goes as evenly as {hertz} Hz does that is sampled every {_ms(pace.usual)}"
        yield Suspicion(
            "too slow",
            name,
            what,
            f"sample it every {_ms(1e6 / hertz / _SAMPLES_A_PERIOD)} or faster; this recording cannot show it",
        )


def _aliased(shown: Appearance, recording: Recording, pace: Pace) -> int | None:
    """Give the line frequency that would look so when it is sampled too slowly to be seen."""
    if shown.kind not in ("logic", "measured"):
        return None
    channel = recording.channels[shown.channel]
    middle = 0.5 if shown.kind == "logic" else (shown.least or 0) / 2 + (shown.greatest or 0) / 2
    rate = 1e6 / pace.usual
    for hertz in LINES:
        beat = abs(hertz - round(hertz / rate) * rate)
        if rate < _SAMPLES_A_PERIOD * hertz and beat > rate / 1000:
            up = rises(channel.pieces(), lambda values: values > middle)
            near = ((t, np.abs(np.diff(t) - 1e6 / beat) <= pace.usual * 1.5) for t in steps(up))
            found = longest(runs(near))
            if found is not None and found.length >= _ALIASED:
                return hertz
    return None


def _against_board(
    shown: Appearance, wire: Wire, board: Board, recording: Recording, wires: Mapping[str, Wire]
) -> Iterator[Suspicion]:
    row = board.inputs.get(wire.signal)
    if row is not None and row.kind is InputKind.SENSOR:
        return
    if shown.high is None or wire.signal == "power":
        if shown.kind == "measured" and shown.levels is None and wire.threshold is None and wire.signal != "power":
            yield Suspicion(
                "no levels", shown.channel, f"neither 0 nor 1, and no two levels to tell; {wire.signal} is on or off"
            )
        return
    turned = "take out inverted = true" if wire.inverted else "inverted = true in the wiring"
    powers = [name for name, each in wires.items() if each.signal == "power"]
    dead = _while_dead(recording, powers[0], shown.channel, wires[powers[0]]) if powers else None
    if row is None and dead is not None:
        if dead == 1.0 and wire.unpowered == "low":
            advice = f'unpowered = "high" in the wiring, or {turned}'
            yield Suspicion("unpowered", shown.channel, "high while the supply is off", advice)
        return
    resting = _rests_high(wire.signal, board) != wire.inverted
    share = shown.high if not resting else 1 - shown.high
    begins = shown.first is None or (shown.first == 1.0) != resting
    if shown.changes > 1 and share > _RESTS and begins:
        level, word = ("low", "high") if resting else ("high", "low")
        what = f"rests {level}, and {_said(wire.signal, board)} rests {word}: it looks inverted"
        yield Suspicion("inverted", shown.channel, what, turned)


def _while_dead(recording: Recording, power: str, name: str, wire: Wire) -> float | None:
    """Give the share of the time without supply for which a channel is high; None if there is no such time."""
    supply, channel = recording.channels[power], recording.channels[name]
    if not supply.digital:
        return None
    dead = 1.0 if wire.inverted else 0.0
    high = whole = 0
    for times, values, lasts in stretches(supply, recording.end):
        begins, ends = times[values == dead], (times + lasts)[values == dead]
        # The first moments belong to what the supply still brings.
        settled = np.where(begins == recording.start, begins, begins + (ends - begins) // 10)
        for at in range(0, len(begins), PIECE):
            moments = np.stack((settled[at : at + PIECE], ends[at : at + PIECE]), axis=1).ravel()
            on, known = _time_high(channel, moments, recording.end)
            high, whole = high + int(np.diff(on)[::2].sum()), whole + int(np.diff(known)[::2].sum())
    return high / whole if whole else None


def _time_high(channel: Channel, moments: Times, end: int) -> tuple[Times, Times]:
    """Give for how long, up to each moment, a channel was high, and was known; moments do not fall."""
    on, known = np.zeros(len(moments), np.int64), np.zeros(len(moments), np.int64)
    for times, values, lasts in stretches(channel, end):
        # How much of each value's time lies before each moment: all of the earlier ones, and a part of one.
        index = np.searchsorted(times, moments, side="right") - 1
        here = index >= 0
        inner = index[here]
        part = np.minimum(moments[here] - times[inner], lasts[inner])
        for whole, which in ((on, values == 1.0), (known, ~np.isnan(values))):
            before = np.cumsum(lasts * which) - lasts * which
            whole[here] += before[inner] + part * which[inner]
    return on, known


def _rests_high(signal: str, board: Board) -> bool:
    row = board.inputs.get(signal)
    if row is not None:
        return row.rests_on
    output = board.outputs.get(signal)
    return output is not None and output.contact == "normally closed"


def _said(signal: str, board: Board) -> str:
    row = board.inputs.get(signal)
    if row is None:
        return f"the {'lamp' if signal in board.lamps else 'output'} {signal}"
    contact = f"{row.contact} " if row.contact else ""
    return f"the {contact}{row.kind.value} {signal}"


def _too_slow(pace: Pace, board: Board, signals: list[str]) -> Iterator[Suspicion]:
    inputs = {name: board.inputs[name].filter for name in signals if name in board.inputs}
    least = min((each.least for each in inputs.values() if each.least), default=None)
    if least is not None and pace.greatest > least:
        names = ", ".join(name for name, each in inputs.items() if each.least and pace.greatest > each.least)
        what = f"samples up to {_ms(pace.greatest)} apart can miss what the board takes in after {_ms(least)}: {names}"
        yield Suspicion(
            "too slow",
            None,
            what,
            "sample faster, or expect undecided verdicts; or least_pulse, if the recorder catches pulses",
        )
    for name in signals:
        lamp = board.lamps.get(name)
        shortest = _shortest_part(lamp) if lamp is not None else None
        if shortest is not None and pace.greatest * 2 > shortest:
            what = (
                f"samples up to {_ms(pace.greatest)} apart are too few for the flashes of {name}, {_ms(shortest)} long"
            )
            yield Suspicion("too slow", None, what, f"sample every {_ms(shortest / 2)} or faster")


def _shortest_part(lamp: Lamp) -> int | None:
    parts: list[int] = []
    for line in lamp.lines:
        if isinstance(line.shows, Blink):
            parts += [line.shows.lit, line.shows.dark]
        elif isinstance(line.shows, Flashes) and lamp.flash is not None:
            parts += [lamp.flash.lit, lamp.flash.dark]
    return min(parts, default=None)


def _twins(recording: Recording) -> Iterator[Suspicion]:
    """Tell channels that are the same throughout: one probe on two names, or two on one pin."""
    counts = Counter(channel.changes for channel in recording.channels.values())
    seen: dict[bytes, str] = {}
    for channel in recording.channels.values():
        if channel.changes > 4 and counts[channel.changes] > 1:
            other = seen.setdefault(_digest(channel), channel.name)
            if other != channel.name:
                yield Suspicion(
                    "twins",
                    channel.name,
                    f"the same as {other} throughout",
                    "if they need not go together, one may be on the wrong pin",
                )


def _digest(channel: Channel) -> bytes:
    """Give what is the same of two channels only if all of their changes are."""
    times, values = blake2b(), blake2b()
    for some, levels in channel.pieces():
        times.update(np.ascontiguousarray(some, np.int64).tobytes())
        # One kind of zero, and one of not known.
        values.update(np.where(np.isnan(levels), np.nan, levels + 0.0).tobytes())
    return times.digest() + values.digest()
