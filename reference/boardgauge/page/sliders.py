"""How far a sensor's slider reaches, by what steps, and where it stands at first.

Law of this module: it reaches past every limit the spec compares the sensor with, and stands at first at 20 °C, or in
the middle of what is no temperature. The whole steps it is counted in are exact in the sensor's own unit: a value is
``(offset + step * n)``, both as fractions, so that what the page feeds its engine is never rounded.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil, floor
from typing import Any

from boardgauge.language import in_unit
from boardgauge.language.expressions import Comparison
from boardgauge.language.quantities import Quantity

_USUAL = {"°C": Fraction(20), "°F": Fraction(68)}
_STEPS = 100


def slider(unit: str, comparisons: Sequence[Comparison]) -> list[dict[str, Any]]:
    """Give the slider of a sensor in its own unit, and a second one in the other unit of temperature.

    Each has its ``unit``; ``least``, ``greatest`` and ``first`` count in steps from nought; ``step`` is one step in
    that unit; ``scale`` and ``offset`` turn a number of steps into the sensor's own unit, as numerator and denominator.
    """
    units = [unit, *sorted(_USUAL.keys() - {unit})] if unit in _USUAL else [unit]
    found = []
    for shown in units:
        limits = [in_unit(q, shown).number for c in comparisons for q in (c.limit, c.until) if q is not None]
        limits += [_USUAL[shown]] if shown in _USUAL else []
        step = _step(shown, limits)
        pad = max(20 * step, (max(limits) - min(limits)) / 2) if limits else 50 * step
        least = floor((min(limits, default=Fraction(0)) - pad) / step)
        greatest = ceil((max(limits, default=Fraction(50)) + pad) / step)
        if unit == "%" and all(0 <= limit <= 100 for limit in limits):
            least, greatest = 0, ceil(100 / step)
        zero = in_unit(Quantity(Fraction(0), shown), unit).number
        scale = in_unit(Quantity(step, shown), unit).number - zero
        first = int(_USUAL[shown] / step) if shown in _USUAL else (least + greatest) // 2
        places = len(str(float(step)).split(".")[1]) if step.denominator > 1 else 0
        found.append(
            {
                "unit": shown,
                "least": least,
                "greatest": greatest,
                "first": first,
                "step": [step.numerator, step.denominator],
                "places": places,
                "scale": [scale.numerator, scale.denominator],
                "offset": [zero.numerator, zero.denominator],
            }
        )
    return found


def _step(unit: str, limits: Sequence[Fraction]) -> Fraction:
    """Give a step that a person would count in: 1, 2 or 5 of some power of ten; half a degree, or one °F."""
    if unit in _USUAL:
        return Fraction(1, 2) if unit == "°C" else Fraction(1)
    if unit == "%":
        return Fraction(1, 2)
    spread = max(limits) - min(limits) if limits else Fraction(0)
    reach = spread if spread else max((abs(limit) for limit in limits), default=Fraction(_STEPS)) or Fraction(_STEPS)
    step = Fraction(1)
    while step * _STEPS > reach:
        step /= 10
    while step * 10 * _STEPS <= reach:
        step *= 10
    return next(step * by for by in (5, 2, 1) if step * by * _STEPS <= reach)
