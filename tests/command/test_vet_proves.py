"""``vet`` says what is proved, refuted and never comes about, with a scenario that anyone can try, and its status."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from boardgauge.command import main

SPEC = """
language = 1
[board]
id = "pump"
title = "A pump with a rest (invented)"
tolerance = "± 10 %"
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
[rules.held]
kind = "mode"
begins = "hot open"
ends = "{ends}"
[rules.cooked]
kind = "lockout"
trips = "{trips}"
clears = "only by power loss"
[outputs.pump]
on = "wet and not rest and not held and not cooked"
[requirements.rested]
clause = "7"
never = "pump begins less than {least} after pump ends"
"""


def vet(folder: Path, *options: str, **parts: str) -> Result:
    text = SPEC.format(**{"least": "18 s", "ends": "not wet", "trips": "hot open for 10 s", **parts})
    (folder / "pump.toml").write_text(text, encoding="utf-8")
    return CliRunner().invoke(main, ["vet", str(folder / "pump.toml"), *options])


def test_what_is_proved(tmp_path: Path) -> None:
    """Nothing refuted: status 0, and the last line counts."""
    result = vet(tmp_path)
    assert result.exit_code == 0, result.output
    assert "pump.toml:27:15: proved: rested, § 7: by pump and rest alone, by the times of rest" in result.output
    assert "parts can come about, 1 requirement proved" in result.output


def test_what_is_refuted_can_be_tried(tmp_path: Path) -> None:
    """Status 1, the story, and a scenario and a chart; the command that is printed shows the same story."""
    result = vet(tmp_path, "--scenarios", str(tmp_path / "found"), least="19 s")
    assert result.exit_code == 1
    assert "refuted: rested" in result.output
    assert (tmp_path / "found" / "rested.svg").read_text(encoding="utf-8").startswith("<svg")
    command = next(line for line in result.output.splitlines() if "boardgauge simulate" in line).split()
    tried = CliRunner().invoke(main, command[1:])
    assert tried.exit_code == 0
    told = [line.strip() for line in result.output.splitlines() if line.startswith("    at ")]
    assert told == tried.output.splitlines()


def test_what_never_comes_about_is_refuted_too(tmp_path: Path) -> None:
    """A lockout that nothing can trip: its line, status 1."""
    result = vet(tmp_path, trips="wet and not wet")
    assert result.exit_code == 1
    assert ": never: cooked: stands tripped" in result.output


def test_what_only_a_loss_of_power_ends_is_told_where_nothing_says_so(tmp_path: Path) -> None:
    """Of a mode that never ends, not of a hard lockout."""
    result = vet(tmp_path, ends="wet and not wet")
    assert "advice: held: only a loss of power ends it" in result.output
    assert "advice: cooked" not in result.output


def test_without_proving_nothing_is_proved(tmp_path: Path) -> None:
    """And with few zones nothing is decided, which is no refutation."""
    assert "rested" not in vet(tmp_path, "--no-proving", least="19 s").output
    assert vet(tmp_path, "--no-exploring", least="19 s").output.endswith(", not explored, nothing proved\n")
    few = vet(tmp_path, "--most", "2")
    assert few.exit_code == 0
    assert "not decided: rested" in few.output


def test_what_does_not_come_to_rest_is_told_at_its_rules(tmp_path: Path) -> None:
    """The place is that of the first rule, the others stand with their lines, and what mends it is said."""
    text = SPEC.format(least="18 s", ends="cooked", trips="held").replace('only by power loss"', 'not held"')
    text = text.replace('begins = "hot open"', 'begins = "hot open and not cooked"')
    (tmp_path / "pump.toml").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["vet", str(tmp_path / "pump.toml")])
    line = text.splitlines().index("[rules.held]") + 1
    (told, *_) = result.output.splitlines()
    assert told.startswith(f"{tmp_path / 'pump.toml'}:{line}:8: rules.held: it does not come to rest: ")
    assert (
        f"held (line {line}) and cooked (line {line + 4}) move each other in one moment: let one of them wait" in told
    )
    assert result.exit_code == 2


def test_a_count_of_what_is_over_at_once_is_told_what_to_count(tmp_path: Path) -> None:
    """The mode ends on the same loss of flame: as its picture settles, it is not on any more."""
    text = """
language = 1
[board]
id = "burner"
title = "A burner (invented)"
tolerance = "exactly"
[inputs]
call = { kind = "call" }
flame = { kind = "signal" }
[rules.firing]
kind = "mode"
begins = "flame begins while call"
ends = "not flame"
[rules.losses]
kind = "count"
counts = "COUNTED"
limit = 3
forgets = "not call"
[outputs.gas]
on = "firing and not losses reached"
"""
    (tmp_path / "burner.toml").write_text(text.replace("COUNTED", "flame ends while firing"), encoding="utf-8")
    result = CliRunner().invoke(main, ["vet", str(tmp_path / "burner.toml")])
    assert "what losses counts is over in the moment in which it comes about" in result.output
    assert 'let it count what that rule does ("… ends while …")' in result.output
    assert result.exit_code == 2
    (tmp_path / "burner.toml").write_text(text.replace("COUNTED", "firing ends while not flame"), encoding="utf-8")
    assert CliRunner().invoke(main, ["vet", str(tmp_path / "burner.toml")]).exit_code == 0
