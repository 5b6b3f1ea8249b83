"""Law: of a recording that nobody has written an answer for, both engines say the same.

One of the two is the judge, the other the oracle, which shares the reader of specs with it and nothing that decides.
A board that the oracle finds in order is never accused, and none before its time. What it finds impossible is reported,
in time and but for a recording in so many; late or not at all where the judge follows less than is so (``in_part``).
"""

from __future__ import annotations

from collections import Counter

from hypothesis import HealthCheck, given, settings

from boardgauge.cases import Case, Ours
from boardgauge.cases.subject import Judged
from oracle.spoiling import spoilt_cases
from oracle.subject import Oracle

EXAMPLES = max(60, settings().max_examples // 2)
MISSED = EXAMPLES // 60
"""So many boards may be let off; of one board Hypothesis likes to draw several recordings alike."""


def in_part(case: Case) -> bool:
    """Tell whether the judge takes more for possible than the clauses have it, and leaves it at that.

    Of a time kept without power it follows that from none to all of it is left; of a setting that nobody saw being read
    that it is somewhere from the shortest to the longest position; of a change that samples show that it may have come
    at the very moment of the sample before.
    """
    unseen = case.start == "unknown" and '"at power-up"' in case.board
    return "kept_without_power" in case.board or unseen or case.sampled_every is not None


def test_both_engines_judge_a_spoilt_case_alike() -> None:
    counts: Counter[str] = Counter()
    missed: dict[str, str] = {}

    @settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
    @given(case=spoilt_cases())
    def compare(case: Case) -> None:
        second = Oracle().judge(case)
        if not isinstance(second, Judged):
            counts[type(second).__name__] += 1
            return
        ours = Ours().judge(case)
        assert isinstance(ours, Judged), ours
        counts[second.verdict] += 1
        said = f"{case.name}: {[(row.time, row.signal, row.value) for row in case.rows]}\n{ours}\n{second}"
        assert ours.verdict == second.verdict or second.verdict == "deviates", said
        if ours.verdict != second.verdict:
            if not in_part(case):
                missed[case.name] = said
        elif ours.time is not None and second.time is not None and case.sampled_every is None:
            assert ours.time >= second.time - 1, said
            assert ours.time <= second.time + 1 or in_part(case), said

    compare()
    print(f"{dict(counts)}; missed {len(missed)} of the impossible ones")
    assert counts["deviates"]
    assert counts["conforms"]
    assert len(missed) <= MISSED, "\n\n".join(missed.values())
