"""The board's bounded responses as temporal logic, checked offline in dense time by the library ``rtamt``.

Law of this module: only what must come within a time of something is written here; counts, accumulators, what one
trip in three leads to and the table of the lamp are beyond this logic, so it does a part of the judge's work.
"""

from __future__ import annotations

import numpy as np
import rtamt
from nominal_edges import SIGNALS

RESPONSES = (
    # The call over, or the high-pressure switch open, for longer than the filter: the contactor drops out.
    "always((historically[0:0.2](y < 0.5)) implies (eventually[0:0.4](cc < 0.5)))",
    "always((historically[0:0.2](hps < 0.5)) implies (eventually[0:0.4](cc < 0.5)))",
    # Once off it stays off for the restart delay.
    "always((cc > 0.5) or not (once[0:0.1](cc > 0.5)) or (always[0.1:42](cc < 0.5)))",
    # The fan runs with it, and stands in defrost.
    "always(((cc > 0.5) and (aux < 0.5)) implies (eventually[0:0.4]((fan > 0.5) or (cc < 0.5) or (aux > 0.5))))",
    "always((aux > 0.5) implies (eventually[0:0.4]((fan < 0.5) or (aux < 0.5))))",
    # Defrost is over after its limit at the latest.
    "always((aux > 0.5) implies (eventually[0:94.6](aux < 0.5)))",
    # A warm coil ends it.
    "always(((aux > 0.5) and historically[0:0.2]((warm > 0.5) and (cold < 0.5)))"
    " implies (eventually[0:0.4](aux < 0.5)))",
    # A hard lockout drops the contactor.
    "always((alm > 0.5) implies (eventually[0:0.4](cc < 0.5)))",
    # A powered board lights its lamp.
    "always((power > 0.5) implies (eventually[0:5]((led > 0.5) or (power < 0.5))))",
)


def check(columns: tuple[np.ndarray, np.ndarray, np.ndarray], end: int) -> list[float]:
    """Check every response over all edges; give the robustness of each at the start."""
    times, numbers, values = columns
    series = {}
    for number, name in enumerate(SIGNALS):
        own = numbers == number
        rows = [[t / 1e6, float(v)] for t, v in zip(times[own].tolist(), values[own].tolist(), strict=True)]
        series[name] = [*rows, [end / 1e6 + 1, rows[-1][1]]]
    found = []
    for text in RESPONSES:
        names = [name for name in SIGNALS if f"({name} " in text]
        spec = rtamt.StlDenseTimeSpecification()
        for name in names:
            spec.declare_var(name, "float")
        spec.declare_var("out", "float")
        spec.spec = f"out = {text}"
        spec.parse()
        result = spec.evaluate(*([name, series[name]] for name in names))
        found.append(float(result[0][1]))
    return found
