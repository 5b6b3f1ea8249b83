"""Say a judgement in words, for a terminal or a page.

Law of this module: it adds nothing to the judgement; times are seconds from the start of the recording.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.judging.judgement import Deviation, Judgement, TimingCoverage
from boardgauge.language.model import Board

WORDS = {
    "conforms": "conforms: the board did what the spec allows, every change taken as recorded",
    "deviates": "deviates: beyond doubt the board did what the spec forbids",
    "undecided": "undecided: neither can be said beyond doubt",
}


def report(judgement: Judgement, board: Board) -> str:
    """Give the judgement in words."""
    return "\n".join(_lines(judgement, board))


def _lines(judgement: Judgement, board: Board) -> Iterator[str]:
    yield f"{judgement.file}"
    yield f"  {WORDS[judgement.verdict]}"
    begins = "with power-up" if judgement.known_start else "at an unknown moment in the board's life"
    seconds = (judgement.end - judgement.start) / 1_000_000
    yield f"  board {judgement.board} ({judgement.spec_digest[:12]}), {seconds:.1f} s, begins {begins}"
    if judgement.unwired:
        yield f"  not wired: {', '.join(judgement.unwired)}"
    if judgement.ignored:
        yield f"  channels not used: {', '.join(judgement.ignored)}"
    if judgement.clock_rate is not None:
        low, high = (float(bound - 1) * 100 for bound in judgement.clock_rate)
        yield f"  one clock drives all its times; it runs {_slow(low)} to {_slow(high)}"
    yield from _remarks(judgement)
    for deviation in judgement.deviations:
        yield ""
        yield from deviation_lines(judgement, deviation)
    for doubt in judgement.doubts:
        rule = f"{doubt.rule}: " if doubt.rule else ""
        # Of a board that deviates nothing is in doubt: here stands from when on nothing is said.
        when = "" if judgement.verdict == "deviates" else f"in doubt at {judgement.seconds(doubt.time):.3f} s: "
        yield f"  {when}{rule}{doubt.reason}"
    yield from _coverage(judgement, board)


def _remarks(judgement: Judgement) -> Iterator[str]:
    """Say what is to be known of the recording itself, before what the board did."""
    for remark in judgement.remarks:
        if not remark.channel:
            yield f"  {remark.text}"
            continue
        name = remark.channel if remark.channel == remark.signal else f"{remark.channel} ({remark.signal})"
        since, until = judgement.seconds(remark.start), judgement.seconds(remark.end)
        taken = "" if remark.known else "; taken as not known there"
        yield f"  {name}, {since:.3f} to {until:.3f} s: {remark.kind}: {remark.text}{taken}"


def _slow(percent: float) -> str:
    return f"{abs(percent):.2f} % {'slow' if percent >= 0 else 'fast'}"


def deviation_lines(judgement: Judgement, deviation: Deviation) -> Iterator[str]:
    """Give the lines that tell of one deviation."""
    clause = f", clause {deviation.clause}" if deviation.clause else ""
    after = " (follows from the one before)" if deviation.following else ""
    time = judgement.seconds(deviation.time)
    yield f"  {time:.3f} s  {deviation.channel}: {deviation.rule}{clause}{after}"
    yield f"    seen      {deviation.observed}"
    yield f"    expected  {deviation.expected}"
    if deviation.earliest is not None and deviation.latest is not None:
        low, high = judgement.seconds(deviation.earliest), judgement.seconds(deviation.latest)
        yield f"    allowed   {low:.3f} s to {high:.3f} s{_margin(deviation)}"
    if deviation.counted_from:
        yield f"    counted   {deviation.counted_from}"
    if deviation.others:
        yield f"    with      {', '.join(deviation.others)}"
    if deviation.at is not None:
        yield f"    spec      {deviation.at}"


def _margin(deviation: Deviation) -> str:
    assert deviation.earliest is not None
    if deviation.kind == "early":
        return f", {(deviation.earliest - deviation.time) / 1_000_000:.3f} s too early"
    return ""


def _coverage(judgement: Judgement, board: Board) -> Iterator[str]:
    exercised = [rule for rule in judgement.rules if rule.exercised]
    missing = [rule.rule for rule in judgement.rules if not rule.exercised]
    yield ""
    timed = any(rule.kind == "condition" for rule in judgement.rules)
    what = "rules and timed conditions" if timed else "rules"
    yield f"  exercised {len(exercised)} of {len(judgement.rules)} {what}" + (
        f"; not exercised, so nothing is proved of: {', '.join(missing)}" if missing else ""
    )
    timings = [t for rule in judgement.rules for t in rule.timings if t.ended]
    if timings:
        width = max(len(t.name) for t in timings)
        for timing in timings:
            yield f"    {timing.name:<{width}}  {_measured(timing, judgement.end - judgement.start)}"
    for row in judgement.lamps:
        lines = board.lamps[row.lamp].lines
        seen = sum(row.lines)
        yield f"  lamp {row.lamp}: {seen} of {len(lines)} lines of its table shown long enough to be read"


def _measured(timing: TimingCoverage, seen_for: int) -> str:
    times = "once" if timing.ended == 1 else f"{timing.ended} times"
    if timing.sped_up:
        times += ", sped up" if timing.sped_up == timing.ended else f", {timing.sped_up} of them sped up"
    if timing.least is None or timing.greatest is None:
        return f"ended {times}"
    if timing.greatest > seen_for:
        # What it can have lasted is the spec's word, not the recording's.
        which = "" if timing.ended == 1 else "the first "
        return f"ended {times}, {which}begun before the recording"
    low, high = timing.least / 1_000_000, timing.greatest / 1_000_000
    lasted = f"{low:.3f} s" if high - low < 0.0005 else f"{low:.3f} to {high:.3f} s"
    limits = f"{timing.shortest / 1_000_000:.12g} to {timing.longest / 1_000_000:.12g} s"
    # Where its beginning or end showed at no terminal, the recording leaves more open than the spec does.
    open_ = timing.least < timing.shortest or timing.greatest > timing.longest
    return f"{'lasted, as far as that shows,' if open_ else 'measured'} {lasted} ({times}), allowed {limits}"
