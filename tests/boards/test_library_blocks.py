"""The standard function blocks of the library.

Law: IEC 61131-3, standard function blocks; the vector has PT = 10 s and IN high on [5,20) [30,36) [50,52) [54,56)
[70,90), its edges worked out from the definitions of the blocks.
"""

from __future__ import annotations

import pytest

from boardgauge.language.quantities import S
from boardgauge.machine.run import Timeline
from boards.library_runs import run_of

_IN = tuple((t * S, i % 2 == 0) for i, t in enumerate((5, 20, 30, 36, 50, 52, 54, 56, 70, 90)))


@pytest.mark.parametrize(
    ("name", "edges"),
    [
        ("iec-ton", (15, 20, 80, 90)),
        ("iec-tof", (5, 46, 50, 66, 70, 100)),
        ("iec-tp", (5, 15, 30, 40, 50, 60, 70, 80)),
    ],
)
def test_the_timers_have_the_edges_of_the_standard(name: str, edges: tuple[int, ...]) -> None:
    """Q is off at first and changes at these seconds."""
    run = run_of(name, Timeline({"power": ((0, True),), "in1": _IN}, 120 * S), "nominal", 0, {})
    assert run.outputs["q"].changes == tuple((t * S, i % 2 == 0) for i, t in enumerate(edges))


def test_the_edge_block_is_on_for_a_scan() -> None:
    """R_TRIG: once for each rising edge, however long CLK stays."""
    clk = ((1 * S, True), (5 * S, False), (7 * S, True))
    run = run_of("iec-r-trig", Timeline({"power": ((0, True),), "clk": clk}, 10 * S), "nominal", 0, {})
    scan = 20_000
    expected = ((S, True), (S + scan, False), (7 * S, True), (7 * S + scan, False))
    assert run.outputs["q"].changes == expected


def test_the_counter_counts_to_its_limit() -> None:
    """CTU: Q from the third rising edge of CU to R."""
    cu = tuple((t * S, i % 2 == 0) for i, t in enumerate((1, 2, 3, 4, 5, 6, 7, 8)))
    timeline = Timeline({"power": ((0, True),), "cu": cu, "r": ((9 * S, True),)}, 10 * S)
    run = run_of("iec-ctu", timeline, "nominal", 0, {})
    assert run.outputs["q"].changes == ((5 * S, True), (9 * S, False))
