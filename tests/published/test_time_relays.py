"""The time-relay functions of the library, held to timing diagrams: each edge at the ends of its range, and beyond.

Source: the functions of IEC 61812-1 and IEC 60050-445. Entry 445-01-04 of IEC 60050-445 (off-delay with control signal)
was read in public; all other functions and their diagrams are from memory, and say so in the sheet of the relays. Set
times and the tolerance of 5 % are our own. In each diagram an edge of the output follows the moment named: at once
(within 50 ms), or after a set time.
"""

from __future__ import annotations

import pytest
from attrs import frozen

from boardgauge.boards import board_names
from boardgauge.cases import Case, Judged, Ours, Row
from boardgauge.machine.run import Timeline
from boards.library_runs import run_of

MS, S = 1_000, 1_000_000
AT_ONCE = 50 * MS


@frozen
class Edge:
    """An edge of an output: ``lasts`` seconds after the moment ``since``, at once where it lasts nothing.

    ``least`` and ``most`` bound the time where it is not the common 5 %.
    """

    since: float
    lasts: float = 0
    least: float | None = None
    most: float | None = None
    signal: str = "out"

    @property
    def nominal(self) -> int:
        """The nominal time, microseconds."""
        return round((self.since + self.lasts) * S)

    @property
    def window(self) -> tuple[int, int]:
        """The earliest and latest time allowed, microseconds."""
        since = round(self.since * S)
        if not self.lasts:
            return since, since + (AT_ONCE if self.most is None else round(self.most * S))
        least = self.lasts * 0.95 if self.least is None else self.least
        most = self.lasts * 1.05 if self.most is None else self.most
        return since + round(least * S), since + round(most * S)


@frozen
class Diagram:
    """What is done to a relay, and the edges that its outputs show. All begin off; ``control`` are seconds of edges."""

    edges: tuple[Edge, ...]
    control: tuple[float, ...] = ()
    power: tuple[float, ...] = (0,)
    reset: tuple[float, ...] = ()


def at(since: float, signal: str = "out") -> Edge:
    """Give an edge that follows at once."""
    return Edge(since, signal=signal)


def after(lasts: float, since: float, signal: str = "out") -> Edge:
    """Give an edge that comes a set time after a moment."""
    return Edge(since, lasts, signal=signal)


_LONG_SHORT_LONG = (2, 15, 18, 22, 30, 45)
DIAGRAMS: dict[str, Diagram] = {
    # On with the supply after 10 s; gone with it at 25; the supply of 28 to 32 is too short.
    "relay-supply-on-delay": Diagram((after(10, 0), at(25), after(10, 35)), power=(0, 25, 28, 32, 35)),
    "relay-on-delay": Diagram((after(10, 2), at(15), after(10, 30), at(45)), _LONG_SHORT_LONG),
    # The signal comes back at 18, 3 s into the delay, and takes it away.
    "relay-off-delay": Diagram((at(2), after(10, 22), at(40), after(10, 41)), (2, 15, 18, 22, 40, 41)),
    # The pause from 15 to 18 is shorter than the off-delay.
    "relay-on-and-off-delay": Diagram((after(4, 2), after(6, 22), after(4, 30), after(6, 45)), _LONG_SHORT_LONG),
    "relay-supply-interval": Diagram(
        (at(0), after(10, 0), at(30), at(34), at(36), after(10, 36)), power=(0, 25, 30, 34, 36)
    ),
    # The signal at 6 finds the pulse running; that from 30 on outlasts it.
    "relay-single-shot": Diagram((at(2), after(10, 2), at(30), after(10, 30)), (2, 4, 6, 8, 30, 50)),
    "relay-single-shot-again": Diagram((at(2), after(10, 6), at(30), after(10, 30)), (2, 4, 6, 8, 30, 50)),
    # The signal from 7 on cuts the pulse that began at 4.
    "relay-release-pulse": Diagram((at(4), at(7), at(9), after(10, 9)), (2, 4, 7, 9)),
    # The signal from 20 to 22 is too short; that from 30 ends within the pulse.
    "relay-delayed-pulse": Diagram(
        (after(4, 2), Edge(6, 2), after(4, 30), at(35)),
        (2, 15, 20, 22, 30, 35),
    ),
    "relay-flasher-pulse-first": Diagram((at(2), after(2, 2), Edge(4, 3), Edge(7, 2), Edge(9, 3), at(13)), (2, 13)),
    "relay-flasher-pause-first": Diagram(
        (after(3, 2), Edge(5, 2), Edge(7, 3), Edge(10, 2), Edge(12, 3), at(16)), (2, 16)
    ),
    # The outputs have a lag of 20 ms. The supply is no input, so its coming and going has the lag on top of 50 ms.
    "relay-star-delta": Diagram(
        (
            Edge(0, most=0.07, signal="star"),
            after(8, 0, "star"),
            # Counted from the end of the star time, which the output may have shown up to 20 ms late.
            Edge(8, 0.08, 0.04, 0.1, "delta"),
            Edge(20, most=0.07, signal="delta"),
        ),
        power=(0, 20),
    ),
    # 4 s and 3 s add up; the third part fills the 10 s after 3 s more. RESET at 40.
    "relay-summing": Diagram((Edge(20, 3, 2.5, 3.5), at(40)), (2, 6, 10, 13, 20, 30), reset=(40, 41)),
    # 6 s before the supply goes, 4 s after it is back; a full time outlasts the next loss.
    "relay-summing-kept": Diagram((Edge(25, 4, 3.5, 4.5), at(35), at(38)), (2, 8, 25, 32), power=(0, 15, 18, 35, 38)),
}
END = 60 * S
EARLY_IS_NOT_JUDGED = {("relay-summing-kept", 0)}
"""What its memory held before the recording nobody knows: the end may come late beyond doubt, but never too early."""


