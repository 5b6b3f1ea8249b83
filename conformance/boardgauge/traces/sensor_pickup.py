"""How a sensor was picked up: the reading of its channel, by a straight scale or by the sensor's curve.

Law of this module: a number beyond the ends of a curve is not known and is told; what a wiring says of a sensor must
fit the sensor.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.problems import Problem
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.curve_reader import BadCurve
from boardgauge.sensors.library import UnknownCurve, find_curve
from boardgauge.traces.recording import Channel
from boardgauge.traces.sensor import Reading
from boardgauge.traces.sensor_scale import BySensor, Lost, fits, without_lost
from boardgauge.traces.spread import Spread
from boardgauge.traces.wiring import Wire

_OF_CURVES = ("divider", "curve_tolerance", "leads")


def is_sensor(wire: Wire, board: Board) -> bool:
    """Tell whether a wire shows a sensor of the board."""
    return wire.signal in board.inputs and board.inputs[wire.signal].kind is InputKind.SENSOR


def curve_of(wire: Wire, row: Input) -> Curve | None:
    """Give the curve by which a wire shows a sensor, None if it is shown by a straight scale.

    Raises UnknownCurve and BadCurve where the spec names one that cannot be had.
    """
    if isinstance(wire.curve, Curve) or wire.curve is None:
        return wire.curve
    return spec_curve(row)


def spec_curve(row: Input) -> Curve | None:
    """Give the curve that a spec names for a sensor; None if it names none. Raises UnknownCurve and BadCurve."""
    return None if row.curve is None else find_curve(row.curve, beside=Path(row.at.file).parent)


def sensor_misfits(wire: Wire, board: Board) -> Iterator[Problem]:
    """Give what a wire says of a sensor that does not fit it, or says of a sensor without there being one."""
    key = f"channels.{wire.channel}"
    by_curve = [name for name in _OF_CURVES if getattr(wire, name) not in (None, Fraction(0))]
    if not is_sensor(wire, board):
        said = [*(["curve"] if wire.curve is not None else []), *by_curve, *(["resolution"] if wire.resolution else [])]
        for name in said:
            yield Problem(wire.at, f"{key}.{name}", f"{wire.signal} is no sensor: {name} means nothing for it")
        return
    row = board.inputs[wire.signal]
    for name in by_curve if wire.curve is None else ():
        expected = 'the name or the file of a curve, or "of the spec"'
        yield Problem(wire.at, f"{key}.curve", f"this is missing: {name} means nothing without a curve", expected)
    if wire.curve is None:
        return
    if not fits(row.unit):
        yield Problem(wire.at, f"{key}.curve", f"{wire.signal} measures {row.unit}, and a curve gives a temperature")
    try:
        if curve_of(wire, row) is None:
            message = f"the spec of {board.id} names no curve for {wire.signal}"
            yield Problem(
                wire.at, f"{key}.curve", message, f"the name of one, or a curve in inputs.{row.id} of the spec"
            )
    except UnknownCurve as error:
        message = f"the spec of {board.id} names {error.name!r}, and there is no such curve"
        yield Problem(wire.at, f"{key}.curve", message, ", ".join(error.known), error.nearest)
    except BadCurve as error:
        yield from error.problems


def by_sensor(wire: Wire, row: Input) -> BySensor | None:
    """Give the way from a wire's numbers to the temperature, None if it is a straight scale.

    Raises UnknownCurve and BadCurve where the spec names a curve that cannot be had.
    """
    curve = curve_of(wire, row)
    if curve is None or row.unit is None:
        return None
    # Of a converter's counts nothing is known more closely than a count.
    counts = wire.divider is not None and wire.divider.counts is not None
    resolution = wire.resolution or Fraction(1 if counts else 0)
    return BySensor(curve, row.unit, wire.divider, wire.curve_tolerance, resolution, wire.leads)


def reading_of(wire: Wire, channel: Channel, row: Input, start: int, end: int, spread: Spread) -> Reading:
    """Give the reading of a sensor's channel; ``start`` and ``end`` are those of the recording."""
    raw, by = channel.values, by_sensor(wire, row)
    lost: tuple[Lost, ...] = ()
    if by is not None:
        raw, lost = without_lost(channel.times, raw, wire.scale, wire.offset, by, end)
    return Reading(
        wire.signal, wire.channel, start, channel.times, raw, wire.scale, wire.offset, spread, by,
        Fraction(0) if by is not None else wire.resolution, lost,
    )  # fmt: skip


def lost_in_words(lost: Lost, row: Input, curve: Curve) -> str:
    """Say what a sensor that is beyond its curve may be."""
    beyond = curve.low if (lost.kind == "open sensor") == curve.falls else curve.high
    warmer = "below" if beyond == curve.low else "above"
    what = "more" if lost.kind == "open sensor" else "less"
    state = lost.kind.removesuffix(" sensor")
    end = f"{warmer} {float(beyond):g} °C"
    return f"{state}, or {end}: {what} resistance than {curve.id} has; {row.id} is not known"
