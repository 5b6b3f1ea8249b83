"""``boardgauge sensor``.

Law of this module: it finds the curve, calls one function for each thing asked, and prints; a verdict is told by the
same exit statuses as that on a board.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal, TypeVar, cast

import click
from attrs import field, frozen

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, Unusable
from boardgauge.command.finding import find_board
from boardgauge.command.sensor_report import chart, checked, filled
from boardgauge.language.model import Board, InputKind
from boardgauge.language.problems import Unreadable
from boardgauge.sensors.amounts import (
    OPEN_WORDS,
    Allowance,
    read_allowance,
    read_celsius,
    read_kelvin,
    read_ohms,
    read_share,
    read_volts,
)
from boardgauge.sensors.chart_rows import SensorTable, sensor_table
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.curve_reader import BadCurve
from boardgauge.sensors.divider import Divider, Position
from boardgauge.sensors.library import UnknownCurve, curve_names, find_curve
from boardgauge.sensors.sensor_check import (
    METER,
    THERMOMETER,
    BeyondTheCurve,
    InsulationVerdict,
    SensorCheck,
    check_sensor,
    insulation_verdict,
)
from boardgauge.sensors.sensor_words import CAUTIONS, INSULATION

T = TypeVar("T")
FORMATS = ("svg", "png", "pdf")
_STATUS: dict[str, int] = {
    "good": CONFORMS,
    "doubtful": UNDECIDED,
    "bad": DEVIATES,
    "open": DEVIATES,
    "shorted": DEVIATES,
}


@frozen
class Asked:
    """What was asked on the command line, as typed."""

    at: str | None = None
    ohms: str | None = None
    meter: str | None = None
    thermometer: str | None = None
    tolerance: str | None = None
    to_chassis: str | None = None
    low: str | None = None
    high: str | None = None
    step: str | None = None
    fahrenheit: bool = False
    supply: str | None = None
    fixed: str | None = None
    sensor_at: str | None = None
    counts: int | None = None
    output: str | None = None
    format_: str | None = None
    paper: str | None = None
    as_json: bool = field(default=False)


def list_curves(as_json: bool) -> int:
    """Print the curves that ship with the tool."""
    curves = [find_curve(name) for name in curve_names()]
    if as_json:
        rows = [{"curve": c.id, "title": c.title, "from_celsius": float(c.low), "to_celsius": float(c.high),
                 "tolerance": str(c.tolerance), "source": c.source} for c in curves]  # fmt: skip
        click.echo(json.dumps({"curves": rows}, ensure_ascii=False))
        return CONFORMS
    width = max(len(curve.id) for curve in curves)
    for curve in curves:
        click.echo(f"{curve.id:<{width}}  {curve.title}; {float(curve.low):g} °C to {float(curve.high):g} °C")
    click.echo()
    click.echo(
        "A path to a curve file of your own, or BOARD:INPUT of a spec that names a curve, may stand in its place."
    )
    return CONFORMS


def tell_sensor(name: str, asked: Asked) -> int:
    """Print the chart of a curve, check a measured sensor, or draw; give the exit status."""
    curve = _curve(name)
    allowance = _read("--tolerance", asked.tolerance, read_allowance)
    checking = asked.ohms is not None or asked.at is not None
    for option, given in (("--meter", asked.meter), ("--thermometer", asked.thermometer)):
        if given is not None and not checking:
            raise Unusable(f"{option} goes with --at and --ohms: it says how far a measurement may be off")
    check = _check(curve, asked, allowance) if checking else None
    leak = None if asked.to_chassis is None else _ohms("--to-chassis", asked.to_chassis)
    leaks = None if asked.to_chassis is None else insulation_verdict(leak)
    table = None
    if asked.output is None and (check is not None or leaks is not None):
        _refuse_chart_options(asked)
    if asked.output is not None or (check is None and leaks is None):
        table = _table(curve, asked, allowance)
    for option, given in (("--format", asked.format_), ("--paper", asked.paper)):
        if given is not None and asked.output is None:
            raise Unusable(f"{option} goes with -o: it says how the chart is drawn")
    if asked.output is not None:
        assert table is not None
        _draw(table, check, asked)
    if asked.as_json:
        click.echo(json.dumps(_as_json(table, check, leak, leaks), ensure_ascii=False))
    else:
        for line in _told(curve, table, check, leaks, asked):
            click.echo(line)
    statuses = [_STATUS[verdict] for verdict in (check and check.verdict, leaks) if verdict]
    return max(statuses, key=(CONFORMS, UNDECIDED, DEVIATES).index, default=CONFORMS)


# -- what was given ------------------------------------------------------------------------------------------------


def _read(option: str, given: str | None, read: Callable[[str], T]) -> T | None:
    if given is None:
        return None
    try:
        return read(given)
    except Unreadable as error:
        expected = f"; expected {error.expected}" if error.expected else ""
        raise Unusable(f"{option} {given}: {error.message}{expected}") from None


def _degrees(text: str) -> Fraction:
    found = re.fullmatch(r"\s*(\d{1,6}(?:\.\d{1,6})?)\s*", text)
    if found is None:
        raise Unreadable(f"{text!r} is no number of degrees", 0, "5 or 0.5")
    return Fraction(found[1])


def _ohms(option: str, given: str) -> Fraction | None:
    """Read a meter's reading, None where it shows that it is over its range."""
    return None if given.strip().lower() in OPEN_WORDS else _read(option, given, read_ohms)


