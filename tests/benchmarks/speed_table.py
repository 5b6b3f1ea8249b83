"""What was measured, and how it is told: a table, and each goal with what was found beside it.

Law of this module: a goal that is missed is told like one that is met.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from attrs import frozen


@frozen
class Measured:
    """Figures for one recording: seconds, of ``others`` by name; ``end`` in microseconds, ``peak`` in kB.

    ``judged`` is by a judge that judged the recording before, ``first`` by one that judged nothing yet.
    """

    edges: int
    end: int
    verdict: str
    read: float
    conditioned: float
    judged: float
    first: float
    others: dict[str, float]
    wall: float
    processor: float
    peak: int

    def ratio(self, other: str) -> float | None:
        """Give how many times as long another took; None where it was not measured."""
        return self.others[other] / self.judged if other in self.others else None

    @property
    def rate(self) -> float:
        """Edges judged a second."""
        return self.edges / self.judged

    def each(self, seconds: float) -> float:
        """Give microseconds an edge."""
        return seconds / self.edges * 1e6


def _ratio(value: float | None) -> str:
    return "-" if value is None else f"{value:.3g}x"


def table(found: Sequence[Measured]) -> str:
    """Give the table and the goals as text."""
    heads = ["", *(f"{row.edges:,} edges" for row in found)]
    lines: list[list[str]] = [
        ["hours of life", *(f"{row.end / 3.6e9:.1f}" for row in found)],
        ["verdict", *(row.verdict for row in found)],
        ["reading the VCD, s", *(f"{row.read:.3f}" for row in found)],
        ["conditioning, s", *(f"{row.conditioned:.3f}" for row in found)],
        ["judging for the first time, s", *(f"{row.first:.3f}" for row in found)],
        ["  µs an edge", *(f"{row.each(row.first):.3g}" for row in found)],
        ["judging, s", *(f"{row.judged:.3f}" for row in found)],
        ["judging, µs an edge", *(f"{row.each(row.judged):.3g}" for row in found)],
        ["judging, edges/s", *(f"{row.rate:,.0f}" for row in found)],
    ]
    for name, what in (
        ("transitions", "transitions"),
        ("rtamt", "rtamt (bounded responses)"),
        ("plain", "plain Python, one run"),
        ("c", "C loop, one run"),
    ):
        if any(name in row.others for row in found):
            each = [f"{row.each(row.others[name]):.3g}" if name in row.others else "-" for row in found]
            lines.append([f"{what}, µs an edge", *each])
            lines.append(["  as long as judging", *(_ratio(row.ratio(name)) for row in found)])
    lines += [
        ["boardgauge judge, wall s", *(f"{row.wall:.2f}" for row in found)],
        ["boardgauge judge, processor s", *(f"{row.processor:.2f}" for row in found)],
        ["boardgauge judge, peak MB", *(f"{row.peak / 1024:.0f}" for row in found)],
    ]
    widths = [max(len(row[column]) for row in (heads, *lines)) for column in range(len(heads))]
    text = ["  ".join(cell.rjust(width) if i else cell.ljust(width) for i, (cell, width) in enumerate(zip(row, widths)))  # noqa: B905
            for row in (heads, *lines)]  # fmt: skip
    return "\n".join([*text, "", *_goals(found)])


def _goals(found: Sequence[Measured]) -> Iterator[str]:
    least, most = found[0], found[-1]
    for name, times, what in (
        ("transitions", 25, "at least 25 times as fast as transitions"),
        ("rtamt", 500, "at least 500 times as fast as rtamt at 57,000 edges"),
        ("plain", 1, "no slower than one nominal run in plain Python"),
    ):
        rows = [row for row in found if name in row.others]
        if rows:
            ratio = rows[-1].ratio(name) or 0.0
            yield _goal(what, f"{ratio:.3g} times at {rows[-1].edges:,} edges", ratio >= times)
    if len(found) > 1:
        growth = most.each(most.judged) / least.each(least.judged)
        yield _goal(
            f"linear from {least.edges:,} to {most.edges:,} edges", f"{growth:.2f} times as long an edge", growth < 1.5
        )
    for row, seconds in ((least, 0.5), (most, 3.0)):
        if row.edges in {1_000, 1_000_000}:
            what = f"boardgauge judge of {row.edges:,} edges in under {seconds:g} s"
            yield _goal(what, f"{row.wall:.2f} s on the wall, {row.processor:.2f} s of processor", row.wall < seconds)


def _goal(what: str, measured: str, met: bool) -> str:
    return f"goal {'met' if met else 'MISSED'}: {what}: {measured}"
