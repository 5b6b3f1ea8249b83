"""Law: whatever a kept thing does is an arrow of its table, from where it was to where it goes.

Diagrams, sequences of operation and exports are made from that table, so an arrow that leads elsewhere is a wrong
drawing that no recording would ever show. (A count is left out: its places are numbers, and it may lose several events
at once. So is what passes through a step in no time.)
"""

from __future__ import annotations

import pytest
from attrs import frozen

from boardgauge.cases import Ours, all_cases
from boardgauge.machine.settle import Config, Engine, Outcome


@frozen
class Instant:
    """One moment that an engine settled, and the timings that ended in it."""

    engine: Engine
    config: Config
    expired: tuple[int, ...]
    outcome: Outcome


@pytest.fixture
def instants(monkeypatch: pytest.MonkeyPatch) -> list[Instant]:
    """Give every moment that an engine settles in all that the suite's boards play."""
    found: list[Instant] = []
    settle = Engine.settle

    def watched(engine: Engine, config: Config, *given: object, **named: object) -> Outcome:
        outcome = settle(engine, config, *given, **named)  # type: ignore[arg-type]
        expired = named.get("expired", given[1] if len(given) > 1 else ())
        assert isinstance(expired, tuple)
        found.append(Instant(engine, config, expired, outcome))
        return outcome

    monkeypatch.setattr(Engine, "settle", watched)
    for case in all_cases():
        if case.asks == "play":
            Ours().play(case)
    return [instant for instant in found if instant.outcome.instants == 1]


def test_every_move_is_an_arrow_of_the_table(instants: list[Instant]) -> None:
    """From the place it was in there is an arrow to the place it is in now."""
    moved = 0
    for instant in instants:
        for index, old, new in instant.outcome.moved:
            region = instant.engine.machine.regions[index]
            arrows = {(move.source, move.target) for move in region.moves}
            if region.kind not in ("count", "sequence"):
                assert (region.places[old], region.places[new]) in arrows, region.rule
                moved += 1
    assert moved > 50


def test_a_step_whose_time_is_over_goes_where_its_arrow_leads(instants: list[Instant]) -> None:
    """Where nothing came but the end of its own time."""
    followed = set()
    for instant in instants:
        if len(instant.expired) != 1 or instant.config.levels != instant.outcome.config.levels:
            continue
        for index, old, new in instant.outcome.moved:
            region = instant.engine.machine.regions[index]
            targets = {move.target for move in region.moves if move.timing == instant.expired[0]}
            if region.kind == "sequence" and targets:
                now = region.places[new]
                # A step that is over as soon as it begins is passed by in the same instant.
                through = any(move.source in targets and move.target == now for move in region.moves)
                assert targets == {now} or through, (region.rule, region.places[old])
                followed.add((region.places[old], region.places[new]))
    assert len(followed) >= 3
