"""Law: what is proved no simulated board breaks; what is refuted comes with a scenario on which one does."""

from __future__ import annotations

import pytest

from boardgauge.language import read_board_text
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.scenario import play
from boardgauge.machine.scenario_reader import read_scenario_text
from boardgauge.machine.scenario_writer import write_scenario
from boardgauge.machine.settle import Engine
from boardgauge.proving import asking
from boardgauge.proving.requirements import Proof, prove

PUMP = """
language = 1
[board]
id = "pump"
title = "A pump with a rest (invented)"
tolerance = "± 10 %"
responds_within = "0.1 s"
[inputs.wet]
kind = "call"
[inputs.hot]
kind = "switch"
contact = "normally closed"
[rules.rest]
kind = "delay"
begins = "pump ends"
lasts = "20 s"
if_begun_again = "starts over"
[rules.run_on]
kind = "delay"
begins = "wet ends"
lasts = "5 s"
cut_by = "wet"
if_begun_again = "starts over"
[outputs.pump]
starts = "wet and not rest"
stops = "not wet and not run_on"
[requirements.asked]
"""


def proofs(requirement: str, spec: str = PUMP, limit: int = 100_000) -> Proof:
    """Prove one requirement of a board."""
    board = read_board_text(spec + requirement, "pump.toml")
    (proof,) = prove(board, limit)
    if proof.witness is not None:
        # What is refuted can be tried by anyone: the file says all of it.
        scenario = read_scenario_text(write_scenario(proof.witness.scenario, board), "found.toml", board)
        run = play(compile_board(board), scenario, proof.witness.timings)
        assert any(entry.outcome is not None and entry.outcome.broken for entry in run.story)
    return proof


class TestProved:
    """What the rules see to, whatever the durations."""

    def test_a_rest_that_is_long_enough_at_its_shortest(self) -> None:
        """18 s is the least of 20 s ± 10 %."""
        proof = proofs('never = "pump begins less than 18 s after pump ends"')
        assert proof.verdict == "proved"
        assert proof.how.startswith("by pump and rest alone, by the times of rest")

    def test_what_holds_whatever_the_times(self) -> None:
        """A condition that the rules never let come about."""
        proof = proofs('never = "pump and rest"')
        assert proof.verdict == "proved"
        assert "whatever the times" in proof.how

    def test_a_bounded_response(self) -> None:
        """The pump stops within 5.5 s of the water's going, the run-on at its longest."""
        proof = proofs('after = "wet ends"\nthen = "not pump or wet"\nwithin = "5.6 s"')
        assert proof.verdict == "proved"

    def test_what_never_comes_up_is_told_as_such(self) -> None:
        """A response to what never happens asks nothing."""
        spec = PUMP.replace(
            'stops = "not wet and not run_on"',
            'stops = "not wet and not run_on"\n[outputs.idle]\non = "wet and not wet"',
        )
        proof = proofs('after = "idle begins"\nthen = "pump"\nwithin = "1 s"', spec)
        assert proof.verdict == "proved"
        assert proof.vacuous


class TestRefuted:
    """What a board that keeps all its rules can still do."""

    @pytest.mark.parametrize("least", ["19 s", "20 s", "21 s"])
    def test_a_rest_that_may_be_too_short(self, least: str) -> None:
        """One shorter than the requirement, inside the tolerance."""
        proof = proofs(f'never = "pump begins less than {least} after pump ends"')
        assert proof.verdict == "refuted"

    def test_a_response_that_may_come_too_late(self) -> None:
        """5.5 s is the longest of 5 s ± 10 %."""
        assert proofs('after = "wet ends"\nthen = "not pump or wet"\nwithin = "5.4 s"').verdict == "refuted"

    def test_a_refutation_is_short(self) -> None:
        """The supply, the call's end, the end of the run-on, the call, the end of the rest: five steps at most."""
        proof = proofs('never = "pump begins less than 19 s after pump ends"')
        assert proof.witness is not None
        assert len(proof.witness.run.story) <= 6

    def test_it_is_the_shortest_also_where_inputs_were_folded_away(self) -> None:
        """The supply with the call waiting, the call's end: no input changes that need not."""
        spec = PUMP.replace("[rules.rest]", '[inputs.cold]\nkind = "call"\n[inputs.wind]\nkind = "call"\n[rules.rest]')
        proof = proofs('never = "pump ends while (cold or wind)"', spec)
        assert proof.verdict == "refuted"
        assert proof.how == "a board that keeps every rule breaks it, in 3 steps"

    def test_one_timing_early_and_another_late(self) -> None:
        """Where no simulated board with all timings alike shows it, the scenario says how long each lasts."""
        spec = PUMP.replace(
            "[outputs.pump]",
            '[rules.guard]\nkind = "delay"\nbegins = "pump ends"\nlasts = "21 s"\nif_begun_again = "starts over"\n'
            "[outputs.pump]",
        )
        proof = proofs('never = "pump begins while (not guard)"', spec)
        assert proof.verdict == "refuted"
        after = proofs('never = "pump begins while guard"', spec)
        assert after.verdict == "refuted"
        late = proofs('never = "(rest and not guard) begins"', spec)
        assert late.verdict == "refuted"
        assert late.witness is not None
        assert late.witness.scenario.durations


