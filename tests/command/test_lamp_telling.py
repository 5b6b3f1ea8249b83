"""``boardgauge lamp`` tells what a lamp showed, in a table or as JSON, and what is wrong with what it was given."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner, Result

from boardgauge.command import main

RECORDINGS = Path(__file__).parents[1] / "recordings"
BAD_LAMP = str(RECORDINGS / "s06_hp_three_trips__f12_led_hard_code.vcd")


def lamp(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["lamp", *arguments])


def test_the_table_says_what_was_shown() -> None:
    """Groups of five in a high-pressure lockout are told as the line of the table that they fit."""
    result = lamp("tarnbeck", BAD_LAMP)
    assert result.exit_code == 0
    (row,) = [line for line in result.output.splitlines() if "groups of 5 flashes" in line]
    assert "5 flashes: low-pressure hard lockout (clause 8.6)" in row
    assert row.endswith("sure")


def test_json_has_the_same_stretches() -> None:
    stretches = json.loads(lamp("tarnbeck", BAD_LAMP, "--lamp", "led", "--json").output)["lamps"]["led"]
    five = next(row for row in stretches if row["seen"] == "groups of 5 flashes")
    assert [line["shows"] for line in five["lines"]] == ["5 flashes"]
    assert five["begins"][0] <= 160.35 <= five["begins"][1]
    assert (five["certainty"], five["may_be"]) == ("sure", [])


def test_a_pattern_of_no_line_is_told_and_leaves_with_1(tmp_path: Path) -> None:
    """Groups of four, which no line of the table has: a lamp that shows what it must not."""
    lit = {flash + n for group in range(12) for flash in range(350 * group, 350 * group + 200, 50) for n in range(25)}
    rows = ["time,power,led_n", *(f"{at / 100},1,{int(at not in lit)}" for at in range(4000))]
    file = tmp_path / "four.csv"
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    result = lamp("tarnbeck", str(file))
    assert "groups of 4 flashes" in result.output
    assert "1 stretch that no line of the table explains" in result.output
    assert result.exit_code == 1
    assert lamp("tarnbeck", str(file), "--json").exit_code == 1


def test_what_is_wrong_is_told() -> None:
    """A lamp that is not there, a board without one, a recording that does not show it."""
    wrong = lamp("tarnbeck", BAD_LAMP, "--lamp", "lad")
    assert wrong.exit_code == 2
    assert "did you mean 'led'?" in wrong.output
    assert "iec-ton has no lamp" in lamp("iec-ton", BAD_LAMP).output
    assert lamp("tarnbeck", "nowhere.vcd").exit_code == 2
