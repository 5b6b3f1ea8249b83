"""Rig files: what they say is read, and whatever is wrong is told with its place."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from pathlib import Path

import pytest

from bench_plans import TARNBECK
from boardgauge.boards import board_path
from boardgauge.language import UnusableSpec, read_board
from boardgauge.rigs.kinds import KINDS, open_rig
from boardgauge.rigs.rig import RigFailure
from boardgauge.rigs.rig_file import RigFile, read_rig_file, rig_file_from

HEAD = 'language = 1\n[rig]\nkind = "process"\nname = "bench-2"\n'
THERMISTOR = read_board(board_path("tarnbeck-thermistor"))


def read(text: str) -> RigFile:
    return rig_file_from(text, "rig.toml", TARNBECK)


def told(text: str, file: str = "rig.toml") -> str:
    """Give what is said against a rig file, by the reader or by its kind."""
    with pytest.raises(UnusableSpec) as error:
        open_rig(rig_file_from(text, file, TARNBECK))
    return str(error.value)


def test_a_rig_file_says_what_stands_on_the_bench() -> None:
    """Latency, clock error, what is safe, points and interlocks, each in the board's words."""
    file = read(
        HEAD + 'latency = "2 ms"\nclock_error = "50 ppm"\nsafe_within = "0.5 s"\nnever = ["cold and warm"]\n'
        '[safe]\nhps = "closed"\n'
        '[process]\ncommand = ["fixture"]\n'
        '[drives]\npower = "K1"\nlps = { point = "K4", inverted = true }\n'
        '[sees]\ncc = "D1"\n'
    )
    assert (file.latency, file.clock_error, file.safe_within) == (2_000, Fraction(50, 10**6), 500_000)
    assert file.safe == {"hps": True}
    assert file.points.drives is not None
    assert file.points.sees is not None
    assert file.points.drives["lps"].level(False) is True
    assert file.points.drives["power"].level(True) is True
    assert file.points.sees["cc"].value(Fraction(1)) is True
    assert [row.text for row in file.never] == ["cold and warm"]


def test_a_sensor_is_driven_by_scale_and_has_a_safe_value() -> None:
    """A DAC of tenths of a degree from -50 on gives 20 °C at 700; what is safe is said in any unit."""
    text = HEAD + '[safe]\ncoil = "68 °F"\n[drives]\ncoil = { point = "DAC", scale = 0.1, offset = -50 }\n'
    sensor = next(row.id for row in THERMISTOR.inputs.values() if row.kind.value == "sensor")
    file = rig_file_from(text.replace("coil", sensor), "rig.toml", THERMISTOR)
    assert file.points.drives is not None
    assert file.safe[sensor] == 20
    assert file.points.drives[sensor].level(file.safe[sensor]) == 700
    assert file.points.drives[sensor].value(Fraction(0)) == -50