def _curve(name: str) -> Curve:
    board, _, sensor = name.rpartition(":")
    path = Path(name)
    try:
        if path.is_file() and not _is_spec(path):
            return find_curve(name)
        if not path.is_file() and not board:
            return find_curve(name)
    except BadCurve as error:
        raise Unusable(f"the curve cannot be used:\n{error}") from None
    except UnknownCurve as error:
        from boardgauge.boards import board_names

        if name not in board_names():
            raise Unusable(str(error)) from None
    if path.is_file() or not board:
        return _of_board(find_board(name), None)
    return _of_board(find_board(board), sensor)


def _is_spec(path: Path) -> bool:
    return re.search(r"^\s*(\[board\]|base\s*=)", path.read_text(encoding="utf-8", errors="replace"), re.M) is not None


def _of_board(board: Board, name: str | None) -> Curve:
    """Give the curve of a board's sensor; without a name, of its only one."""
    from boardgauge.language.problems import nearest_of
    from boardgauge.traces.sensor_pickup import spec_curve

    sensors = {row.id: row for row in board.inputs.values() if row.kind is InputKind.SENSOR}
    if name is not None and name not in sensors:
        near = nearest_of(name, sensors)
        hint = f"; did you mean {near!r}?" if near else f"; it has {', '.join(sensors) or 'none'}"
        raise Unusable(f"{board.id} has no sensor {name!r}{hint}")
    rows = [sensors[name]] if name is not None else [row for row in sensors.values() if row.curve is not None]
    if len(rows) > 1:
        raise Unusable(f"{board.id} has more sensors than one: {', '.join(f'{board.id}:{row.id}' for row in rows)}")
    if not rows or rows[0].curve is None:
        which = f"sensor {name}" if name is not None else "no sensor"
        what = "names no curve for its" if name is not None else "names a curve for"
        raise Unusable(f'the spec of {board.id} {what} {which}; expected curve = "ntc-10k" or another in its table')
    try:
        curve = spec_curve(rows[0])
    except (UnknownCurve, BadCurve) as error:
        raise Unusable(f"{rows[0].at}: inputs.{rows[0].id}.curve: {error}") from None
    assert curve is not None
    return curve


def _check(curve: Curve, asked: Asked, allowance: Allowance | None) -> SensorCheck:
    if asked.at is None or asked.ohms is None:
        missing = "--at" if asked.at is None else "--ohms"
        raise Unusable(f"{missing} is missing: a check needs the sensor's temperature and the ohms measured")
    celsius = _read("--at", asked.at, read_celsius)
    assert celsius is not None
    meter, thermometer = (
        _read("--meter", asked.meter, read_share),
        _read("--thermometer", asked.thermometer, read_kelvin),
    )
    try:
        return check_sensor(
            curve,
            celsius,
            _ohms("--ohms", asked.ohms),
            allowance,
            METER if meter is None else meter,
            THERMOMETER if thermometer is None else thermometer,
        )
    except BeyondTheCurve as error:
        raise Unusable(f"--at {asked.at}: {error}") from None


