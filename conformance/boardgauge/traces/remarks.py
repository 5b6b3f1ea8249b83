"""What a person has to be told about how a channel was picked up.

Law of this module: a remark says what stands in the recording and how it was taken; it never judges the board.
"""

from __future__ import annotations

from typing import Literal

from attrs import frozen

RemarkKind = Literal[
    "chatter", "brown-out", "ragged", "steady", "missing half-cycles", "too coarse", "low contrast", "open sensor",
    "shorted sensor", "no channel",
]  # fmt: skip
"""``chatter``: coming and going without rest; ``brown-out``: a line of too low an amplitude; ``ragged``: pulses at
another rate than the line's; ``steady``: a line that does not pulse; ``missing half-cycles``: some were missing and the
line was taken as on throughout; ``too coarse``: samples too far apart to tell; ``low contrast``: lit and dark could not
be told apart; ``open sensor``, ``shorted sensor``: more or less resistance than its curve has; ``no channel``: the
recording does not have what the wiring names (of several at once it has neither signal nor channel)."""


@frozen
class Finding:
    """A remark on a channel that does not yet know whose it is; times in microseconds, as in the recording."""

    kind: RemarkKind
    start: int
    end: int
    text: str


@frozen
class Remark:
    """Something about a stretch of a channel; ``known`` tells whether its level was taken as known there."""

    signal: str
    channel: str
    kind: RemarkKind
    start: int
    end: int
    text: str
    known: bool


KNOWN: frozenset[RemarkKind] = frozenset({"steady", "missing half-cycles"})
"""The kinds after which the level is still taken as known."""


def remark_of(finding: Finding, signal: str, channel: str, known: bool | None = None) -> Remark:
    """Give the remark that a finding is on a signal; ``known`` where the kind alone does not say it."""
    sure = finding.kind in KNOWN if known is None else known
    return Remark(signal, channel, finding.kind, finding.start, finding.end, finding.text, sure)


def told(length: int) -> str:
    """Write a length for people: ``80 ms``, ``2.5 s``."""
    return f"{length / 1000:.3g} ms" if length < 1_000_000 else f"{length / 1_000_000:.4g} s"
