"""The standard timers, counters and latches, built of our rules.

Law: where a published standard says what a function block does, a rule that stands for it does the same. Sources: IEC
61131-3, standard function blocks (TON, TOF, TP, CTU, SR, RS); the vector of edges was worked out from their definitions
and run on two independent virtual-time state chart engines. Times of nothing and elapsed time after the end differ
between implementations and are not tested.
"""

from __future__ import annotations

import pytest

from machine.small_boards import machine_of, run, shown

ON, OFF = True, False

IN = [
    edge
    for start, stop in ((5, 20), (30, 36), (50, 52), (54, 56), (70, 90))
    for edge in ((float(start), ON), (float(stop), OFF))
]
CALL = """
[inputs.in1]
kind = "call"
[outputs.q]
"""
TON = CALL + 'on = "in1 for 10 s"'
TOF = (
    CALL
    + """on = "in1 or t"
[rules.t]
kind = "delay"
begins = "in1 ends"
lasts = "10 s"
if_begun_again = "starts over"
cut_by = "in1"
"""
)
TP = (
    CALL
    + """on = "t"
[rules.t]
kind = "delay"
begins = "in1 begins"
lasts = "10 s"
if_begun_again = "runs on"
"""
)


@pytest.mark.parametrize(
    ("board", "edges"),
    [
        pytest.param(TON, [(15, ON), (20, OFF), (80, ON), (90, OFF)], id="TON"),
        pytest.param(TOF, [(5, ON), (46, OFF), (50, ON), (66, OFF), (70, ON), (100, OFF)], id="TOF"),
        pytest.param(TP, [(5, ON), (15, OFF), (30, ON), (40, OFF), (50, ON), (60, OFF), (70, ON), (80, OFF)], id="TP"),
    ],
)
def test_the_timers_give_the_edges_of_the_standard(board: str, edges: list[tuple[int, bool]]) -> None:
    """PT = 10 s, the input high on [5,20) [30,36) [50,52) [54,56) [70,90)."""
    assert shown(run(machine_of(board), {"in1": IN}, 120), "q") == edges


TWO = """
[inputs.s]
kind = "call"
[inputs.r]
kind = "call"
"""
# SR is set-dominant: Q1 = S1 or (not R and Q1). A lockout in doubt trips.
SR = TWO + '[rules.q1]\nkind = "lockout"\ntrips = "s"\nclears = "r"\n[outputs.q]\non = "q1"'
# RS is reset-dominant: Q1 = not R1 and (S or Q1). A mode in doubt ends.
RS = TWO + '[rules.q1]\nkind = "mode"\nbegins = "s"\nends = "r"\n[outputs.q]\non = "q1"'
LATCH_STEPS = [(0, 0), (1, 0), (0, 0), (0, 1), (0, 0), (1, 1), (0, 1), (1, 1), (1, 0), (1, 1), (0, 0), (0, 1), (0, 0)]


@pytest.mark.parametrize(("board", "set_first"), [pytest.param(SR, True, id="SR"), pytest.param(RS, False, id="RS")])
def test_the_latches_follow_their_equations(board: str, set_first: bool) -> None:
    """At every combination of the two inputs the output is what the equation of the block makes of the one before."""
    made = run(
        machine_of(board),
        {
            "s": [(float(2 * i + 1), bool(s)) for i, (s, _) in enumerate(LATCH_STEPS)],
            "r": [(float(2 * i + 1), bool(r)) for i, (_, r) in enumerate(LATCH_STEPS)],
        },
        2 * len(LATCH_STEPS) + 2,
    )
    q = False
    for index, (s, r) in enumerate(LATCH_STEPS):
        q = bool(s or (not r and q)) if set_first else bool(not r and (s or q))
        assert made.outputs["q"].at((2 * index + 2) * 1_000_000) == q, f"after step {index}"


def test_a_reset_beats_a_count() -> None:
    """CTU: with CU rising while R holds, CV stays 0; Q holds from CV = PV on, and counts beyond change nothing."""
    board = (
        TWO + '[rules.n]\nkind = "count"\ncounts = "s begins"\nforgets = "r"\nlimit = 2\n[outputs.q]\non = "n reached"'
    )
    pulses = [edge for start in (1, 3, 10, 12, 14, 20) for edge in ((float(start), ON), (start + 0.5, OFF))]
    made = run(machine_of(board), {"s": pulses, "r": [(2, ON), (5, OFF), (20, ON)]}, 30)
    assert shown(made, "q") == [(12, ON), (20, OFF)]
