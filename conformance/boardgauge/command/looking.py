"""``boardgauge look``."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import click
from attrs import asdict, frozen

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, find_wiring, spec_path
from boardgauge.language.model import Board
from boardgauge.traces import BadWiring, Recording, UnreadableRecording, Wire, Wiring, condition, read_recording
from boardgauge.traces.appearance import Appearance, appearance_of
from boardgauge.traces.draft import draft_of
from boardgauge.traces.errors import NoRoom
from boardgauge.traces.matching import Matches, matches_of
from boardgauge.traces.pace import Pace, pace_of
from boardgauge.traces.reduction import Reduction
from boardgauge.traces.shelf import Shelf
from boardgauge.traces.suspicions import Suspicion, suspicions_of
from boardgauge.traces.trace import Trace


@frozen(eq=False)
class Look:
    """What there is to see in a recording: all that the command prints."""

    recording: Recording
    pace: Pace | None
    appearances: tuple[Appearance, ...]
    suspicions: tuple[Suspicion, ...]
    shows: dict[str, str]
    """For each channel of which it is known, or sure by its name, the signal of the board."""
    matches: Matches | None = None
    misfits: tuple[str, ...] = ()
    """Why the wiring does not fit."""
    remarks: tuple[str, ...] = ()
    """What reading the channels as the wiring says brings up."""


def look(trace: str, board: str | None, wiring: str | None, output: str | None, as_json: bool) -> None:
    """Print what is in a recording, and draft a wiring of it."""
    if board is None and (wiring is not None or output is not None):
        raise Unusable(f"{'--wiring' if wiring is not None else '-o'} needs --board: the signals are those of a board")
    if wiring is not None and output is not None:
        raise Unusable("-o drafts a wiring; it cannot be used with --wiring, which has one already")
    spec = None if board is None else find_board(board)
    wired = None if spec is None or board is None or wiring is None else find_wiring(wiring, spec, spec_path(board))
    with Shelf() as shelf:
        try:
            recording = read_recording(trace, shelf=shelf)
            # As it would be judged: what is not asked for need not be held.
            reduced = None if spec is None or wired is None else read_recording(trace, reduction=Reduction(wired, spec))
        except (UnreadableRecording, NoRoom) as error:
            raise Unusable(str(error)) from None
        seen = look_at(recording, spec, wired, reduced)
    if output is not None:
        assert spec is not None
        assert seen.matches is not None
        target = Path(output)
        id_ = re.sub(r"[^A-Za-z0-9_-]+", "-", target.stem).strip("-") or "draft"
        text = draft_of(spec, seen.matches, seen.appearances, seen.suspicions, id_, Path(trace).name)
        target.write_text(text, encoding="utf-8")
    if as_json:
        click.echo(json.dumps(as_object(seen, output), ensure_ascii=False))
        return
    for line in told(seen, spec):
        click.echo(line)
    if output is not None and seen.matches is not None:
        sure, unsure = len(seen.matches.sure), len(recording.channels) - len(seen.matches.sure)
        click.echo(f"\nwritten: {output} ({sure} channels wired, {unsure} left as comments); read it before you use it")


def look_at(
    recording: Recording, board: Board | None = None, wiring: Wiring | None = None, reduced: Recording | None = None
) -> Look:
    """Look at a recording; with a board also at what its channels are there, by a wiring or else by their names.

    ``reduced`` is the same recording, read for the wiring: it says the same there in less memory.
    """
    appearances = tuple(appearance_of(channel, recording) for channel in recording.channels.values())
    pace = pace_of(recording)
    matches: Matches | None = None
    wires: dict[str, Wire] = {}
    misfits: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    suspected: tuple[Suspicion, ...] = ()
    if board is not None and wiring is not None:
        for wire in wiring.wires:
            channel = recording.find(wire.channel)
            if channel is not None:
                wires[channel.name] = wire
        try:
            trace = condition(reduced or recording, wiring, board)
            remarks = tuple(
                f"{remark.channel}, {_seconds(remark.start - recording.start)} to "
                f"{_seconds(remark.end - recording.start)}: {remark.kind}: {remark.text}"
                if remark.channel
                else remark.text
                for remark in trace.remarks
            )
            suspected = _crossed(trace, wiring, board)
        except BadWiring as error:
            misfits = tuple(str(problem) for problem in error.problems)
    elif board is not None:
        matches = matches_of(recording.channels, board)
        wires = {match.channel: Wire(match.channel, match.signal, match.inverted) for match in matches.sure}
    return Look(
        recording,
        pace,
        appearances,
        (*suspected, *suspicions_of(recording, pace, appearances, board, wires)),
        {channel: wire.signal for channel, wire in wires.items()},
        matches,
        misfits,
        remarks,
    )


def _crossed(trace: Trace, wiring: Wiring, board: Board) -> tuple[Suspicion, ...]:
    """Say which two channels look crossed."""
    # Here, since nothing else of this command takes the machine.
    from boardgauge.traces.crossed import crossed

    found = crossed(trace, wiring, board)
    if found is None:
        return ()
    one, other = found
    what = (
        f"{one.channel} ({one.signal}) and {other.channel} ({other.signal}) look crossed: as they are wired, the board "
        "stands as in no state of its spec; changed over, it never does"
    )
    advice = "see which probe is where, and change the two over in the wiring; if they are right, the board is at fault"
    return (Suspicion("crossed", None, what, advice),)


def told(seen: Look, board: Board | None) -> list[str]:
    """Say in words what was seen."""
    recording, pace = seen.recording, seen.pace
    lines = [
        recording.file,
        f"  format    {recording.format}",
        f"  span      {_seconds(recording.start)} to {_seconds(recording.end)}, "
        f"{_seconds(recording.end - recording.start)} in all",
    ]
    if pace is not None:
        even = "" if pace.least == pace.greatest else f" ({_ms(pace.least)} to {_ms(pace.greatest)})"
        lines.append(f"  samples   {pace.samples:,}, every {_ms(pace.usual)}{even}, {1e6 / pace.usual:.6g} a second")
        if pace.longest_gap is not None:
            at, length = pace.longest_gap
            where = _seconds(at - recording.start)
            longest = f"the longest {_ms(length)} from {where} on"
            lines.append(f"  gaps      {pace.gaps}, {longest}, {_ms(pace.missing)} missing in all")
    elif recording.samples is None:
        lines.append("  changes   each as it happened; nothing says when the levels were looked at")
    lines.append("")
    lines += _table(seen, board is not None)
    if seen.matches is not None:
        offers = [f"{m.channel} may be {m.signal}" for m in seen.matches.unsure]
        if offers:
            lines += ["", f"  not sure by their names: {', '.join(offers)}"]
    if board is not None:
        shown = set(seen.shows.values())
        missing = [n for n in ("power", *board.inputs, *board.outputs, *board.lamps) if n not in shown]
        if missing:
            lines += ["", f"  no channel for: {', '.join(missing)}"]
    if seen.misfits:
        lines += ["", "  the wiring does not fit:", *(f"    {line}" for line in seen.misfits)]
    if seen.remarks:
        lines += ["", "  read by the wiring:", *(f"    {line}" for line in seen.remarks)]
    lines += ["", "  to look at:" if seen.suspicions else "  nothing looks wrong"]
    still = {each.channel: each for each in seen.appearances if each.kind == "constant"}
    if still:
        names = ", ".join(f"{name} ({_levels(each)})" for name, each in still.items())
        lines.append(f"    never {'change' if len(still) > 1 else 'changes'}: {names}")
    for each in seen.suspicions:
        if each.about == "never changes":
            continue
        lines.append(f"    {each.channel + ': ' if each.channel else ''}{each.what}")
        if each.advice is not None:
            lines.append(f"      {each.advice}")
    return lines


def _table(seen: Look, board: bool) -> list[str]:
    rows = [["channel", "kind", "levels", "changes", "shortest pulse", "not known", *(["shows"] if board else [])]]
    for each in seen.appearances:
        cells = [each.channel, _kind(each), _levels(each), f"{each.changes:,}"]
        cells += ["" if each.shortest is None else _ms(each.shortest), _share(each.unknown)]
        rows.append([*cells, *([seen.shows.get(each.channel, "?")] if board else [])])
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    right = (3, 4, 5)
    return [
        "  " + "  ".join(
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]  # fmt: skip


def _kind(each: Appearance) -> str:
    if each.pulses is None:
        return each.kind
    return f"{each.pulses.hertz} Hz {'full' if each.pulses.a_period == 2 else 'half'}-wave"


def _levels(each: Appearance) -> str:
    if each.kind == "never known":
        return ""
    if each.high is not None:
        if not each.changes:
            return "high" if each.high else "low"
        share = each.high * 100
        return f"{'< 1' if share < 1 else '> 99' if share > 99 else f'{share:.0f}'} % high"
    if each.levels is not None:
        return f"{each.least:g} to {each.greatest:g}, mostly {each.levels.low:g} or {each.levels.high:g}"
    return f"{each.least:g} to {each.greatest:g}"


def _share(unknown: float) -> str:
    return "" if not unknown else "< 1 %" if unknown < 0.01 else f"{unknown * 100:.0f} %"


def _seconds(microseconds: int) -> str:
    return f"{microseconds / 1_000_000:.6f}".rstrip("0").rstrip(".") + " s"


def _ms(microseconds: int) -> str:
    if microseconds >= 1_000_000:
        return f"{microseconds / 1_000_000:.4g} s"
    return f"{microseconds / 1000:.6g} ms"


def as_object(seen: Look, output: str | None = None) -> dict[str, Any]:
    """Give what was seen as JSON; times are whole microseconds, and shares from 0 to 1."""
    recording = seen.recording
    channels = []
    for each in seen.appearances:
        row = asdict(each)
        row["name"] = row.pop("channel")
        channels.append({**row, "shows": seen.shows.get(each.channel)})
    found: dict[str, Any] = {
        "trace": recording.file,
        "sha256": recording.sha256,
        "format": recording.format,
        "start_us": recording.start,
        "end_us": recording.end,
        "rounded": recording.rounded,
        "samples": None if seen.pace is None else asdict(seen.pace),
        "channels": channels,
        "suspicions": [asdict(each) for each in seen.suspicions],
        "misfits": list(seen.misfits),
        "remarks": list(seen.remarks),
    }
    if seen.matches is not None:
        found["matches"] = [asdict(match) for match in (*seen.matches.sure, *seen.matches.unsure)]
    if output is not None:
        found["wiring"] = output
    return found