WRONG = [
    ("", "rig.toml:1:1: language: the key is missing"),
    ('language = 2\n[rig]\nkind = "process"\nname = "x"\n', "rig.toml:1:12: language: this reader knows version 1"),
    ("language = 1\n", "rig: the table is missing"),
    ('language = 1\n[rig]\nkind = "proces"\nname = "x"\n', "rig.toml:3:8: rig.kind: there is no kind 'proces' of rig"),
    ('language = 1\n[rig]\nkind = "proces"\nname = "x"\n', "did you mean 'process'?"),
    ('language = 1\n[rig]\nname = "x"\n', "rig.kind: the key is missing"),
    (HEAD + 'latncy = "2 ms"\n', "rig.toml:5:1: rig.latncy: there is no such key here; did you mean 'latency'?"),
    (HEAD + "latency = 2\n", 'rig.toml:5:11: rig.latency: 2 cannot stand here; expected "2 ms"'),
    (HEAD + 'latency = "2 parsecs"\n', "rig.toml:5:1"),
    (HEAD + 'clock_error = "much"\n', "rig.clock_error"),
    (HEAD + 'clock_error = "60 %"\n', "rig.clock_error"),
    (HEAD + 'never = "cold"\n', "rig.never: a list of conditions is needed"),
    (HEAD + 'never = ["cold and hot"]\n', "rig.toml:5:20: rig.never: 'hot' is no input of tarnbeck"),
    (HEAD + 'never = ["cold and"]\n', "rig.toml:5:"),
    (HEAD + 'never = ["cc and cold"]\n', "'cc' is no input of tarnbeck"),
    (HEAD + '[safe]\nhp = "closed"\n', "rig.toml:6:1: safe.hp: tarnbeck has no input 'hp'; did you mean 'hps'?"),
    (
        HEAD + '[safe]\nhps = "shut"\n',
        'rig.toml:6:7: safe.hps: this is no state of a switch; expected one of "open", "closed"',
    ),
    (HEAD + '[safe]\npower = "on"\n', "safe.power: the supply is safe when it is off"),
    (HEAD + '[drives]\ncc = "K1"\n', "rig.toml:6:1: drives.cc: it is no input of the board"),
    (HEAD + '[sees]\ny = "D1"\n', "sees.y: it is no output and no lamp of the board"),
    (HEAD + '[drives]\nlp = "K1"\n', "drives.lp: tarnbeck has no such signal; did you mean 'lps'?"),
    (HEAD + "[drives]\ny = 7\n", "drives.y: a point is needed"),
    (HEAD + "[drives]\ny = { inverted = true }\n", "drives.y.point: the key is missing"),
    (HEAD + '[drives]\ny = { point = "K", scale = 2 }\n', "drives.y.scale: there is no such key here"),
    (HEAD + '[proces]\ncommand = ["x"]\n', "rig.toml:5:2: proces: there is no such key here; did you mean 'process'?"),
    (HEAD + "[process]\n", "process.command: the key is missing"),
    (HEAD + '[process]\ncommand = "fixture"\n', "process.command"),
    (HEAD + '[process]\ncommand = ["x"]\nfolder = "y"\n', "process.folder: there is no such key here"),
    ("language = 1\n[rig\n", "rig.toml:2:"),
]


@pytest.mark.parametrize(("text", "message"), WRONG)
def test_what_is_wrong_is_told_with_its_place(text: str, message: str) -> None:
    """File, line, column, key, what is wrong, what is expected, and the nearest name."""
    assert message in told(text)


MODBUS = 'host = "h"\nwatchdog = "none"\n'
KIND_WRONG = [
    ("simulated", 'fault = "cc.stuck"', "did you mean 'cc.stuck-o"),
    ("simulated", 'timings = "slow"', "one of nominal, earliest, latest, random"),
    ("simulated", "speed = 0", 'expected "virtual", or a number above 0'),
    ("simulated", "seed = -1", "simulated.seed"),
    ("simulated", 'colour = "red"', "simulated.colour: there is no such key here"),
    ("simulated", '[durations]\nrestart = "45 s"', "did you mean 'restart_delay'"),
    ("simulated", '[durations]\nrestart_delay = "4 s"', "it is outside what the spec allows"),
    ("simulated", "[durations]\nrestart_delay = 45", "this is no time"),
    ("serial", "", "serial.port: the key is missing"),
    ("serial", 'port = "p"\nbaud = "fast"', "serial.baud"),
    ("serial", 'port = "p"\nbaud = 0', "serial.baud: 0 cannot stand here"),
    ("serial", 'port = "p"\nbaud = 99999999999999999999', "serial.baud"),
    ("modbus", MODBUS + "port = 65536\n[drives]\n[sees]", "modbus.port: 65536 cannot stand here"),
    ("modbus", MODBUS + "unit = 248\n[drives]\n[sees]", "modbus.unit: 248 cannot stand here"),
    ("modbus", MODBUS + "stop_bits = 3\n[drives]\n[sees]", "modbus.stop_bits: 3 cannot stand here"),
    ("modbus", MODBUS + "baud = 0\n[drives]\n[sees]", "modbus.baud: 0 cannot stand here"),
    ("modbus", 'watchdog = "none"\n[drives]\n[sees]', "one of host and serial is needed"),
    ("modbus", 'host = "h"\n[drives]\n[sees]', "modbus.watchdog: the key is missing"),
    ("modbus", MODBUS + "[sees]", "drives: the table is missing"),
    ("modbus", MODBUS + 'parity = "odder"\n[drives]\n[sees]', "one of none, even, odd"),
    (
        "modbus",
        'host = "h"\nwatchdog = "none"\n[drives]\ny = "coyl 1"\n[sees]',
        "drives.y: 'coyl 1' is no point that can be written",
    ),
    (
        "modbus",
        'host = "h"\nwatchdog = "none"\n[drives]\ny = "discrete input 1"\n[sees]',
        "is no point that can be written",
    ),
    ("modbus", MODBUS + '[drives]\ny = "holding register 1"\n[sees]', "y is no sensor"),
    ("modbus", MODBUS + '[drives]\n[sees]\ncc = "coil 70000"', "is no point that can be read"),
    ("person", "", "person.reaction: the key is missing"),
    ("person", 'reaction = "2 s"\n[drives]\ny = "Y"\n[sees]\nled = "lamp"', "cannot type as fast as a lamp flashes"),
    (
        "person",
        'reaction = "2 s"\n[drives]\ny = { point = "Y", inverted = true }',
        "person.y: a person is told the state",
    ),
]


