"""The sensor chart of each sensor that the spec names a curve for, with the limits that the board goes by.

Law of this module: resistances are the curve's own, worked out by the sensors' package; the limits are the spec's.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import cast

from boardgauge.drawings import words
from boardgauge.language.model import Input, InputKind
from boardgauge.language.units import in_unit
from boardgauge.sensors.chart_rows import Scale, figures_of, in_words, ohms_in_words, sensor_table
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.curve_reader import BadCurve
from boardgauge.sensors.library import UnknownCurve, find_curve
from boardgauge.sensors.sensor_words import CAUTIONS, CHECKING
from boardgauge.sheets.blocks import Block, Caution, Column, Paragraph, Sheet, Steps, Table
from boardgauge.sheets.study import Study

SENSORS = "sensors"


def sensor_sheet(study: Study) -> Sheet:
    """Give the charts of a board's sensors."""
    blocks: list[Block] = []
    for row in study.board.inputs.values():
        if row.kind is InputKind.SENSOR and row.curve is not None:
            blocks += _sensor(study, row, row.curve)
    if any(isinstance(block, Table) for block in blocks):
        blocks += [Steps(CHECKING, "To check a sensor"), Caution("Before you measure", (CAUTIONS,))]
    elif not blocks:
        blocks.append(Paragraph("The spec names no curve for a sensor of this board."))
    return Sheet(SENSORS, "Sensor chart", tuple(blocks))


def _sensor(study: Study, row: Input, named: str) -> Iterator[Block]:
    label = words.thing(study.board, row.id)
    try:
        curve = find_curve(named, Path(row.at.file).parent)
    except (UnknownCurve, BadCurve) as error:
        yield Paragraph(f"{label}: its curve cannot be used: {error}")
        return
    scale = cast("Scale", row.unit if row.unit in {"°C", "°F"} else "°C")
    table = sensor_table(curve, scale=scale)
    figures = figures_of(curve)
    rows = tuple(
        (
            in_words(one.celsius, scale),
            *(ohms_in_words(ohms, figures) for ohms in (one.ohms, one.least, one.greatest)),
        )
        for one in table.rows
    )
    columns = (Column("Temperature"), Column("Resistance"), Column("Least, new"), Column("Most, new"))
    notes = [f"Curve {curve.id}: {curve.title}. Least and most: a new sensor, {table.allowance}.", *table.notes]
    if curve.in_service is not None:
        notes.append(f"One in use is condemned beyond {curve.in_service}.")
    limits = tuple(_limits(study, row, curve, scale))
    if limits:
        head = (Column("The board looks whether", 3.0), Column("Limit"), Column("Resistance there"))
        yield Table(f"{row.id}-limits", head, limits, f"{label}: the limits of the board")
    yield Table(f"{row.id}-chart", columns, rows, f"{label}: temperature and resistance", tuple(notes))


def _limits(study: Study, row: Input, curve: Curve, scale: Scale) -> Iterator[tuple[str, ...]]:
    figures = figures_of(curve)
    for level in study.machine.levels:
        if level.input != row.id or level.comparison is None:
            continue
        for limit in (level.comparison.limit, level.comparison.until):
            if limit is not None:
                celsius = in_unit(limit, "°C").number
                there = (
                    ohms_in_words(curve.ohms(celsius), figures) if curve.low <= celsius <= curve.high else "beyond it"
                )
                yield words.comparison(study.board, level.comparison, True), in_words(celsius, scale), there
