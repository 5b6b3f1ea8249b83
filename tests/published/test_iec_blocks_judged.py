"""The standard function blocks, judged: the vector of the standard conforms, a tick beside any of its edges deviates.

Source: IEC 61131-3, standard function blocks: timers TON, TOF and TP, bistables SR and RS, counter CTU. The edges of
the timers follow from their definitions, with PT = 10 s and IN high on [5,20) [30,36) [50,52) [54,56) [70,90); two
independent state chart engines in virtual time gave the same. The bistables are the equations of the standard, SR: Q1 =
S1 or (not R and Q1), RS: Q1 = not R1 and (S or Q1). CTU: a reset beats a count; PV = 3.

Not tested, since implementations differ: PT = 0, ET after the end, and the order within a scan.
"""

from __future__ import annotations

import pytest

from boardgauge.cases import Case, Judged, Ours, Row

S = 1_000_000
_HIGH = ((5, 20), (30, 36), (50, 52), (54, 56), (70, 90))


def edges(signal: str, *times: float) -> tuple[Row, ...]:
    """Give the rows of a signal that is off at first and changes at these seconds."""
    return tuple(Row(round(time * S), signal, index % 2 == 0) for index, time in enumerate(times))


_IN = edges("in1", *(time for pair in _HIGH for time in pair))
_SET, _RESET = edges("s1", 1, 2, 5, 9, 20, 21), edges("r", 7, 11, 12, 13)
_S, _R1 = edges("s", 1, 2, 5, 9, 20, 21), edges("r1", 7, 11, 12, 13)
_CU = edges("cu", 1, 2, 3, 4, 10, 11, 12, 13, 14, 15, 16, 17, 20, 21)
BLOCKS: dict[str, tuple[tuple[Row, ...], tuple[Row, ...]]] = {
    "iec-ton": (_IN, edges("q", 15, 20, 80, 90)),
    "iec-tof": (_IN, edges("q", 5, 46, 50, 66, 70, 100)),
    "iec-tp": (_IN, edges("q", 5, 15, 30, 40, 50, 60, 70, 80)),
    # Set and reset overlap from 7 to 9: set wins in SR, reset in RS.
    "iec-sr": ((*_SET, *_RESET), edges("q1", 1, 9, 20)),
    "iec-rs": ((*_S, *_R1), edges("q1", 1, 7, 20)),
    # The reset from 3.5 to 5 takes two counts away; that at 20 comes with the next count and beats it.
    "iec-ctu": ((*_CU, *edges("r", 3.5, 5, 20, 22)), edges("q", 14, 20)),
}


def judged(block: str, rows: tuple[Row, ...]) -> Judged:
    """Judge a recording of 120 s by the block of the library."""
    ordered = tuple(sorted(rows, key=lambda row: row.time))
    outcome = Ours().judge(Case(block, block, (), f"iec/{block}", "judge", ordered, 120 * S))
    assert isinstance(outcome, Judged), outcome
    return outcome


@pytest.mark.parametrize("block", BLOCKS)
def test_the_vector_conforms(block: str) -> None:
    """What the standard says of the block is in order."""
    inputs, outputs = BLOCKS[block]
    assert judged(block, inputs + outputs).verdict == "conforms"


@pytest.mark.parametrize("block", BLOCKS)
@pytest.mark.parametrize("shift", [-1, 1])
def test_an_edge_a_tick_beside_deviates(block: str, shift: int) -> None:
    """Each edge of the output a microsecond early deviates then, a microsecond late at its own time."""
    inputs, outputs = BLOCKS[block]
    for index, edge in enumerate(outputs):
        moved = Row(edge.time + shift, edge.signal, edge.value)
        found = judged(block, (*inputs, *outputs[:index], moved, *outputs[index + 1 :]))
        assert (found.verdict, found.signal) == ("deviates", edge.signal)
        assert found.time == min(edge.time, moved.time)


@pytest.mark.parametrize("block", BLOCKS)
def test_a_missing_pulse_deviates(block: str) -> None:
    """Each pulse of the output left out deviates where it was to begin."""
    inputs, outputs = BLOCKS[block]
    for index in range(0, len(outputs), 2):
        found = judged(block, (*inputs, *outputs[:index], *outputs[index + 2 :]))
        assert (found.verdict, found.time) == ("deviates", outputs[index].time)


@pytest.mark.parametrize("block", BLOCKS)
def test_a_pulse_too_many_deviates(block: str) -> None:
    """A pulse of a millisecond before the first deviates as it comes."""
    inputs, outputs = BLOCKS[block]
    signal = outputs[0].signal
    found = judged(block, (*inputs, Row(S // 2, signal, True), Row(S // 2 + 1000, signal, False), *outputs))
    assert (found.verdict, found.time) == ("deviates", S // 2)


def test_the_other_block_deviates() -> None:
    """What one timer does is not in order for another, nor a set-dominant latch for a reset-dominant one."""
    for block in ("iec-ton", "iec-tof", "iec-tp"):
        for other in {"iec-ton", "iec-tof", "iec-tp"} - {block}:
            assert judged(block, BLOCKS[block][0] + BLOCKS[other][1]).verdict == "deviates"
    assert judged("iec-sr", BLOCKS["iec-sr"][0] + BLOCKS["iec-rs"][1]).verdict == "deviates"
