"""``boardgauge compare`` and ``boardgauge export`` as a person uses them."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.command import main
from boardgauge.language import read_board
from boardgauge.machine.scenario_reader import read_scenario

BELL = """language = 1
[board]
id = "bell"
title = "Bell (invented)"
tolerance = "± 5 %"
responds_within = "0.2 s"
[inputs.door]
kind = "switch"
contact = "normally closed"
[rules.ringing]
kind = "delay"
begins = "door opens"
lasts = "6 s"
if_begun_again = "runs on"
[outputs.bell]
on = "ringing"
"""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def bell(tmp_path: Path) -> Path:
    path = tmp_path / "bell.toml"
    path.write_text(BELL, encoding="utf-8")
    return path


def other(bell: Path, *changes: tuple[str, str]) -> Path:
    text = BELL
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = bell.with_name("other.toml")
    path.write_text(text, encoding="utf-8")
    return path


def test_the_same_board_leaves_with_nought(bell: Path) -> None:
    done = run("compare", bell, other(bell, ("Bell (invented)", "Gong (invented)")))
    assert done.exit_code == 0
    assert "same: their specs are the same" in done.output


def test_a_difference_leaves_with_one_and_its_scenarios_can_be_read(bell: Path, tmp_path: Path) -> None:
    second = other(bell, ('"6 s"', '"9 s"'), ('id = "bell"', 'id = "gong"'))
    done = run("compare", bell, second, "--scenarios", tmp_path / "found")
    assert done.exit_code == 1
    assert "lasts: 6 s ± 5 % -> 9 s ± 5 %" in done.output
    assert "ringing: 5.7 to 6.3 s -> 8.55 to 9.45 s: apart from it" in done.output
    for name, spec in (("whole-first", bell), ("whole-second", second)):
        scenario = read_scenario(tmp_path / "found" / f"{name}.toml", read_board(spec))
        assert len(scenario.steps) >= 3


def test_the_scenario_is_written_in_the_words_of_either_board(bell: Path, tmp_path: Path) -> None:
    second = other(
        bell,
        ("[inputs.door]", "[inputs.gate]"),
        ("door opens", "gate opens"),
        ("[outputs.bell]", "[outputs.gong]"),
        ('"6 s"', '"9 s"'),
    )
    mapping = tmp_path / "names.toml"
    mapping.write_text('[inputs]\ndoor = "gate"\n[outputs]\nbell = "gong"\n', encoding="utf-8")
    assert run("compare", bell, second).exit_code == 2
    done = run("compare", bell, second, "--renaming", mapping, "--scenarios", tmp_path / "found")
    assert done.exit_code == 1
    assert "gate" in (tmp_path / "found" / "whole-second.toml").read_text(encoding="utf-8")
    read_scenario(tmp_path / "found" / "whole-second.toml", read_board(second))


def test_other_terminals_are_not_comparable_and_the_message_says_what_to_do(bell: Path) -> None:
    done = run("compare", bell, other(bell, ("[outputs.bell]", "[outputs.bel]")))
    assert done.exit_code == 2
    assert "output bell: bell has it, bell has not (is it 'bel' there?)" in done.output
    assert "[outputs]" in done.output


def test_replaces_asks_one_way(bell: Path) -> None:
    second = other(bell, ('"6 s"', '"6 s ± 2 %"'))
    done = run("compare", bell, second, "--replaces")
    assert done.exit_code == 0
    assert "may replace" in done.output
    assert run("compare", second, bell, "--replaces").exit_code == 1


def test_json_holds_the_verdict_and_each_difference(bell: Path) -> None:
    done = run("compare", bell, other(bell, ('"6 s"', '"9 s"')), "--json")
    found = json.loads(done.output)
    assert found["verdict"] == "different"
    (row,) = found["differences"]
    assert row["times"] == [{"name": "ringing", "first": [5.7, 6.3], "second": [8.55, 9.45], "lies": "apart"}]
    assert row["scenario"]["kind"] in {"early", "late", "missing", "unasked"}


def test_what_is_beyond_proof_and_search_is_not_decided(bell: Path) -> None:
    # Six seconds of ringing never last for seven, however it is sped up; but what a link fitted meanwhile leaves of a
    # time is followed with rounding.
    sped_up = (
        '[inputs.fast]\nkind = "link"\n'
        '[speed_ups.quick]\nwhile = "fast fitted"\ntimes_faster = 60\nwhat = ["ringing"]\n'
        '[rules.long]\nkind = "lockout"\ntrips = "ringing for 7 s exactly"\nclears = "only by power loss"\n'
    )
    bell.write_text(BELL + sped_up, encoding="utf-8")
    second = bell.with_name("other.toml")
    second.write_text((BELL + sped_up).replace('on = "ringing"', 'on = "ringing or long"'), encoding="utf-8")
    done = run("compare", bell, second, "--most", 1)
    assert done.exit_code == 3
    assert "not decided" in done.output
    assert "no scenario found that tells" in done.output


def test_the_way_that_a_proof_runs_into_tells_where_a_search_is_too_short(bell: Path) -> None:
    # Four rings in ten minutes: too far to come in one state.
    more = (
        '[rules.rings]\nkind = "count"\ncounts = "ringing begins"\nlimit = 4\nwithin = "10 min"\n'
        '[outputs.tired]\non = "rings reached"\n'
    )
    bell.write_text(BELL + more, encoding="utf-8")
    second = bell.with_name("other.toml")
    second.write_text(BELL + more.replace("limit = 4", "limit = 5"), encoding="utf-8")
    done = run("compare", bell, second, "--most", 1)
    assert done.exit_code == 1
    assert "rings" in done.output


def test_since_takes_the_spec_and_its_base_from_git(bell: Path) -> None:
    folder = bell.parent
    variant = folder / "variant.toml"
    variant.write_text(
        'language = 1\nbase = "bell.toml"\n[board]\nid = "v"\ntitle = "V (invented)"\n', encoding="utf-8"
    )
    git = ["git", "-C", str(folder), "-c", "user.name=n", "-c", "user.email=n@example.org"]
    for command in (["init", "-q"], ["add", "."], ["commit", "-q", "-m", "first"]):
        subprocess.run([*git, *command], check=True, capture_output=True)
    assert run("compare", variant, "--since", "HEAD").exit_code == 0
    bell.write_text(BELL.replace('"6 s"', '"9 s"'), encoding="utf-8")
    done = run("compare", variant, "--since", "HEAD")
    assert done.exit_code == 1
    assert "variant.toml at HEAD" in done.output
    missing = run("compare", variant, "--since", "no-such-thing")
    assert missing.exit_code == 2
    assert "git knows no such revision" in missing.output
    new = folder / "new.toml"
    new.write_text(BELL, encoding="utf-8")
    later = run("compare", new, "--since", "HEAD")
    assert later.exit_code == 2
    assert "there was no new.toml" in later.output
    assert run("compare", variant, "--since", "--output=x").exit_code == 2


def test_since_is_told_that_it_takes_a_repository(bell: Path) -> None:
    done = run("compare", bell, "--since", "HEAD")
    assert done.exit_code == 2
    assert "no git repository" in done.output


def test_what_is_asked_wrongly_is_told(bell: Path) -> None:
    assert "give two boards" in run("compare", bell).output
    assert "give one board" in run("compare", bell, bell, "--since", "HEAD").output


def test_export_writes_a_chart_and_refuses_what_it_cannot_hold(bell: Path, tmp_path: Path) -> None:
    target = tmp_path / "bell.scxml"
    done = run("export", bell, "--scxml", "-o", target)
    assert done.exit_code == 0
    assert '<parallel id="board">' in target.read_text(encoding="utf-8")
    refused = run("export", "tarnbeck", "--scxml", "-o", tmp_path / "t.scxml")
    assert refused.exit_code == 2
    assert "more than 5000 states" in refused.output
    assert not (tmp_path / "t.scxml").exists()
    assert "say what to write" in run("export", bell).output
