"""``boardgauge lamp``: tell what the lamps of a board showed over time.

Law of this module: it adds nothing to what the decoder says; times are seconds from the start of the recording.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, Unusable
from boardgauge.command.finding import find_board, find_trace, find_wiring, spec_path
from boardgauge.language.model import Board, Lamp
from boardgauge.language.problems import nearest_of
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.traces import Trace
from boardgauge.traces.lamp_decoding import Shown, decode
from boardgauge.traces.lamps import watch_of
from boardgauge.traces.remarks import Remark

MOST_NAMED = 3
SAYS = {
    "sure": "sure",
    "likely": "likely: less than a whole turn seen",
    "open": "not told apart",
    "none": "no line of the table",
    "not read": "too short to read",
    "not known": "lit or dark is not known",
    "no supply": "",
}


def tell_lamps(board: str, recording: str, wiring: str | None, names: tuple[str, ...], as_json: bool) -> int:
    """Print what the lamps (all that are wired, or those named) showed in a recording; give the exit status."""
    spec = find_board(board)
    if not spec.lamps:
        raise Unusable(f"{spec.id} has no lamp")
    for name in names:
        if name not in spec.lamps:
            near = nearest_of(name, spec.lamps)
            hint = f"; did you mean {near!r}?" if near else ""
            raise Unusable(f"--lamp {name}: {spec.id} has no such lamp, but {', '.join(spec.lamps)}{hint}")
    trace = find_trace(recording, find_wiring(wiring, spec, spec_path(board)), spec)
    wanted = names or tuple(name for name in spec.lamps if name in trace.waves)
    missing = [name for name in names if name not in trace.waves]
    if missing or not wanted:
        raise Unusable(f"{recording}: no channel shows {', '.join(missing) or 'a lamp'} of {spec.id}")
    shown = {name: decode(trace, watch_of(trace, spec.lamps[name])) for name in dict.fromkeys(wanted)}
    if as_json:
        click.echo(json.dumps(_as_json(trace, spec, shown), ensure_ascii=False))
    else:
        for name, rows in shown.items():
            for line in _lines(trace, spec, spec.lamps[name], rows):
                click.echo(line)
    return DEVIATES if any(_illegal(rows) for rows in shown.values()) else CONFORMS


def _illegal(rows: tuple[Shown, ...]) -> list[Shown]:
    return [row for row in rows if row.certainty == "none"]


def _lines(trace: Trace, board: Board, lamp: Lamp, rows: tuple[Shown, ...]) -> Iterator[str]:
    seconds = (trace.end - trace.start) / 1_000_000
    yield f"{trace.file}: lamp {lamp.id} of {board.id}, {seconds:.1f} s"
    for remark in trace.remarks:
        if remark.signal == lamp.id:
            since, until = _second(trace, remark.start), _second(trace, remark.end)
            yield f"  {since:.2f} to {until:.2f} s: {remark.kind}: {remark.text}"
    table = [("from (s)", "to (s)", "seen", "line of the table", "certainty")]
    table += [
        (_when(trace, row.begins), _when(trace, row.ends), row.seen, _named(lamp, row), _certainty(lamp, row))
        for row in rows
    ]
    widths = [max(len(cells[column]) for cells in table) for column in range(4)]
    for cells in table:
        first, second, *rest = cells
        texts = [first.rjust(widths[0]), second.rjust(widths[1])]
        texts += [cell.ljust(width) for cell, width in zip(rest, [*widths[2:], 0], strict=True)]
        yield ("  " + "  ".join(texts)).rstrip()
    if illegal := _illegal(rows):
        yield f"  {len(illegal)} stretch{'' if len(illegal) == 1 else 'es'} that no line of the table explains"


def _second(trace: Trace, time: int) -> float:
    return (time - trace.start) / 1_000_000


def _when(trace: Trace, between: tuple[int, int]) -> str:
    """Write a moment that lies between two: ``31.16 ± 0.06``."""
    low, high = (_second(trace, time) for time in between)
    if high - low < 0.005:
        return f"{high:.2f}       "
    return f"{(low + high) / 2:.2f} ± {(high - low) / 2:.2f}"


def _named(lamp: Lamp, row: Shown) -> str:
    if not row.lines:
        return ""
    line = lamp.lines[row.lines[0]]
    meanings = [lamp.lines[index].means or _line(lamp, index) for index in row.lines]
    clause = f" (clause {line.clause})" if line.clause else ""
    return f"{write_pattern(line.shows)}: {' or '.join(meanings)}{clause}"


def _line(lamp: Lamp, index: int) -> str:
    line = lamp.lines[index]
    return line.means or write_pattern(line.shows)


def _certainty(lamp: Lamp, row: Shown) -> str:
    says = SAYS[row.certainty]
    if not row.may_be:
        return "not sure: samples too far apart for it" if row.certainty == "open" else says
    if len(row.may_be) > MOST_NAMED:
        return f"{says}: any of {len(row.may_be)} lines"
    others = "; ".join(write_pattern(lamp.lines[index].shows) for index in row.may_be)
    return f"{says} from {others}" if row.lines else f"{says}: {others}"


def _as_json(trace: Trace, board: Board, shown: dict[str, tuple[Shown, ...]]) -> dict[str, Any]:
    def interval(between: tuple[int, int]) -> list[float]:
        return [_second(trace, time) for time in between]

    def remark(found: Remark) -> dict[str, Any]:
        since, until = _second(trace, found.start), _second(trace, found.end)
        return {"signal": found.signal, "kind": found.kind, "from": since, "to": until, "text": found.text}

    def line(lamp: Lamp, index: int) -> dict[str, Any]:
        row = lamp.lines[index]
        return {
            "line": index + 1,
            "shows": write_pattern(row.shows),
            "means": row.means,
            "clause": row.clause,
        }

    def stretch(lamp: Lamp, row: Shown) -> dict[str, Any]:
        return {
            "begins": interval(row.begins),
            "ends": interval(row.ends),
            "begun_before": row.open_before,
            "goes_on": row.open_behind,
            "seen": row.seen,
            "lines": [line(lamp, index) for index in row.lines],
            "may_be": [line(lamp, index) for index in row.may_be],
            "certainty": row.certainty,
        }

    return {
        "trace": trace.file,
        "board": board.id,
        "lamps": {name: [stretch(board.lamps[name], row) for row in rows] for name, rows in shown.items()},
        "remarks": [remark(found) for found in trace.remarks if found.signal in shown],
    }
