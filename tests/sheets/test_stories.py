"""The stories of a board are what its machine did, and between them they show whatever the board can show."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings

from board_strategies import boards
from boardgauge.language.model import Board, Count, Lockout, Mode
from boardgauge.sheets.blocks import Points, Steps
from boardgauge.sheets.sequence import sequence_sheet
from boardgauge.sheets.stories import Story, stories
from boardgauge.sheets.story_chart import chart_sheet
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import the
from sheets.sheet_helpers import BOARDS, study_of


def _shown(study: Study, told: tuple[Story, ...]) -> set[str]:
    found = set()
    for story in told:
        for entry in story.entries:
            for region, place in zip(study.machine.regions, entry.config.places, strict=True):
                if place and entry.config.powered:
                    found |= {region.rule} | ({region.places[place]} if region.kind == "sequence" else set())
    return found


@pytest.mark.parametrize("name", BOARDS)
def test_entries_are_the_runs(name: str) -> None:
    """What a story tells is a stretch of what its run tells, without a gap, from its start on."""
    for story in stories(study_of(name))[0]:
        assert story.entries == story.run.story[-len(story.entries) :]
        assert all(entry.time >= story.start for entry in story.entries)


@pytest.mark.parametrize("name", BOARDS)
def test_every_lockout_mode_and_step_is_shown(name: str) -> None:
    """Every lockout and mode and every step of a sequence comes about in some story of a library board."""
    study = study_of(name)
    told, untold = stories(study)
    assert untold == ()
    shown = _shown(study, told)
    assert {row.id for row in study.board.rules.values() if isinstance(row, (Lockout, Mode))} <= shown
    assert {p for r in study.machine.regions if r.kind == "sequence" for p in r.places[1:]} <= shown


@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much], deadline=None)
@given(boards())
def test_what_is_not_shown_is_told(board: Board) -> None:
    """Of any board: a lockout or mode is shown in a story, or told to be out of reach."""
    study = Study(board, most_configs=400)
    told, untold = stories(study)
    sheet = sequence_sheet(study)
    shown, left = _shown(study, told), {one.about for one in untold}
    reachable = {
        region.rule
        for config in study.found.configs
        for region, place in zip(study.machine.regions, config.places, strict=True)
        if place
    }
    for row in study.board.rules.values():
        if isinstance(row, (Lockout, Mode)):
            assert row.id in shown | left
            assert row.id in reachable or row.id not in shown or not study.found.complete
    if left:
        assert any(isinstance(block, Points) and block.title == "Not played" for block in sheet.blocks)


def test_a_call_is_taken_away_again() -> None:
    """The story of a call begins with it and ends at rest, every output off again."""
    study = study_of("tarnbeck")
    calls = [story for story in stories(study)[0] if story.kind == "call"]
    assert [story.about for story in calls] == [("y",), ("o",), ("y", "o")]
    for story in calls:
        assert {study.machine.levels[t.level].input for t in story.entries[0].causes.changes} == set(story.about)
        assert not any(study.engine.outputs(story.entries[-1].config))


def test_the_burner_lights() -> None:
    """The equipment answers: draft and flame are proved in the time they have, and the blower comes on and goes off."""
    study = study_of("hearthgate")
    (story,) = [story for story in stories(study)[0] if story.kind == "call"]
    (burner,) = [region for region in study.machine.regions if region.rule == "burner"]
    places = [burner.places[entry.config.places[burner.index]] for entry in story.entries]
    assert list(dict.fromkeys(places)) == ["prove_draft", "purge", "heat_up", "trial", "firing", "out"]


def test_a_trip_count_is_counted() -> None:
    """The hard lockout comes of as many trips as its count has for a limit."""
    study = study_of("tarnbeck")
    (story,) = [story for story in stories(study)[0] if story.about == ("hp_lockout",)]
    (region,) = [region for region in study.machine.regions if region.rule == "hp_wait"]
    trips = sum(
        (region.index, 0, 1) in entry.outcome.moved
        for entry in story.entries[: story.turn]
        if entry.outcome is not None
    )
    rule = study.board.rules["hp_trips"]
    assert isinstance(rule, Count)
    assert trips == rule.limit


def test_sentences_are_numbered_plain_and_cite() -> None:
    """A sequence is numbered sentences, each with an end, and where the spec has clauses they are cited."""
    blocks = [block for block in sequence_sheet(study_of("tarnbeck")).blocks if isinstance(block, Steps)]
    assert len(blocks) >= 9
    for block in blocks:
        assert all(item[0].isupper() and item[-1] in ".]" for item in block.items)
    text = " ".join(item for block in blocks for item in block.items)
    assert "[§ 2.5, § 2.2, § 3.1]" in text
    assert "_" not in text


def test_charts_have_the_names_of_what_changes() -> None:
    """A chart has a row for all that changes in its story, the supply and sensors too, and none for the others."""
    study = study_of("tarnbeck")
    told, _ = stories(study)
    figures = {block.title: block for block in chart_sheet(study).blocks}
    (defrost,) = [story for story in told if story.about == ("defrost",)]
    svg = figures["Defrost"].drawing.svg
    first, last = defrost.entries[0].time, defrost.entries[-1].time
    for output in study.board.outputs:
        changes = any(first <= time <= last for time, _ in defrost.run.outputs[output].changes)
        assert (f'data-row="{output}"' in svg) == changes
    assert 'data-row="led"' in svg
    assert 'data-row="j0"' not in svg


@pytest.mark.parametrize(
    ("label", "told"),
    [
        ("fan delay", "the fan delay"),
        ("a long defrost", "the long defrost"),
        ("An hour's rest", "the hour's rest"),
        ("the rest", "the rest"),
        ("a", "the a"),
        ("anti-short-cycle delay", "the anti-short-cycle delay"),
    ],
)
def test_a_name_has_one_article(label: str, told: str) -> None:
    """What was named with an article is not told with two."""
    assert the(label) == told


def test_a_wait_that_shows_nothing_by_itself_is_told_where_an_input_takes_it() -> None:
    """High water trips as the low float closes, if the help float has been closed for 20 s: nobody sees that it has."""
    blocks = sequence_sheet(study_of("sump-pumps")).blocks
    told = next(after for before, after in pairwise(blocks) if "High water" in str(before))
    assert isinstance(told, Steps)
    assert told.items[1].startswith("For 20 s (18 to 22 s) it has been so: help float closed.")
    assert "high water trips" in told.items[2]


def test_a_wait_that_another_time_takes_over_is_not_told() -> None:
    """Who waits for the longer time need not know of the shorter one."""
    told = [
        item
        for block in sequence_sheet(study_of("hearthgate")).blocks
        if isinstance(block, Steps)
        for item in block.items
    ]
    assert not [item for item in told if "it has been so: in step firing. Nothing else changes" in item]
