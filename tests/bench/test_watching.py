"""What a person at the bench sees while a plan runs, and is asked."""

from __future__ import annotations

import pytest
from attrs import evolve

from bench_plans import TARNBECK, plan_of
from boardgauge.command.bench_watching import WIDTH, Watching, in_words

S = 1_000_000
PLAN = plan_of()
FIRST, SECOND = PLAN.sittings


@pytest.fixture
def watching(monkeypatch: pytest.MonkeyPatch) -> Watching:
    """Give a watch on a terminal that shows every line."""
    monkeypatch.setattr("boardgauge.command.bench_watching.EVERY", 0.0)
    return Watching(TARNBECK, PLAN, shown=True)


def last(text: str) -> str:
    """Give the line that stands on the terminal."""
    return text.rsplit("\r", 1)[-1].rstrip()


def test_a_line_says_the_step_and_how_long_the_rest_takes(
    watching: Watching, capsys: pytest.CaptureFixture[str]
) -> None:
    """The time left is that of the steps to come, less what has gone of this one; it never grows meanwhile."""
    watching.begins(FIRST, 5, FIRST.steps[5])
    assert "step 6 of 17: wait 25 s; " in last(capsys.readouterr().err)
    watching.goes_on(1 * S, {})
    one = last(capsys.readouterr().err)
    watching.goes_on(11 * S, {})
    other = last(capsys.readouterr().err)
    left = [int(line.split("; ")[1].split()[0]) for line in (one, other)]
    assert one.split("; ")[1].endswith("min left")
    assert left[0] >= left[1]
    watching.begins(SECOND, 6, SECOND.steps[6])
    watching.goes_on(S, {})
    assert "12 s left" in last(capsys.readouterr().err) or "11 s left" in last(capsys.readouterr().err)


def test_the_lamp_is_told_as_a_person_sees_it(watching: Watching, capsys: pytest.CaptureFixture[str]) -> None:
    """Lit, dark, flashing, and how many flashes the last group had."""
    watching.begins(FIRST, 1, FIRST.steps[1])
    watching.goes_on(0, {"led": True})
    watching.goes_on(4 * S, {"led": True})
    assert "; led lit" in last(capsys.readouterr().err)
    now = 7 * S
    watching.goes_on(5 * S, {"led": False})
    for _ in range(4):
        for _ in range(3):
            watching.goes_on(now, {"led": True})
            watching.goes_on(now + S // 4, {"led": False})
            now += S // 2
        now += S * 3 // 2
    assert "; led flashing in groups of 3" in last(capsys.readouterr().err)
    for _ in range(10):
        watching.goes_on(now, {"led": True})
        watching.goes_on(now + S, {"led": False})
        now += 2 * S
    assert last(capsys.readouterr().err).endswith("; led flashing"), "no groups any more"
    watching.goes_on(now, {"led": True})
    watching.goes_on(now + 9 * S, {"led": False})
    watching.goes_on(now + 13 * S, {"led": False})
    assert "; led dark" in last(capsys.readouterr().err)


def test_a_line_fits_a_terminal(watching: Watching, capsys: pytest.CaptureFixture[str]) -> None:
    """What is too long is cut, so that it can be wiped out."""
    long = evolve(FIRST.steps[2], inputs={f"input_{n}": True for n in range(20)})
    watching.begins(FIRST, 2, long)
    shown = last(capsys.readouterr().err)
    assert len(shown) == WIDTH
    assert shown.endswith("…")
    watching.say("something else")
    assert capsys.readouterr().err.endswith("\r" + " " * WIDTH + "\rsomething else\n")


def test_where_there_is_no_terminal_only_sittings_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    """A log of a bench has a line for each sitting and each deviation."""
    watching = Watching(TARNBECK, PLAN, shown=False)
    for number, step in enumerate(FIRST.steps):
        watching.begins(FIRST, number, step)
        watching.goes_on(number * S, {"led": True})
    assert capsys.readouterr().err == "sitting 1 of 2: start and stop, 17 steps\n"


@pytest.mark.parametrize(
    ("answer", "agreed"),
    [("y", True), ("Yes", True), (" y ", True), ("", False), ("n", False), ("yep", False), (None, False)],
)
def test_only_yes_is_yes(answer: str | None, agreed: bool) -> None:
    """Nothing, or nobody, is no."""
    assert Watching(TARNBECK, PLAN, asks=lambda _: answer).agreed("Begin?") is agreed


def test_with_yes_nothing_is_asked(capsys: pytest.CaptureFixture[str]) -> None:
    """Cautions and settings are shown all the same."""

    def ask(question: str) -> str:
        raise AssertionError(question)

    watching = Watching(TARNBECK, PLAN, yes=True, asks=ask)
    assert watching.agrees(SECOND, {"interval": "3 min"}, ("the low-pressure switch is simulated",))
    told = capsys.readouterr().err
    assert "before low pressure, with the supply off, set on the board:\n  interval: 3 min\n" in told
    assert "caution: the low-pressure switch is simulated\n" in told


def test_every_kind_of_step_is_told_in_words() -> None:
    """As a person would do it by hand."""
    told = [in_words(step) for step in (*FIRST.steps[:6], FIRST.steps[15], SECOND.steps[0])]
    assert told == [
        "set power on",
        "wait 2 s",
        "set y on",
        "wait for cc on, at most 40 s",
        "measure power_up_delay",
        "wait 25 s",
        "look at cc, fan, led for 10 s",
        "set y on, power on",
    ]