def _refuse_chart_options(asked: Asked) -> None:
    """Refuse what would change a chart where none is made."""
    options = {
        "--from": asked.low, "--to": asked.high, "--step": asked.step, "--fahrenheit": asked.fahrenheit or None,
        "--fixed": asked.fixed, "--supply": asked.supply, "--counts": asked.counts, "--sensor-at": asked.sensor_at,
    }  # fmt: skip
    for option, value in options.items():
        if value is not None:
            raise Unusable(
                f"{option} is for the chart, and a check prints none; -o FILE draws one with the check on it"
            )


def _divider(asked: Asked) -> Divider | None:
    if all(one is None for one in (asked.supply, asked.fixed, asked.counts, asked.sensor_at)):
        return None
    if asked.fixed is None or (asked.supply is None) == (asked.counts is None):
        raise Unusable("a divider needs --fixed and one of --supply and --counts: --fixed 10k --supply 5V")
    fixed = _read("--fixed", asked.fixed, read_ohms)
    if not fixed:
        raise Unusable("--fixed: a fixed resistor has some resistance")
    supply = _read("--supply", asked.supply, read_volts)
    position = cast(Position, asked.sensor_at or "bottom")
    return Divider(fixed, position, Fraction(1) if supply is None else supply, counts=asked.counts)


def _table(curve: Curve, asked: Asked, allowance: Allowance | None) -> SensorTable:
    step = _read("--step", asked.step, _degrees)
    low, high = _read("--from", asked.low, read_celsius), _read("--to", asked.high, read_celsius)
    try:
        return sensor_table(
            curve, low, high, step, "°F" if asked.fahrenheit else "°C", allowance, _divider(asked)
        )  # fmt: skip
    except ValueError as error:
        raise Unusable(str(error)) from None


# -- what is told --------------------------------------------------------------------------------------------------


def _draw(table: SensorTable, check: SensorCheck | None, asked: Asked) -> None:
    from boardgauge.drawings.rendering import made_by, typeset
    from boardgauge.drawings.sensor_chart import TooManyRows, sensor_chart

    assert asked.output is not None
    target = Path(asked.output)
    chosen = asked.format_ or target.suffix.lstrip(".").lower()
    if chosen not in FORMATS:
        raise Unusable(f"{target}: the format is not plain from the name; end it in .svg, .png or .pdf or say --format")
    title = table.curve.title
    footer = f"{title} · {table.curve.id} · {' '.join(table.curve.source.split())} · {made_by()}"
    try:
        svg = sensor_chart(table, footer, cast('Literal["letter", "a4"]', asked.paper or "letter"), check)
    except TooManyRows as error:
        raise Unusable(str(error)) from None
    target.write_bytes(
        svg.encode() if chosen == "svg" else typeset(svg, cast('Literal["png", "pdf"]', chosen), title)
    )  # fmt: skip
    click.echo(str(target), err=asked.as_json)


def _as_json(table: SensorTable | None, check: SensorCheck | None, leak: Fraction | None, leaks: str | None) -> Any:
    found: dict[str, Any] = {}
    if table is not None:
        found["chart"] = table.as_json()
    if check is not None:
        found["check"] = check.as_json()
    if leaks is not None:
        found["to_chassis"] = {"verdict": leaks, "ohms": None if leak is None else float(leak)}
    return found


def _told(
    curve: Curve, table: SensorTable | None, check: SensorCheck | None, leaks: InsulationVerdict | None, asked: Asked
) -> Iterator[str]:
    if check is not None:
        yield from checked(curve, check)
    if leaks is not None:
        yield f"leads to chassis, {asked.to_chassis} measured: {INSULATION[leaks]}"
    if check is None and leaks is None and asked.output is None:
        assert table is not None
        yield from chart(table)
    if check is not None or leaks is not None:
        yield ""
        yield from filled(f"Caution: {CAUTIONS}")
