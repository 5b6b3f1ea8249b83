"""The figures of plans in the documents are those that were measured.

Law: no figure stands in a document that the benchmark did not write, and none was measured of another spec.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from attrs import evolve

from benchmarks import plan_figures
from boardgauge.boards import board_names, board_path
from boardgauge.faults import faults_of
from boardgauge.language import read_board, read_board_text
from boardgauge.language.quantities import Duration

ROWS = plan_figures.stored()
ROW = {
    "faults": 10,
    "found": 6,
    "bench": 100.0,
    "tour": 40.0,
    "tour_found": 3,
    "equal_after": 20.0,
    "chance_found": 1,
    "planning": 3.4,
    "left": {"proved equivalent: x": ["a.b", "a.c"], "not decided: y": ["d.e"], "told at some of the lengths": ["f"]},
}


@pytest.mark.parametrize("document", plan_figures.DOCUMENTS, ids=lambda path: path.stem)
def test_a_document_shows_what_was_measured(document: Path) -> None:
    """python tests/benchmarks/plan_figures.py --write puts the figures into it."""
    text = document.read_text(encoding="utf-8")
    assert "<!-- plans: " in text
    assert plan_figures.told(text, ROWS) == text


@pytest.mark.parametrize("name", ROWS)
def test_figures_are_those_of_the_spec_as_it_is(name: str) -> None:
    """Where a spec says something else by now: python tests/benchmarks/planning.py NAME --write.

    Faults that joined the library since are not counted.
    """
    board = read_board(board_path(name))
    assert ROWS[name]["says"] == plan_figures.says(board)
    ids = {fault.id for fault in faults_of(board)}
    left = [id_ for names in ROWS[name]["left"].values() for id_ in names]
    assert set(left) <= ids
    assert len(left) == len(set(left))
    assert ROWS[name]["faults"] == ROWS[name]["found"] + len(left) <= len(ids)


def test_every_board_is_named_on_one_page() -> None:
    """Each board of the library has its figures on the page of its family."""
    shown = [
        name
        for document in plan_figures.DOCUMENTS
        for match in plan_figures._SHOWN.finditer(document.read_text(encoding="utf-8"))
        for name in match.group(2).split()
        if name != "all"
    ]
    assert sorted(shown) == sorted(board_names())


def test_prose_changes_nothing_and_a_time_does() -> None:
    """Figures outlive a better sentence in a spec, and no other time."""
    text = board_path("iec-tp").read_text(encoding="utf-8")
    board = read_board_text(text, "tp.toml")
    assert plan_figures.says(evolve(board, title="else", text="else", source="else")) == plan_figures.says(board)
    (id_, rule), *_ = board.rules.items()
    assert isinstance(rule.lasts, Duration)
    other = evolve(board, rules={id_: evolve(rule, lasts=evolve(rule.lasts, nominal=rule.lasts.nominal + 1))})
    assert plan_figures.says(other) != plan_figures.says(board)


def test_a_row_is_told() -> None:
    """Found, proved and left add up; every fault that is left stands there with its reason."""
    text = "<!-- plans: one -->\nformer\n<!-- plans end -->\n"
    told = plan_figures.told(text, {"one": ROW})
    assert "| `one` | 10 | 6 | 2 | 2 | 1.7 min |" in told
    assert "- `one`, not decided: y: `d.e`" in told
    assert "- `one`, told at some of the lengths: `f`" in told
    assert "a.b" not in told
    assert "former" not in told
    assert plan_figures.told(told, {"one": ROW}) == told


def test_what_nobody_looked_for_any_more_is_counted() -> None:
    """A hundred names would say nothing of the board, only that the measuring was cut short."""
    row = {
        **ROW,
        "left": {"not decided: planning was broken off first": ["a.b", "a.c"], "told at some": ["d.e", "f.g"]},
    }
    told = plan_figures.told("<!-- plans: one -->\n<!-- plans end -->\n", {"one": row})
    assert "planning was broken off first: 2 of them" in told
    assert "told at some: `d.e`, `f.g`" in told


@pytest.mark.parametrize(("equal", "half", "no_longer"), [(20.0, 1, 1), (20.1, 0, 1), (40.1, 0, 0), (-1, 0, 0)])
def test_the_goals_are_counted(equal: float, half: int, no_longer: int) -> None:
    """Half the time of the tour counts as met on the dot, and no later."""
    words = plan_figures.summary([{**ROW, "equal_after": equal, "board": "one"}])
    assert "Of 10 faults of 1 boards 6 are found and 2 proved to be harmless; 2, on 1 boards, are neither." in words
    assert f"or less on {half}, in no more than its time on {no_longer}." in words
    assert "The tour finds as many as the plan on 0 of" in words


def test_a_board_without_figures_is_said_to_have_none() -> None:
    """Nothing is made up."""
    told = plan_figures.told("<!-- plans: two -->\n<!-- plans end -->\n", {"one": ROW})
    assert "Not measured: `two`." in told
    assert "|" not in told
