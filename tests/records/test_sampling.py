"""Acceptance sampling as ISO 2859-1 has it, and decisions that do not hang on what is still open."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.records.sampling import LETTERS, LIMITS, SIZES, NoSuchPlan, Severity, letter_of, plan_of

CODE_LETTERS = [
    (2, 8, "A", 2), (9, 15, "B", 3), (16, 25, "C", 5), (26, 50, "D", 8), (51, 90, "E", 13), (91, 150, "F", 20),
    (151, 280, "G", 32), (281, 500, "H", 50), (501, 1200, "J", 80), (1201, 3200, "K", 125), (3201, 10_000, "L", 200),
    (10_001, 35_000, "M", 315), (35_001, 150_000, "N", 500), (150_001, 500_000, "P", 800), (500_001, 10**7, "Q", 1250),
]  # fmt: skip
"""ISO 2859-1:1999, table 1, general inspection level II, and the sample sizes of table 2-A; read in public copies."""


@pytest.mark.parametrize(("least", "most", "letter", "n"), CODE_LETTERS)
def test_code_letters_by_lot_size(least: int, most: int, letter: str, n: int) -> None:
    """A lot size has its letter from its first number to its last, and the letter its sample size."""
    assert letter_of(least) == letter_of(most) == letter
    assert SIZES[LETTERS.index(letter)] == n


@pytest.mark.parametrize(
    ("lot", "limit", "letter", "n", "accept", "at_one_percent"),
    [(90, "1.0", "E", 13, 0, 0.8775), (500, "1.0", "H", 50, 1, 0.9106), (1200, "1.0", "J", 80, 2, 0.9534)],
)
def test_plans_and_how_likely_they_accept(
    lot: int, limit: str, letter: str, n: int, accept: int, at_one_percent: float
) -> None:
    """Table 2-A at 1.0 %: E 0/1, H 1/2, J 2/3 (from memory); the chance at 1 % bad boards is the binomial one."""
    plan = plan_of(lot, limit)
    assert (plan.letter, plan.used, plan.n, plan.accept, plan.reject) == (letter, letter, n, accept, accept + 1)
    assert plan.accepted(0.01) == pytest.approx(at_one_percent, abs=5e-5)


@pytest.mark.parametrize(
    ("n", "limit", "accept"), [(80, "0.65", 1), (20, "0.65", 0), (125, "0.40", 1), (32, "0.40", 0)]
)
def test_published_cells(n: int, limit: str, accept: int) -> None:
    """Cells of table 2-A that are published elsewhere (single sampling, normal inspection: a figure in PLOS, 2023)."""
    lot = next(most for _, most, _, size in CODE_LETTERS if size == n)
    plan = plan_of(lot, limit)
    assert (plan.n, plan.accept) == (n, accept)


def test_arrows_lead_to_the_next_plan() -> None:
    """At 1.0 %, letters above E use E's plan, F goes up to E and G down to H (from memory)."""
    assert [plan_of(lot).used for lot in (8, 15, 25, 50, 90)] == ["E"] * 5
    assert (plan_of(150).used, plan_of(280).used) == ("E", "H")
    assert (plan_of(600_000, "6.5").used, plan_of(600_000, "6.5").accept) == ("L", 21)


@given(st.integers(2, 10**6), st.sampled_from(LIMITS))
def test_every_plan_is_one_of_the_table(lot: int, limit: str) -> None:
    """Every size and limit has a plan; it is no larger than the lot, and good lots are mostly accepted."""
    plan = plan_of(lot, limit)
    assert plan.n == min(lot, SIZES[LETTERS.index(plan.used)])
    assert plan.all == (plan.n == lot)
    assert plan.accept < plan.n
    assert plan.accepted(float(limit) / 100) > 0.85
    assert plan.accepted(0.0) == 1.0


@given(st.integers(2, 2000), st.sampled_from(LIMITS), st.data())
def test_a_decision_never_hangs_on_what_is_open(lot: int, limit: str, data: st.DataObject) -> None:
    """What is decided stays decided, however the undecided and the boards to come turn out."""
    plan = plan_of(lot, limit)
    judged = data.draw(st.integers(0, plan.n))
    bad = data.draw(st.integers(0, judged))
    undecided = data.draw(st.integers(0, judged - bad))
    now = plan.decide(judged, bad, undecided)
    more = plan.n - judged
    worst, best = plan.decide(plan.n, bad + undecided + more, 0), plan.decide(plan.n, bad, 0)
    if now == "go on":
        assert worst != best or judged < plan.n
    else:
        assert now == best
        assert now == worst or now == "accept"
        assert plan.decide(plan.n, bad + undecided, 0) == now


def test_both_sides_of_the_acceptance_number() -> None:
    """At the number a whole sample is accepted, above it any sample is not; one board short, nothing is accepted."""
    plan = plan_of(500)
    assert plan.decide(50, 1, 0) == "accept"
    assert plan.decide(50, 0, 1) == "accept"
    assert plan.decide(50, 1, 1) == "go on"
    assert plan.decide(49, 0, 0) == "go on"
    assert plan.decide(10, 2, 0) == "do not accept"