def inputs_of(diagram: Diagram) -> tuple[Row, ...]:
    """Give the rows of what is done."""
    rows = [
        Row(round(time * S), signal, index % 2 == 0)
        for signal, times in (("control", diagram.control), ("power", diagram.power), ("reset", diagram.reset))
        for index, time in enumerate(times)
    ]
    return tuple(rows)


def outputs_of(diagram: Diagram, moved: dict[int, int] | None = None) -> tuple[Row, ...]:
    """Give the rows of the outputs at nominal times, but for those edges that are moved."""
    level: dict[str, bool] = {}
    rows = []
    for index, edge in enumerate(diagram.edges):
        level[edge.signal] = not level.get(edge.signal, False)
        rows.append(Row((moved or {}).get(index, edge.nominal), edge.signal, level[edge.signal]))
    return tuple(rows)


def judged(name: str, diagram: Diagram, moved: dict[int, int] | None = None) -> Judged:
    """Judge the diagram as a recording, with some edges moved."""
    rows = sorted((*inputs_of(diagram), *outputs_of(diagram, moved)), key=lambda row: row.time)
    outcome = Ours().judge(Case(name, name, (), f"relays/{name}", "judge", tuple(rows), END))
    assert isinstance(outcome, Judged), outcome
    return outcome


def test_every_relay_has_a_diagram() -> None:
    """And there is none without a relay."""
    assert set(DIAGRAMS) == {name for name in board_names() if name.startswith("relay-")}


@pytest.mark.parametrize("name", DIAGRAMS)
def test_a_simulated_relay_shows_the_diagram(name: str) -> None:
    """At nominal times, to the microsecond."""
    diagram = DIAGRAMS[name]
    done: dict[str, list[tuple[int, bool]]] = {}
    for row in inputs_of(diagram):
        assert isinstance(row.value, bool)
        done.setdefault(row.signal, []).append((row.time, row.value))
    run = run_of(name, Timeline({signal: tuple(rows) for signal, rows in done.items()}, END), "nominal", 0, {})
    shown = [(time, id_, value) for id_, wave in run.outputs.items() for time, value in wave.changes]
    assert sorted(shown) == sorted((row.time, row.signal, row.value) for row in outputs_of(diagram))


@pytest.mark.parametrize("name", DIAGRAMS)
def test_the_diagram_conforms(name: str) -> None:
    """At nominal times."""
    assert judged(name, DIAGRAMS[name]).verdict == "conforms"


def _edges() -> list[tuple[str, int]]:
    return [(name, index) for name, diagram in DIAGRAMS.items() for index in range(len(diagram.edges))]


@pytest.mark.parametrize(("name", "index"), _edges())
def test_an_edge_may_stand_at_either_end_of_its_range(name: str, index: int) -> None:
    """The edges that count from it keep their distance."""
    diagram = DIAGRAMS[name]
    for time in diagram.edges[index].window:
        assert judged(name, diagram, _moved(diagram, index, time)).verdict == "conforms"


@pytest.mark.parametrize(("name", "index"), _edges())
def test_an_edge_a_tick_beyond_deviates(name: str, index: int) -> None:
    """A microsecond before the earliest, or after the latest, of its range."""
    diagram = DIAGRAMS[name]
    earliest, latest = diagram.edges[index].window
    for time in (earliest - 1, latest + 1):
        if time < 0:
            continue
        found = judged(name, diagram, _moved(diagram, index, time))
        if time < earliest and (name, index) in EARLY_IS_NOT_JUDGED:
            assert found.verdict == "conforms"
            continue
        assert (found.verdict, found.signal) == ("deviates", diagram.edges[index].signal)


def _moved(diagram: Diagram, index: int, time: int) -> dict[int, int]:
    """Move an edge, and with it each later one that counts from it, one by one."""
    moved = {index: time}
    for later, edge in enumerate(diagram.edges[index + 1 :], start=index + 1):
        counts_from = diagram.edges[later - 1]
        if edge.lasts and round(edge.since * S) == counts_from.nominal and later - 1 in moved:
            moved[later] = edge.nominal + moved[later - 1] - counts_from.nominal
    return moved
