"""Why a fault is not told.

Law: what is said to be proved was proved: no other way that things happen was left out than the one that is named.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.faults import fault_of
from boardgauge.language import read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.pairing.jointly import Jointly
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.plans.hand import Hand
from boardgauge.plans.untold import REASONS, Untold, _Apart, why_untold
from plans.planned import HEATER, board_of


def why(name: str, id_: str, *, closely: bool = False) -> Untold | None:
    """Give why a fault of a board is not told, all its signals wired."""
    board = board_of(name)
    hand = Hand(compile_board(board))
    return why_untold(engine_of(board), fault_of(board, id_), hand, (*board.outputs, *board.lamps), closely=closely)


@pytest.mark.parametrize(
    ("name", "id_", "said"),
    [
        ("heater", "rest.not-restarted", "equivalent"),
        ("heater", "rest.absent", None),
        ("heater", "alarm.stuck-off", None),
        # Frost has to go in the very instant in which the run time is full.
        ("heat-pump-defrost", "defrost.begins.3.always", "one moment"),
        ("heat-pump-defrost", "valve.crossed.aux", "equivalent"),
        ("heat-pump-defrost", "defrost.begins.1.always", None),
    ],
)
def test_why_a_fault_is_not_told(name: str, id_: str, said: Untold | None) -> None:
    """What makes no difference is proved to, what makes one at one moment only is told apart, the rest is not known."""
    assert why(name, id_) == said
    assert said is None or REASONS[said]


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_only_inputs_beside_an_end_are_left_out(data: st.DataObject) -> None:
    """Of all that may happen to a pair, only what has an input change as a time runs out is left out of looking."""
    board = board_of("heat-pump-defrost")
    pair = Pair(engine_of(board), engine_of(fault_of(board, "defrost.begins.3.always").board))
    whole, apart = (kind(pair, pair.partners(True)) for kind in (Jointly, _Apart))
    joint = whole.start()
    for _ in range(data.draw(st.integers(0, 5))):
        happens = whole.occurrences(joint)
        mixed = [one for one in happens if one.levels and (one.first or one.second)]
        assert set(happens) - set(mixed) <= set(apart.occurrences(joint))
        joint, _ = whole.after(joint, data.draw(st.sampled_from(happens)))


SECOND = """
[rules.second]
kind = "delay"
begins = "power_up"
lasts = "30 s"
if_begun_again = "starts over"
"""


def test_two_times_that_end_together_are_not_left_out() -> None:
    """Times that began together and last equally long end together on their own: a bench need not aim at that."""
    board = read_board_text(HEATER + SECOND, "heater.toml")
    pair = Pair(engine_of(board), engine_of(fault_of(board, "alarm.stuck-off").board))
    apart = _Apart(pair, pair.partners(True))
    switched_on, *_ = apart.occurrences(apart.start())
    joint, _ = apart.after(apart.start(), switched_on)
    over = {len(one.first) for one in apart.occurrences(joint)}
    assert over == {0, 1, 2}
