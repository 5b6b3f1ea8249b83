"""``boardgauge records DATABASE timings``.

Law of this module: every figure comes with what it is worth: how many boards, what the recordings leave open, how sure.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, Unusable
from boardgauge.command.keeping import opened
from boardgauge.command.records_telling import wanted_of
from boardgauge.rigs.rig import NOT_KEPT, SIMULATED
from boardgauge.sheets.figures import many

if TYPE_CHECKING:
    from boardgauge.records.capability import Capability
    from boardgauge.records.histogram import Histogram
    from boardgauge.records.lots import TimingFigures
    from boardgauge.records.spread import Interval


def tell_figures(
    database: str,
    timings: Sequence[str],
    given: Mapping[str, Any],
    output: str | None,
    as_json: bool,
    *,
    simulated: bool = False,
) -> int:
    """Tell the figures of timings; give the exit status. Simulated boards count only with ``simulated``."""
    with opened(database) as records:
        from boardgauge.records.finding import simulated_runs
        from boardgauge.records.lots import figures

        wanted = wanted_of(given)
        every = figures(records, wanted, simulated=simulated)
        left = 0 if simulated else simulated_runs(records, wanted)
        if left:
            click.echo(left_out(left), err=as_json or not every)
        found = [one for one in every if not timings or one.timing in timings]
        _all_there(timings, every)
    if output is not None:
        _draw(found, output)
    if as_json:
        click.echo(json.dumps([_data(one) for one in found], ensure_ascii=False, indent=2))
    elif not found:
        click.echo("no times were measured")
    else:
        click.echo("\n\n".join("\n".join(_lines(one)) for one in found))
    if output is not None:
        click.echo(output, err=as_json)
    return DEVIATES if any(one.moves or one.drifts for one in found) else CONFORMS


def left_out(runs: int) -> str:
    """Say that so many simulated runs do not count, and what makes them."""
    return f"left out: {many(runs, 'run')} ({SIMULATED}); --simulated counts them too"


def _all_there(timings: Sequence[str], every: Sequence[TimingFigures]) -> None:
    from boardgauge.language.problems import nearest_of

    known = dict.fromkeys(one.timing for one in every)
    for timing in timings:
        if timing not in known:
            near = nearest_of(timing, known)
            hint = f"; did you mean {near!r}?" if near else f"; there are {', '.join(known) or 'none'}"
            raise Unusable(f"no time of {timing!r} was measured in these runs{hint}")


def _draw(found: Sequence[TimingFigures], output: str) -> None:
    from boardgauge.command.charting import FORMATS, path_of
    from boardgauge.drawings.rendering import typeset
    from boardgauge.records.histogram import as_svg

    drawn = [one for one in found if one.times]
    if len(drawn) != 1:
        names = ", ".join(f"{one.timing} ({one.board})" for one in drawn) or "none"
        raise Unusable(f"-o {output}: draws one timing; name it (measured: {names})")
    target = path_of(output, drawn[0].timing, None, FORMATS)
    kind = target.suffix.lower()
    made = _histogram(drawn[0])
    svg = as_svg(made, list(_notes(drawn[0])))
    target.write_bytes(svg.encode() if kind == ".svg" else typeset(svg, "png" if kind == ".png" else "pdf", made.title))


def _histogram(one: TimingFigures) -> Histogram:
    from boardgauge.records.histogram import histogram

    clause = f", clause {one.clause}" if one.clause else ""
    return histogram(f"{one.board} {one.timing}{clause}: {many(len(one.times), 'board')}", one.values, one.limits)


def _lines(one: TimingFigures) -> Iterator[str]:
    from boardgauge.records.histogram import as_text

    if not one.times:
        yield f"{one.board} {one.timing}: no time measured"
    else:
        made = _histogram(one)
        yield made.title
        yield from (f"  {line}" for line in as_text(made))
    yield from (f"  {note}" for note in _notes(one))


def _notes(one: TimingFigures) -> Iterator[str]:
    """Give the figures in words."""
    for simulated, told in ((True, SIMULATED), (None, NOT_KEPT)):
        boards = sum(time.simulated is simulated for time in one.times)
        if boards:
            yield f"of {boards} of these boards: {told}"
    spread = one.spread
    if spread is not None:
        yield (
            f"mean {spread.mean:.3f} s ({_seconds(spread.mean_within)}), standard deviation {spread.deviation:.3f} s "
            f"({_seconds(spread.deviation_within)}); in brackets what the recordings leave open, {spread.width:.3f} s "
            "of a time"
        )
    if one.deviated:
        yield (
            f"{many(one.deviated, 'board')} deviated in this rule and gave no time: figures of the others look better "
            "than the boards are"
        )
    if one.varies:
        yield "what is allowed hangs on a setting of the board, so the times are not held against it here"
    elif one.capability is None:
        if one.times:
            from boardgauge.records.capability import LEAST

            yield f"capability: not given for fewer than {LEAST} boards"
    else:
        yield from _capability(one.capability)
    yield from _movement(one)


def _capability(found: Capability) -> Iterator[str]:
    for name, index in (("Cp", found.cp), ("Cpk", found.cpk)):
        yield (
            f"{name:<3} {_number(index.value)} (95 % confidence {_from_to(index.confidence)}; with what the "
            f"recordings leave open {_from_to(index.both)})"
        )
    if found.doubtful:
        yield (
            f"the times are hardly normally distributed (Shapiro and Wilk, p = {found.normal:.2g}): Cp and Cpk say "
            "little"
        )


def _movement(one: TimingFigures) -> Iterator[str]:
    trend = one.trend
    if trend is not None:
        told = f"{trend.slope:+.4f} s a month (p = {trend.p:.2g})"
        yield f"trend: MOVES, {told}" if one.moves else f"trend: none found; {told}"
    drift = one.drift
    if drift is not None:
        least, most = drift.furthest
        told = (
            f"lot {least.name} {least.mean.middle:.3f} s ({_seconds(least.mean)}) to lot {most.name} "
            f"{most.mean.middle:.3f} s ({_seconds(most.mean)}), p = {drift.p:.2g}"
        )
        if one.drifts:
            yield f"lots: DRIFT, {told}"
        else:
            yield f"lots: no drift found; {told}"
        if drift.left_out:
            yield f"lots too small to compare: {', '.join(drift.left_out)}"


def _seconds(interval: Interval) -> str:
    return f"{interval.low:.3f} to {interval.high:.3f}"


def _from_to(interval: Interval) -> str:
    return f"{_number(interval.low)} to {_number(interval.high)}"


def _number(value: float) -> str:
    return "no bound" if math.isinf(value) else f"{value:.2f}"


def _data(one: TimingFigures) -> dict[str, Any]:
    from datetime import datetime

    from attrs import asdict

    from boardgauge.records.moments import utc

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: plain(inner) for key, inner in value.items()}
        if isinstance(value, list | tuple):
            return [plain(inner) for inner in value]
        if isinstance(value, datetime):
            return utc(value)
        # JSON has no infinite numbers.
        return None if isinstance(value, float) and math.isinf(value) else value

    data = asdict(one)
    data["times"] = [
        {
            "serial": t.serial,
            "lot": t.lot,
            "run": t.run,
            "least": t.time.low,
            "greatest": t.time.high,
            "simulated": t.simulated,
        }
        for t in one.times
    ]
    found: dict[str, Any] = plain(data)
    return found