@pytest.mark.parametrize(("kind", "text", "message"), KIND_WRONG)
def test_what_is_wrong_in_the_table_of_a_kind_is_told(kind: str, text: str, message: str) -> None:
    """Each kind tells what is wrong in its own table before anything is opened."""
    head = f'language = 1\n[rig]\nkind = "{kind}"\nname = "x"\n[{kind}]\n'
    said = told(head + text + "\n")
    assert message in said
    assert "rig.toml:" in said


def test_all_that_is_wrong_is_told_at_once() -> None:
    """Three slips, three lines, in the order of the file."""
    said = told(HEAD + 'latncy = "2 ms"\n[safe]\nhp = "closed"\n[drives]\nlp = "K1"\n').splitlines()
    assert [row.split(":")[1] for row in said] == ["5", "7", "9"]


def test_a_file_that_is_not_there_is_told() -> None:
    """The name of the file stands in the message."""
    with pytest.raises(UnusableSpec, match=r"nowhere\.toml"):
        read_rig_file(Path("nowhere.toml"), TARNBECK)


@pytest.mark.parametrize("command", ["no-such-program-anywhere", "./no-such-file", "no\\u0000name"])
def test_a_program_that_cannot_be_run_is_a_failure_of_the_rig(command: str) -> None:
    """No traceback: the program and the reason."""
    with pytest.raises(RigFailure, match="cannot be run"):
        open_rig(read(HEAD + f'[process]\ncommand = ["{command}"]\n'))


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_has_its_module_and_its_line(kind: str) -> None:
    """A kind can be loaded, and says what it is."""
    from importlib import import_module

    assert KINDS[kind].meaning
    assert callable(import_module(KINDS[kind].module).prepare)


@pytest.mark.parametrize(("said", "safe"), [("", 0), ('[safe]\nSENSOR = "20 °C"\n', 20)])
def test_a_simulated_board_takes_any_number_for_its_sensors(said: str, safe: int) -> None:
    """Nothing real is driven: a sensor is driven from 0 on unless the rig file says another safe value."""
    sensor = next(row.id for row in THERMISTOR.inputs.values() if row.kind.value == "sensor")
    text = 'language = 1\n[rig]\nkind = "simulated"\nname = "x"\n[simulated]\n' + said.replace("SENSOR", sensor)
    with open_rig(rig_file_from(text, "rig.toml", THERMISTOR)) as rig:
        assert rig.facts.drives[sensor] == safe
        rig.start()
        assert rig.set({sensor: Fraction(-25, 2), "power": True}) > 0
        rig.wait(1_000_000)


def test_a_simulated_board_that_cannot_be_opened_leaves_no_file_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was handed to its process is gone, whether that came to read it or not."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    text = 'language = 1\n[rig]\nkind = "simulated"\nname = "x"\n[simulated]\n'
    with open_rig(read(text)):
        assert not list(tmp_path.iterdir())
    with pytest.raises(RigFailure):
        open_rig(read(text + 'log = "no such folder/log"\n'))
    assert not list(tmp_path.iterdir())
