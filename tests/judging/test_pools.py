"""Laws of a pool: what it leaves out is contained in what it keeps, and what it joins lies nearest together."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from boardgauge.judging.hypothesis import Draft, Hypothesis, Sum
from boardgauge.judging.pool import Pool
from boardgauge.machine.config import Config

CONFIG = Config(True, (), (), 1, 0, (), ())
APART = 1_000
NEAR = st.tuples(st.integers(0, 100), st.integers(0, 100), st.integers(0, 100), st.integers(0, 9))


def running(since: int, lamp: int, added: int, wide: int) -> Hypothesis:
    """Give a hypothesis of a timing that runs, a lamp that shows, and an accumulator that stands still."""
    draft = Draft(CONFIG, 0, [], {}, [Sum(added, added + wide, -1)], [], [], (), [], (1, 1))
    draft.timings = {0: draft.moment(since, since + wide)}
    draft.lamps = [draft.moment(lamp, lamp + wide)]
    return draft.freeze()


@given(rows=st.lists(NEAR, max_size=20))
def test_what_a_pool_leaves_out_is_in_what_it_keeps(rows: list[tuple[int, int, int, int]]) -> None:
    pool = Pool()
    for row in rows:
        pool.add(running(*row))
    assert len(pool) <= Pool.MOST_OF_A_KIND
    for row in rows:
        assert any(running(*row).within(kept) for kept in pool.all())


def widest(pool: Pool) -> int:
    """Give the widest bounds in a pool."""
    rows = [[*one.vars, *((total.least, total.most) for total in one.sums)] for one in pool.all()]
    return max((late - early for row in rows for early, late in row), default=0)


@given(rows=st.lists(st.tuples(st.booleans(), NEAR), max_size=30), of_the_lamp=st.booleans())
def test_what_lies_far_apart_is_not_joined(
    rows: list[tuple[bool, tuple[int, int, int, int]]], of_the_lamp: bool
) -> None:
    """Between two heaps nothing is allowed, however many there are in each."""
    pool = Pool()
    for away, (since, lamp, added, wide) in rows:
        by = APART if away else 0
        pool.add(running(since + (not of_the_lamp) * by, lamp + of_the_lamp * by, added, wide))
    assert widest(pool) < APART // 2


def test_what_an_accumulator_holds_keeps_apart_too() -> None:
    """One that began nearest to the first, but has far more added up, is not what the first is joined with."""
    pool = Pool()
    for number in range(Pool.MOST_OF_A_KIND):
        pool.add(running(20 * number, 0, 0, 5))
    pool.add(running(7, 0, APART, 5))
    assert len(pool) == Pool.MOST_OF_A_KIND
    assert widest(pool) < APART // 2
