"""A timing chart as plain values, for the page's script to draw.

Law of this module: it holds what the chart holds and no more; times are whole microseconds.
"""

from __future__ import annotations

import json
import math
from typing import Any

from boardgauge.drawings.chart import Chart, Row

MOST_EDGES = 200_000
"""Changes of one row that a page still draws; of a row with more the page says that it is left out."""


def chart_data(chart: Chart) -> dict[str, Any]:
    """Give a chart as plain values."""
    return {
        "start": chart.start,
        "end": chart.end,
        "zero": chart.zero,
        "axis": chart.axis,
        "rows": [_row(row) for row in chart.rows],
        "windows": [{"row": w.row, "from": w.earliest, "to": w.latest, "label": w.label} for w in chart.windows],
        "arrows": [{"row": a.row, "time": a.time, "label": a.label} for a in chart.arrows],
    }


def script_text(data: object) -> str:
    """Give values as JSON that can stand inside a script element."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _row(row: Row) -> dict[str, Any]:
    found: dict[str, Any] = {"id": row.id, "name": row.name, "detail": row.detail}
    if row.timing:
        found["ramps"] = [
            {"points": [list(p) for p in ramp.points], "over": ramp.over, "cut": ramp.cut, "window": ramp.window}
            for ramp in row.ramps
        ]
    elif row.curve is not None:
        curve = row.curve
        points = [[t, None if math.isnan(v) else v] for t, v in curve.points]
        found["curve"] = {"points": points, "limits": curve.limits, "unit": curve.unit, "steps": curve.steps}
    else:
        few = len(row.edges) <= MOST_EDGES
        found |= {
            "low": row.low,
            "high": row.high,
            "initial": row.initial,
            "edges": [[edge.earliest, edge.latest, edge.value] for edge in row.edges] if few else None,
            "bands": [[band.start, band.end, band.text] for band in row.bands],
        }
    return found