class TestSpedUp:
    """A requirement that comes up only with a speed-up is asked with it, and one that never comes up is told."""

    @pytest.mark.parametrize(
        ("hurried", "sped_up", "vacuous"),
        [
            ("quick fitted and rest", True, False),
            ("hot open and rest", False, False),
            ("quick fitted and rest and pump", False, True),
        ],
    )
    def test_what_is_asked_of_it(self, hurried: str, sped_up: bool, vacuous: bool) -> None:
        """The link says so by itself; that the pump never runs in its rest, only the rules do."""
        spec = PUMP.replace(
            "[requirements.asked]",
            f'[inputs.quick]\nkind = "link"\n[conditions.hurried]\nis = "{hurried}"\n'
            '[speed_ups.link]\nwhile = "quick fitted"\ntimes_faster = 10\nwhat = ["rest"]\n[requirements.asked]',
        )
        proof = proofs('after = "hurried begins"\nthen = "not rest or not hurried"\nwithin = "30 s"', spec)
        assert (proof.verdict, proof.sped_up, proof.vacuous) == ("proved", sped_up, vacuous)


class TestSettings:
    """Every position of a setting counts."""

    SPEC = PUMP.replace(
        "[rules.rest]",
        '[settings.length]\nread = "at power-up"\npositions = [{ name = "long", is = "20 s" }, '
        '{ name = "longer", is = "30 s" }]\nfactory = "longer"\n[rules.rest]',
    ).replace('lasts = "20 s"', 'lasts = "length"')

    def test_a_rest_that_is_too_short_in_one_position(self) -> None:
        """18 s is the least of the shorter one; the scenario says how the setting stands."""
        assert proofs('never = "pump begins less than 18 s after pump ends"', self.SPEC).verdict == "proved"
        proof = proofs('never = "pump begins less than 19 s after pump ends"', self.SPEC)
        assert proof.verdict == "refuted"
        assert proof.witness is not None
        assert proof.witness.scenario.positions == {"length": "long"}

    def test_a_position_that_an_input_gives_whenever_the_rest_begins(self) -> None:
        """A link that nothing else reads: fitted, the rest is the shorter one."""
        spec = PUMP.replace(
            "[rules.rest]",
            '[inputs.hurry]\nkind = "link"\n[settings.length]\nread = "always"\npositions = '
            '[{ when = "hurry fitted", is = "20 s" }, { when = "hurry open", is = "30 s" }]\n[rules.rest]',
        ).replace('lasts = "20 s"', 'lasts = "length"')
        assert proofs('never = "pump begins less than 18 s after pump ends"', spec).verdict == "proved"
        assert proofs('never = "pump begins less than 19 s after pump ends"', spec).verdict == "refuted"

    def test_what_holds_in_each_position_but_not_across_them_is_proved(self) -> None:
        """One rest is as long as the other, whichever position both take it from."""
        spec = self.SPEC.replace(
            "[outputs.pump]",
            '[rules.guard]\nkind = "delay"\nbegins = "pump ends"\nlasts = "length"\n'
            'if_begun_again = "starts over"\n[outputs.pump]',
        )
        proof = proofs('never = "(rest and not guard) for 8 s"', spec)
        assert proof.verdict == "proved"
        broken = proofs('never = "(rest and not guard) for 5.5 s"', spec)
        assert broken.verdict == "refuted"
        assert broken.witness is not None
        assert broken.witness.scenario.positions == {"length": "longer"}
        for name, lengths in broken.witness.scenario.durations.items():
            if name in ("rest", "guard"):
                assert all(27 * S <= length <= 33 * S for length in lengths)


class TestNeither:
    """What is not shown is said to be so."""

    def test_a_bound_that_is_hit(self) -> None:
        """With few zones allowed there is no verdict."""
        proof = proofs('never = "pump begins less than 18 s after pump ends"', limit=3)
        assert proof.verdict == "undecided"
        assert "the bound being 3" in proof.how

    def test_steps_are_bounded_over_all_that_is_asked_of_a_requirement(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """With few steps allowed there is no verdict either, with enough of them there is."""
        asked = 'never = "pump begins less than 18 s after pump ends"'
        monkeypatch.setattr(asking, "MOST_STEPS", 2_000)
        assert proofs(asked).verdict == "proved"
        monkeypatch.setattr(asking, "MOST_STEPS", 4)
        proof = proofs(asked)
        assert (proof.verdict, "and 4 steps" in proof.how) == ("undecided", True)

    def test_outputs_that_are_to_show_together_are_watched(self) -> None:
        """How far apart two terminals show is not in the pictures that are explored."""
        spec = PUMP.replace("[requirements.asked]", '[outputs.lamp]\non = "pump"\n[requirements.asked]')
        assert proofs('together = ["pump", "lamp"]\nwithin = "0.1 s"', spec).verdict == "watched"


def test_exactly_at_the_limit_is_not_less_than_it() -> None:
    """A rest of exactly 20 s keeps a requirement of 20 s, and breaks one of a millisecond more."""
    spec = PUMP.replace('lasts = "20 s"', 'lasts = "20 s exactly"')
    assert proofs('never = "pump begins less than 20 s after pump ends"', spec).verdict == "proved"
    assert proofs('never = "pump begins less than 20.001 s after pump ends"', spec).verdict == "refuted"


def test_the_engine_of_the_whole_board_is_used_for_trying() -> None:
    """A requirement is asked of a part of the board, and refuted on all of it."""
    spec = PUMP.replace(
        "[requirements.asked]", '[lamps.l]\nlines = [{ when = "otherwise", shows = "steady" }]\n[requirements.asked]'
    )
    proof = proofs('never = "pump begins"', spec)
    assert proof.verdict == "refuted"
    assert proof.witness is not None
    assert proof.witness.run.lamps
    assert Engine(compile_board(read_board_text(spec + 'never = "pump begins"', "p.toml"))).machine.watches
