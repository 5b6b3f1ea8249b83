"""Bad input gives exit status 2 and one message with its place, or a sound verdict; never a traceback.

A fault of our own is raised here instead of told (BOARDGAUGE_DEBUG), so that none hides behind status 2.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.command import main

RECORDINGS = Path(__file__).resolve().parents[1] / "recordings"
GOOD = (RECORDINGS / "s09_defrost_warm__good.vcd").read_bytes()
PACKED = (RECORDINGS / "s01_powerup_restart__good.csv.gz").read_bytes()
XZ = (RECORDINGS / "s01_powerup_restart__good.csv.xz").read_bytes()
FAN = """
language = 1
[board]
id = "bad-day-fan"
title = "A fan that runs on, invented"
tolerance = "± 5 %"
responds_within = "0.1 s"
[inputs]
call = { kind = "call" }
[rules.run_on]
kind = "delay"
begins = "call ends"
lasts = "10 s"
if_begun_again = "starts over"
[outputs.fan]
on = "call or run_on"
"""
SCENARIO = """
language = 1
board = "bad-day-fan"
title = "One call"
steps = [{ power = "on" }, { wait = "1 s" }, { set = { call = "on" } }, { wait = "5 s" }]
"""


@pytest.fixture(autouse=True)
def _show_faults(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("BOARDGAUGE_DEBUG", "1")
    monkeypatch.chdir(tmp_path)
    Path("fan.toml").write_text(FAN, encoding="utf-8")
    Path("scenario.toml").write_text(SCENARIO, encoding="utf-8")
    Path("folder").mkdir()


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(main, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert "Traceback" not in result.output
    assert "a fault of Boardgauge" not in result.output
    return result


def refused(*arguments: str) -> str:
    """Run what cannot work; give its message."""
    result = run(*arguments)
    assert result.exit_code == 2, result.output
    return result.stderr or result.stdout


UNREADABLE = {
    "empty.csv": (b"", "empty.csv:1: the file is empty"),
    "empty.vcd": (b"", "empty.vcd:1: the file is empty"),
    "blank.csv": (b"\n\n\n", "the file is empty"),
    "zeros.bin": (b"\0" * 100, "zeros.bin:1: it begins with .* not text"),
    "junk.bin": (bytes(range(255, 0, -1)) * 4, "junk.bin:1: "),
    "wide.csv": (
        "t_s,call\n0,1\n".encode("utf-16"),
        "wide.csv:1: it is text in UTF-16; expected .* UTF-8",
    ),
    "cut.vcd": (GOOD[:100], r"cut.vcd:4: the file ends inside '\$var'"),
    "cut_stamp.vcd": (GOOD[:3000], r"cut_stamp.vcd:428:1: time '#2118' after #21086203"),
    "only_declarations.vcd": (GOOD[: GOOD.index(b"\n#0\n") + 1], "there is no time stamp"),
    "back.vcd": (GOOD + b"#5\n", r"back.vcd:\d+:1: time '#5' after #330000000"),
    "negative.vcd": (GOOD + b"#-5\n", r"negative.vcd:\d+:1: time '#-5'"),
    "far.vcd": (GOOD + b"#4000000000000000000\n", "far.vcd: the last time is .* less than 2,283 years"),
    "farther.vcd": (GOOD + b"#" + b"9" * 30 + b"\n", r"farther.vcd:\d+:1: time .* a smaller number"),
    "header.csv": (b"t_s,call,fan\n", "header.csv:2: there are no rows"),
    "unsorted.csv": (b"t_s,call,fan\n0,1,1\n2,0,1\n1,0,1\n", "unsorted.csv:4:1: time '1' after '2'"),
    "twice.csv": (b"t_s,call,fan\n0,1,1\n0,0,1\n", "twice.csv:3:1: time '0' a second time"),
    "two_values.csv": (b"t_s,signal,value\n0,fan,1\n0,fan,0\n", "two_values.csv:3:7: a second value for 'fan'"),
    "counter_wrap.csv": (b"t_us,call,fan\n4294967295,1,1\n3,0,1\n", "counter_wrap.csv:3:1: time '3' after"),
    "time_nan.csv": (b"t_s,call,fan\nnan,1,1\n", "time_nan.csv:2:1: time 'nan'"),
    "time_inf.csv": (b"t_s,call,fan\n0,1,1\ninf,1,1\n", "time_inf.csv:3:1: time 'inf'"),
    "time_far.csv": (b"t_s,call,fan\n-4e12,1,1\n4e12,1,1\n", "time_far.csv:2:1: time '-4e12'; .* 2,283 years"),
    "time_far_plain.csv": (b"t_s,call,fan\n0,1,1\n99999999999,1,1\n", "time_far_plain.csv:3:1: .* 2,283 years"),
    "time_endless.csv": (b"t_s,call,fan\n0." + b"1" * 2_000_000 + b",1,1\n", "time_endless.csv:2:1: time '0.1"),
    "value.csv": (b"t_s,call,fan\n0,maybe,1\n", "value.csv:2:3: 'maybe' for 'call'"),
    "ragged.csv": (b"t_s,call,fan\n0,1,1\n1,1\n", "ragged.csv:3: 2 cells in '1,1'; expected 3"),
    "no_time.csv": (b"call,fan\n0,1\n", "no_time.csv:1: no column of .* is the time"),
    "level.csv": (b"t_s,call,fan\n0,0.5,1\n", "channels.call: the channel holds 0.5, which is neither 0 nor 1"),
    "others.csv": (b"t_s,foo,bar\n0,1,1\n", "none of the channels .* is in .*others.csv, which has foo, bar"),
    "cut.gz": (PACKED[:5000], "cut.gz: the gzip file is cut off"),
    "junk.gz": (b"\x1f\x8b\x08" + b"junk" * 9, "junk.gz: the gzip file is (cut off|damaged)"),
    "damaged.gz": (PACKED[:400] + b"oops" + PACKED[404:], "damaged.gz: the gzip file is damaged|damaged.gz:"),
    "cut.xz": (XZ[:5000], "cut.xz: the xz file is cut off"),
    "junk.bz2": (b"BZh9junk", "junk.bz2: the bzip2 file is damaged"),
    "inside.gz": (gzip.compress(b"\0\1\2"), "inside.gz:1: it begins with"),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_unreadable_recordings_are_located(name: str) -> None:
    """What cannot be read is named with its file, and with the line where there is one, in one message."""
    data, expected = UNREADABLE[name]
    Path(name).write_bytes(data)
    board = "tarnbeck" if name.endswith(".vcd") else "fan.toml"
    told = refused("judge", board, name)
    assert re.search(expected, told), told
    assert told.count("boardgauge: ") == 1
    assert name in told
    assert len(told) < 2000
    row = json.loads(CliRunner().invoke(main, ["judge", board, name, "--json"]).stdout)
    assert row["trace"] == name
    assert re.search(expected, row["error"])


SOUND = {
    "one_row.csv": b"t_s,call,fan\n0,0,0\n",
    "not_known.csv": b"t_s,call,fan\n0,nan,\n100,x,z\n",
    "before_trigger.csv": b"t_s,call,fan\n-5,0,0\n0,1,1\n1,1,1\n",
    "gap.csv": b"t_s,call,fan\n0,0,0\n1e9,0,0\n",
    "gap_long.csv": b"t_s,signal,value\n0,call,0\n0,fan,0\n1e9,call,1\n1000000000.05,fan,1\n",
    "gap.vcd": GOOD + b"#1000000000000000\n",
    "one_stamp.vcd": GOOD[: GOOD.index(b"\n#0\n") + 1] + b"#0\n",
    "only_inputs.csv": b"t_s,signal,value\n0,call,0\n10,call,1\n400,call,0\n",
    "only_outputs.csv": b"t_s,signal,value\n0,fan,0\n10,fan,1\n400,fan,0\n",
    "dos.csv": b"t_s,call,fan\r\n0,0,0\r\n1,0,0\r\n",
    "mark.csv": b"\xef\xbb\xbft_s,call,fan\n0,0,0\n1,0,0\n",
    "latin.csv": "t_s,call,fan,é\n0,0,0,1\n1,0,0,0\n".encode("latin-1"),
    "numbers.csv": b"t_s,call,fan,mv\n0,0,0,1e308\n1,0,0,-1e400\n",
    "midnight.csv": b"time,call,fan\n23:59:59,0,0\n00:00:01,0,0\n",
    "digits.csv": b"t_s,call,fan\n0,0," + b"0" * 200_000 + b"\n1,0,0\n",
}


@pytest.mark.parametrize("name", SOUND)
def test_odd_recordings_get_a_verdict(name: str) -> None:
    """What is odd but can be read is judged, and what it does not show is not held against the board."""
    Path(name).write_bytes(SOUND[name])
    result = run("judge", "tarnbeck" if name.endswith(".vcd") else "fan.toml", name, "--json")
    judged = json.loads(result.stdout)
    assert judged["verdict"] in {"conforms", "undecided"}, judged
    assert result.exit_code in (0, 3)


@pytest.mark.parametrize("shown", ["y", "cc", "led_n"])
def test_one_channel_of_many(shown: str) -> None:
    """A recording of one terminal of a large board is judged at once, and nothing is held against the board."""
    Path("one.csv").write_text(f"t_s,signal,value\n0,{shown},0\n10,{shown},1\n400,{shown},0\n", encoding="utf-8")
    result = run("judge", "tarnbeck", "one.csv", "--json")
    assert json.loads(result.stdout)["verdict"] == "undecided"
    assert result.exit_code == 3


def test_the_others_are_judged() -> None:
    """One recording that cannot be read does not keep the others from being judged; the status is 2."""
    Path("bad.csv").write_bytes(b"")
    Path("good.csv").write_bytes(SOUND["dos.csv"])
    result = run("judge", "fan.toml", "bad.csv", "good.csv")
    assert result.exit_code == 2
    assert "good.csv" in result.stdout
    assert "conforms" in result.stdout
    assert "bad.csv:1" in result.stderr


WIRINGS = {
    "empty.toml": ("", "language: this is missing"),
    "not_toml.toml": ("language = = 1", r"not_toml.toml:1:\d+"),
    "other_board.toml": (
        'language = 1\nboard = "tarnbeck"\n[wiring]\nid = "w"\n[channels.call]\nsignal = "call"\n',
        "this wiring is for tarnbeck",
    ),
    "no_signal.toml": (
        'language = 1\nboard = "bad-day-fan"\n[wiring]\nid = "w"\n[channels.call]\nsignal = "cal"\n',
        "no_signal.toml:5:.*no input, output or lamp 'cal'.*call",
    ),
    "numbers.toml": (
        'language = 1\nboard = "bad-day-fan"\n[wiring]\nid = "w"\n[recorder]\nskew = "1e99999 s"\n'
        '[channels.fan]\nsignal = "fan"\nthreshold = inf\n',
        "numbers.toml:6:",
    ),
    "lists.toml": ("language = [1]\nboard = [[]]\nwiring = 3\nchannels = [1]\nsettings = 2\nrecorder = ''\n", "lists"),
}


@pytest.mark.parametrize("name", WIRINGS)
def test_wirings_that_cannot_be_used(name: str) -> None:
    """A wiring that is broken or for another board is told with its places."""
    text, expected = WIRINGS[name]
    Path(name).write_text(text, encoding="utf-8")
    Path("r.csv").write_bytes(SOUND["dos.csv"])
    assert re.search(expected, refused("judge", "fan.toml", "r.csv", "--wiring", name))


SPECS = {
    "empty.toml": (b"", "empty.toml"),
    "latin.toml": (FAN.replace("invented", "é").encode("latin-1"), "not UTF-8"),
    "zeros.toml": (b"\0" * 50, "zeros.toml"),
    "not_toml.toml": (b"language = = 1", r"not_toml.toml:1:12"),
    "deep.toml": (b"a = " + b"[" * 20_000, "deep.toml"),
    "deep_brackets.toml": (
        FAN.replace('"call or run_on"', '"' + "(" * 3000 + "call" + ")" * 3000 + '"').encode(),
        r"deep_brackets.toml:16:\d+",
    ),
    "misspelt.toml": (FAN.replace('"call or', '"cal or').encode(), r"misspelt.toml:16:7: .*cal.*call"),
    "endless.toml": (FAN.replace('"10 s"', '"1e999 s"').encode(), r"endless.toml:13:\d+"),
    "long.toml": (FAN.replace('"10 s"', '"' + "9" * 5000 + ' s"').encode(), r"long.toml:13:\d+"),
    "far.toml": (FAN.replace('"10 s"', '"99999999999999999999 h"').encode(), r"far.toml:13:\d+"),
    "zero.toml": (FAN.replace('"10 s"', '"-1 s"').encode(), r"zero.toml:13:\d+"),
}


@pytest.mark.parametrize("command", ["vet", "draw", "boards", "judge", "simulate"])
@pytest.mark.parametrize("name", SPECS)
def test_specs_that_cannot_be_used(name: str, command: str) -> None:
    """Every command tells of a broken spec with its place."""
    data, expected = SPECS[name]
    Path(name).write_bytes(data)
    more = {"judge": ["r.csv"], "simulate": ["scenario.toml"]}.get(command, [])
    told = refused(command, name, *more)
    assert re.search(expected, told), told
    assert len(told) < 4000


SCENARIOS = {
    "empty.toml": ("", "board"),
    "other.toml": (SCENARIO.replace("bad-day-fan", "tarnbeck"), r"other.toml:3:\d+: board: the board given is"),
    "no_steps.toml": ('language = 1\nboard = "bad-day-fan"\ntitle = "x"\n', "steps"),
    "nothing.toml": ('language = 1\nboard = "bad-day-fan"\ntitle = "x"\nsteps = []\n', "steps"),
    "input.toml": (SCENARIO.replace("call =", "cal ="), r"input.toml:5:\d+: .*no such input.*call"),
    "endless.toml": (SCENARIO.replace('"5 s"', '"1e999 s"'), r"endless.toml:5:\d+"),
    "negative.toml": (SCENARIO.replace('"5 s"', '"-5 s"'), r"negative.toml:5:\d+"),
}


@pytest.mark.parametrize("name", SCENARIOS)
def test_scenarios_that_cannot_be_used(name: str) -> None:
    """A scenario that does not fit is told with its place."""
    text, expected = SCENARIOS[name]
    Path(name).write_text(text, encoding="utf-8")
    told = refused("simulate", "fan.toml", name)
    assert re.search(expected, told), told
    assert name in told


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["judge", "fan.toml", "nowhere.csv"], "nowhere.csv: No such file"),
        (["judge", "fan.toml", "folder"], "folder: no recordings in this folder"),
        (["judge", "nowhere.toml", "r.csv"], "nowhere.toml: no such file"),
        (["judge", "folder", "r.csv"], "folder: is a folder"),
        (["judge", "fan.toml", "r.csv", "--wiring", "folder"], "folder: is a folder, not a wiring"),
        (["judge", "fan.toml", "r.csv", "--wiring", "nowhere.toml"], "nowhere.toml: no such file"),
        (["judge", "fan.toml", "r.csv", "--wiring", "tarnbek"], "no wiring 'tarnbek'; did you mean"),
        (["judge", "fan.toml", "r.csv", "--setting", "x"], "expected NAME=POSITION"),
        (["judge", "fan.toml", "r.csv", "--setting", "x=1"], "no setting 'x'"),
        (["judge", "fan.toml", "r.csv", "--start", "sometime"], "sometime"),
        (["judge", "x" * 5000, "r.csv"], "x"),
        (["judge", "fan.toml", "x" * 5000], "x"),
        (["judge", "", "r.csv"], ""),
        (["judge", "fan.toml", ""], ""),
        (["vet", "folder"], "folder: is a folder"),
        (["vet", "nowhere.toml"], "nowhere.toml: no such file"),
        (["boards", "folder"], "folder: is a folder"),
        (["boards", "tarnbek"], "tarnbeck"),
        (["draw", "fan.toml", "--what", "run_onn", "-o", "x.svg"], "run_on"),
        (["draw", "fan.toml", "-o", "x.doc"], "x.doc: the format is not plain"),
        (["draw", "fan.toml", "-o", "x.svg", "--format", "png"], "x.svg: its name says svg and --format says png"),
        (["draw", "fan.toml", "-o", "nowhere/x.svg"], "nowhere/x.svg: No such file"),
        (["judge", "fan.toml", "r.csv", "--explain", "x.gif"], "x.gif: expected a folder, or a file that ends in .svg"),
        (["judge", "fan.toml", "r.csv", "--explain", "scenario.toml"], "scenario.toml: expected a folder"),
        (["judge", "fan.toml", "r.csv", "--table", "x.xls"], "x.xls: expected a file ending in .csv or .parquet"),
        (["judge", "fan.toml", "r.csv", "--table", "folder"], "folder: is a folder"),
        (["judge", "fan.toml", "r.csv", "--table", "nowhere/x.csv"], "x.csv: there is no folder nowhere"),
        (["judge", "fan.toml", "r.csv", "--jobs", "0"], "0"),
        (["judge", "fan.toml", "r.csv", "--jobs", "2", "--cluster", "tcp://a:1"], "leave one of --jobs and --cluster"),
        (["judge", "fan.toml", "r.csv", "--cluster", "nonsense"], "no scheduler answers at nonsense"),
        (["judge", "fan.toml", "none-*.csv"], "none-*.csv: no file matches this pattern"),
        (["draw", "fan.toml", "-o", "folder", "--format", "svg"], "folder: Is a directory"),
        (["draw", "fan.toml", "--what", "all", "-o", "scenario.toml"], "scenario.toml: File exists"),
        (["simulate", "fan.toml", "nowhere.toml"], "nowhere.toml"),
        (["simulate", "fan.toml", "folder"], "folder"),
        (["simulate", "fan.toml", "scenario.toml", "-o", "nowhere/x.vcd"], "nowhere/x.vcd: No such file"),
        (["simulate", "fan.toml", "scenario.toml", "-o", "x.doc"], "x.doc: its name does not say the format"),
        (["simulate", "fan.toml", "scenario.toml", "-o", "folder"], "folder"),
        (["simulate", "fan.toml", "scenario.toml", "--seed", "1.5"], "1.5"),
    ],
)
def test_paths_and_options_that_cannot_be_used(arguments: list[str], expected: str) -> None:
    """Files that are missing, folders in place of files, paths that cannot be written, options that mean nothing."""
    Path("r.csv").write_bytes(SOUND["dos.csv"])
    assert expected in refused(*arguments)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read every file")
@pytest.mark.parametrize("name", ["fan.toml", "r.csv", "scenario.toml"])
def test_files_that_may_not_be_read(name: str) -> None:
    """A file without permission is named."""
    Path("r.csv").write_bytes(SOUND["dos.csv"])
    Path(name).chmod(0)
    told = refused("simulate" if name == "scenario.toml" else "judge", "fan.toml", name)
    assert name in told


@pytest.mark.parametrize("arguments", [["boards"], ["judge", "tarnbeck", "many.vcd", "many.vcd", "--json"]])
def test_the_reader_of_the_output_may_leave(arguments: list[str]) -> None:
    """With the other end of its output closed the program ends without a word."""
    Path("many.vcd").write_bytes(GOOD)
    code = "import sys; from boardgauge.command import main; sys.argv[0] = 'boardgauge'; main()"
    with subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        told = process.stderr.read()
    assert "Traceback" not in told
    assert "fault" not in told
    assert "Exception ignored" not in told


def test_half_the_inputs_at_an_unknown_moment() -> None:
    """States that differ in inputs nobody sees do not cover one another, so some state is left to begin with.

    Found by mutating a recording: with each left out for the sake of the other, none was left and the judge failed.
    """
    spec = FAN.replace("[rules.run_on]", 'guard = { kind = "switch", contact = "normally open" }\n[rules.run_on]')
    Path("guarded.toml").write_text(spec.replace('"call or', '"(call and guard closed) or'), encoding="utf-8")
    Path("half.csv").write_text("t_s,call\n0,0\n", encoding="utf-8")
    result = run("judge", "guarded.toml", "half.csv", "--json")
    assert json.loads(result.stdout)["verdict"] in {"conforms", "undecided"}