@pytest.mark.parametrize(("lot", "limit"), [(1, "1.0"), (100, "1.1"), (100, "none"), (100, "nan")])
def test_what_has_no_plan_is_told(lot: int, limit: str) -> None:
    """A lot of one and a limit that the table does not have are refused in words."""
    with pytest.raises(NoSuchPlan, match="expected"):
        plan_of(lot, limit)
    assert plan_of(100, "1").limit == "1.0"


TABLE_2A = """
A | | | | v 1
B | | | v 1 ^
C | | v 1 ^ v
D | v 1 ^ v 2
E v 1 ^ v 2 3
F 1 ^ v 2 3 4
G ^ v 2 3 4 6
H v 2 3 4 6 8
J 2 3 4 6 8 11
K 3 4 6 8 11 15
L 4 6 8 11 15 22
M 6 8 11 15 22 ^
N 8 11 15 22 ^ |
P 11 15 22 ^ | |
Q 15 22 ^ | | |
"""
TABLE_2B = """
A | | | | | v
B | | | | v 1
C | | | v 1 |
D | | v 1 | v
E | v 1 | v 2
F v 1 | v 2 3
G 1 | v 2 3 4
H | v 2 3 4 6
J v 2 3 4 6 9
K 2 3 4 6 9 13
L 3 4 6 9 13 19
"""
"""Rejection numbers and arrows (bars are their shafts) of MIL-STD-105E at 0.65, 1.0, 1.5, 2.5, 4.0 and 6.5, as read in
a guide of the US government on contracts for services; ISO 2859-1 has the same in its tables 2-A and 2-B."""


@pytest.mark.parametrize(("severity", "table"), [("normal", TABLE_2A), ("tightened", TABLE_2B)])
def test_every_cell_that_was_read(severity: Severity, table: str) -> None:
    """A number is the rejection number of its letter; an arrow leads the way that it shows, to the next number."""
    rows = [row.split() for row in table.strip().splitlines()]
    largest = {letter: most for _, most, letter, _ in CODE_LETTERS}
    for place, (letter, *cells) in enumerate(rows):
        for column, cell in enumerate(cells):
            plan = plan_of(largest[letter], LIMITS[column + 5], severity)
            assert plan.letter == letter
            if cell.isdigit():
                assert (plan.used, plan.reject, plan.accept) == (letter, int(cell), int(cell) - 1)
                continue
            below = next((one for one in rows[place + 1 :] if one[column + 1].isdigit()), None)
            above = next((one for one in reversed(rows[:place]) if one[column + 1].isdigit()), None)
            down = cell == "v" or (cell == "|" and above is None) or (cell == "|" and severity == "tightened")
            target = below if down else above
            assert target is not None
            assert (plan.used, plan.reject) == (target[0], int(target[column + 1])), (letter, LIMITS[column + 5])


def test_a_published_chance() -> None:
    """7 CFR 42.140(c), of 500 with 3 at most: 26 % of lots are accepted at 1 % bad, about 99 % at 0.1 %."""
    plan = plan_of(150_000, "0.25")
    assert (plan.letter, plan.n, plan.accept) == ("N", 500, 3)
    assert round(plan.accepted(0.01), 2) == 0.26
    assert plan.accepted(0.001) > 0.99


def test_reduced_inspection_takes_fewer_boards_and_accepts_across_the_gap() -> None:
    """Letter J, 1.0: 32 boards, 1 and 3 (table II-C of MIL-STD-105E, from memory): 2 bad boards are accepted yet."""
    plan = plan_of(1200, "1.0", "reduced")
    assert (plan.letter, plan.n, plan.accept, plan.reject) == ("J", 32, 1, 3)
    assert plan.decide(32, 2, 0) == "accept"
    assert plan.decide(32, 3, 0) == "do not accept"
    assert plan.decide(32, 2, 1) == "go on"


@given(st.integers(2, 10**6), st.sampled_from(LIMITS), st.sampled_from([0.001, 0.01, 0.05, 0.2]))
def test_tightened_is_never_more_lenient_than_normal(lot: int, limit: str, share: float) -> None:
    """A lot of whatever share of bad boards is accepted no oftener; reduced inspection takes no more boards."""
    normal, tightened, reduced = (plan_of(lot, limit, severity) for severity in ("normal", "tightened", "reduced"))
    assert tightened.accepted(share) <= normal.accepted(share) + 1e-12
    assert reduced.n <= normal.n
    assert reduced.accept < reduced.reject <= reduced.n + 1


def test_a_limit_that_no_table_has_is_named_as_the_limit() -> None:
    """Of the numbers on a command line, it is told which one is wrong, and which there are."""
    with pytest.raises(NoSuchPlan, match=r"^a limit of 3 %: expected one of 0\.065, .*, 6\.5$"):
        plan_of(40, "3")
