"""A board written as C does what the reference does, instant by instant, at nominal times.

The compiled board is asked for its outputs, lamps, the place of each rule and what runs; all of it is compared, at
every poke, at every moment something is due, and one tick before.
"""

from __future__ import annotations

import itertools
import random
from fractions import Fraction
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.boards import board_path
from boardgauge.exports.c99.writing import write_c
from boardgauge.exports.scxml import CannotExport
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import TimeRange
from boardgauge.machine.compile import compile_board
from boardgauge.machine.input_ways import readings_of
from boardgauge.machine.lamp_wave import lamp_edges
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Edges, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard, Simulator
from boardgauge.rigs.library import interface_header
from exports.compiled_boards import COMPILERS, CompiledBoard, compile_files, needs_compiler, taken_in_at_once

pytestmark = needs_compiler
S = 1_000_000
MOST_STOPS = 8
MOST_INSTANTS = 200
LIBRARY = [
    "extract-fan", "hearthgate", "quillmere", "quillmere-split", "sump-pumps", "tarnbeck", "tarnbeck-thermistor",
    "iec-ctu", "iec-r-trig", "iec-rs", "iec-sr", "iec-tof", "iec-ton", "iec-tp",
]  # fmt: skip


class TooBusyError(Exception):
    """Times of microseconds that keep one another going: nothing is learnt from millions of instants."""


class Beside:
    """A simulated board and a compiled one, poked alike and compared."""

    def __init__(self, board: Board, compiled: CompiledBoard, positions: dict[str, str]) -> None:
        self.machine = compile_board(board)
        self.tick = compiled.shape.tick
        self.reference: SimulatedBoard = Simulator(self.machine, "nominal", positions=positions).board()
        self.engine: Engine = self.reference.engine
        self.compiled = compiled
        self.time = 0
        self.values: dict[str, Value] = {
            level.input: level.at_rest for level in self.machine.levels if level.comparison is None
        }
        self.lamp_lines: list[list[tuple[int, int]]] = [[] for _ in board.lamps]
        self.compared = 0
        compiled.init()
        for name, position in positions.items():
            places = [p.name for p in board.settings[name].positions]
            compiled.set(name, places.index(position))

    def go_on(self, to: int, changes: dict[str, Value]) -> None:
        """Go on to a time (microseconds) at which inputs change, looking at both at all that is due until then."""
        for _ in range(MOST_STOPS):
            if not self.reference.config.powered:
                break
            due = self.reference.due()
            ticks = self.compiled.until_due()
            moments = [] if due is None else [due - self.tick, due]
            moments += [] if ticks is None else [self.time + ticks * self.tick]
            soon = [moment for moment in moments if self.time < moment < to]
            if not soon:
                break
            self._advance(min(soon), {})
        self._advance(to, changes)

    def _advance(self, to: int, changes: dict[str, Value]) -> None:
        for name, value in changes.items():
            self.values[name] = value
            if name != "power":
                self.compiled.set(name, value)
        if changes:
            self.reference.feed({name: [(to, value)] for name, value in changes.items()})
        elapsed, self.time = to - self.time, to
        assert elapsed % self.tick == 0
        instants = itertools.count()
        if self.reference.advance(to, lambda *_: next(instants) > MOST_INSTANTS):
            raise TooBusyError
        if changes.get("power") is False:
            self.compiled.lose_power(elapsed // self.tick)
        elif self.reference.config.powered:
            self.compiled.step(elapsed // self.tick)
        self._compare()

    def _compare(self) -> None:
        config = self.reference.config
        if not config.powered:
            return
        story = self.reference.story()
        told = f"at {self.time} us, after {[(e.time, e.causes) for e in story[-3:]]}"
        hidden = sum(1 << t.index for t in self.machine.timings if t.role == "window")
        assert not self.compiled.fault, told
        assert self.compiled.places() == config.places, told
        assert self.compiled.running() == config.running & ~hidden, told
        assert self.compiled.outputs() == self.engine.outputs(config), told
        assert self.compiled.lines() == self.engine.lamp_lines(config), told
        assert self.compiled.lamps() == self._lit(), told
        self.compared += 1

    def _lit(self) -> tuple[bool, ...]:
        lit = []
        for number, lamp in enumerate(self.machine.board.lamps.values()):
            since, _ = self.reference._lines[number][-1]
            if self.time - since > 20 * S:
                lit.append(self.compiled.lamps()[number])
                continue
            edges = lamp_edges(lamp, self.reference._lines[number][-1:], self.reference._chance, self.time)
            lit.append(bool(Edges(False, edges).at(self.time)))
        return tuple(lit)


def poke(board: Board, beside: Beside, rng: random.Random, number: int, tick: int) -> None:
    """Poke both at random, often at the very ends of times; where the reference does not settle, stop."""
    machine = beside.machine
    lengths = [d.nominal for t in machine.timings for d in t.choices] or [S]
    first: dict[str, Value] = {n: _reading(board, beside, n, rng) for n, row in board.inputs.items() if row.unit}
    if first:
        beside._advance(0, first)
    beside.go_on(tick, {"power": True})
    for _ in range(number):
        due = beside.reference.due()
        kind = rng.randrange(5)
        if kind == 0 and due is not None:
            at = due + rng.choice([-tick, 0, 0, tick])
        elif kind < 3:
            at = beside.time + rng.choice(lengths) + rng.choice([-tick, 0, tick])
        else:
            at = beside.time + rng.randrange(1, 20 * S)
        at = max(beside.time + tick, at // tick * tick)
        if rng.random() < 0.05:
            beside.go_on(at, {"power": False})
            beside.go_on(at + rng.randrange(1, 10) * tick, {"power": True})
            continue
        chosen = rng.sample(sorted(board.inputs), min(len(board.inputs), rng.choice([1, 1, 2])))
        beside.go_on(at, {name: _changed(board, beside, name, rng) for name in chosen})


def _changed(board: Board, beside: Beside, name: str, rng: random.Random) -> Value:
    if board.inputs[name].kind is InputKind.SENSOR:
        return _reading(board, beside, name, rng)
    return not beside.values[name]


def _reading(board: Board, beside: Beside, name: str, rng: random.Random) -> Fraction:
    rows = [level for level in beside.machine.levels if level.input == name]
    if not rows:
        return Fraction(rng.randrange(-100, 100), 10)
    scale = 10 ** beside.compiled.shape.decimals[name]
    return Fraction(round(rng.choice(readings_of(board, rows)).number * scale), scale)


@pytest.mark.parametrize("name", LIBRARY)
def test_boards_of_the_library_step_as_the_reference_does(name: str, tmp_path: Path) -> None:
    """Whatever is poked, and however finely: every instant comes out alike, in ticks of a millisecond and finer."""
    board = taken_in_at_once(read_board(board_path(name)))
    for tick in (1_000, 1) if name == "hearthgate" else (1,):
        compiled = CompiledBoard(board, tmp_path / str(tick), tick)
        for seed in range(2):
            rng = random.Random(f"{name} {seed}")
            positions = {
                n: rng.choice([str(p.name) for p in row.positions])
                for n, row in board.settings.items()
                if row.positions[0].name is not None
            }
            beside = Beside(board, compiled, positions)
            poke(board, beside, rng, 60, tick)
            assert beside.compared > 60


@settings(max_examples=15, suppress_health_check=list(HealthCheck))
@given(boards(), st.integers(0, 1 << 30))
def test_drawn_boards_step_as_the_reference_does(
    tmp_path_factory: pytest.TempPathFactory, drawn: Board, seed: int
) -> None:
    """Rules of every kind, in any knot: what the reference settles, the compiled board settles alike."""
    board = taken_in_at_once(drawn)
    rng = random.Random(seed)
    compiled = CompiledBoard(board, tmp_path_factory.mktemp("drawn"), 1)
    for _ in range(3):
        positions = {
            n: rng.choice([str(p.name) for p in row.positions])
            for n, row in board.settings.items()
            if row.positions[0].name is not None
        }
        try:
            poke(board, Beside(board, compiled, positions), rng, 15, 1)
        except (CannotSettle, TooBusyError):
            continue


# -- what is written -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("compiler", COMPILERS)
def test_no_compiler_has_anything_to_say(compiler: str, tmp_path: Path) -> None:
    """Filtered, optimised and with what makes it firmware for a rig, too; the rest compiles in the other tests."""
    for name in ("extract-fan", "hearthgate", "quillmere", "sump-pumps", "iec-tp"):
        files = write_c(read_board(board_path(name)), for_rig=True)
        files["boardgauge_firmware.h"] = interface_header()
        for file, text in files.items():
            (tmp_path / file).write_text(text, encoding="utf-8")
        sources = [tmp_path / file for file in files if file.endswith(".c")]
        compile_files(sources, tmp_path / f"{name}.so", "-O1", compiler=compiler)


NASTY = """
language = 1
[board]
id = "int-32"
title = "Names that C has taken */ and a comment \\\\ that /* ends ??/ (invented)"
tolerance = "exactly"
[inputs.int]
kind = "signal"
text = "*/ int x; /*"
[inputs.UINT32_MAX]
kind = "button"
[inputs.picture]
kind = "sensor"
unit = "°C"
[rules.static]
kind = "sequence"
begins = "int begins"
ends = "not int"
steps = [ { name = "auto", lasts = "1 s" }, { name = "b_c", until = "UINT32_MAX pressed" } ]
[rules.static_b]
kind = "sequence"
begins = "int begins"
ends = "not int"
steps = [ { name = "c", lasts = "2 s" } ]
[rules.moves]
kind = "count"
counts = "(picture > 28 °F) begins"
limit = 300
[rules.been]
kind = "lockout"
trips = "moves reached"
clears = "only by power loss"
[outputs.void]
on = "been or auto"
[lamps.linux]
lines = [ { when = "void", shows = "0.1 s lit, 0.3 s dark" }, { when = "otherwise", shows = "dark" } ]
"""


def test_names_and_texts_of_a_spec_never_get_in_the_way_of_c(tmp_path: Path) -> None:
    """Words of C, names of its headers, ends of comments, names that meet: all of it compiles, and does its work."""
    board = read_board_text(NASTY, "nasty.toml")
    compiled = CompiledBoard(board, tmp_path, 1_000)
    rng = random.Random(4)
    beside = Beside(board, compiled, {})
    poke(board, beside, rng, 40, 1_000)
    assert beside.compared > 40


def test_a_reading_between_two_steps_of_a_sensor_decides_as_the_limit_does(tmp_path: Path) -> None:
    """28 °F is -20/9 °C, which no decimal reading hits: the readings beside it come out on their sides."""
    board = read_board_text(NASTY, "nasty.toml")
    compiled = CompiledBoard(board, tmp_path, 1_000)
    assert compiled.shape.decimals["picture"] == 3
    compiled.init()
    number = 0
    for reading in ("-2.223", "-2.222", "-2.223", "-2.222"):
        compiled.set("picture", Fraction(reading))
        compiled.step(1)
        number += reading == "-2.222"
        assert compiled.places()[2] == number


def test_what_is_no_whole_number_of_ticks_is_refused_with_its_place() -> None:
    text = NASTY.replace('lasts = "2 s"', 'lasts = "1.5 ms"')
    with pytest.raises(CannotExport, match=r"nasty.toml:\d+: c takes 1.5 ms, .* ticks of 0.5 ms would do"):
        write_c(read_board_text(text, "nasty.toml"))
    assert write_c(read_board_text(text, "nasty.toml"), 500)


def test_every_timing_and_place_stands_beside_its_rule_and_clause() -> None:
    board = read_board(board_path("tarnbeck"))
    files = write_c(board)
    for rule in board.rules.values():
        assert f"{rule.id}, clause {rule.note.clause}, tarnbeck.toml:{rule.at.line}" in files["tarnbeck.h"], rule.id
    assert "restart_delay, clause 2.4, tarnbeck.toml:118: 45 s (42.9 s to 47.1 s)" in files["tarnbeck.h"]
    assert "#define TARNBECK_RESTART_DELAY_TICKS UINT32_C(45000)" in files["tarnbeck.h"]


def test_what_of_the_taking_in_is_not_kept_is_told() -> None:
    """A filter that is longer than the board may take to act cannot be waited out: the header says so."""
    board = read_board(board_path("iec-ton"))
    slow = evolve(board, inputs={n: evolve(i, filter=TimeRange(S, S)) for n, i in board.inputs.items()})
    assert "Not kept:" in write_c(slow)["iec_ton.h"]
    assert "Not kept:" not in write_c(board)["iec_ton.h"]


def test_the_same_board_gives_the_same_files() -> None:
    board = read_board(board_path("quillmere"))
    assert write_c(board) == write_c(board)


STUCK = """
language = 1
[board]
id = "stuck"
title = "A mode that ends and begins again in no time (invented)"
tolerance = "exactly"
[inputs]
a = { kind = "signal" }
b = { kind = "signal" }
[rules.m]
kind = "mode"
begins = "a"
ends = "b begins"
[outputs.q]
on = "m"
[outputs.a_lives]
on = "a"
"""


def test_a_board_that_never_comes_to_rest_stops_and_says_so(tmp_path: Path) -> None:
    """Nothing turns for ever: the outputs are off, and the fault is told, until the board is started anew."""
    compiled = CompiledBoard(read_board_text(STUCK, "stuck.toml"), tmp_path, 1_000)
    compiled.init()
    compiled.step(0)
    compiled.set("a", True)
    compiled.step(5)
    assert compiled.outputs() == (True, True)
    compiled.set("b", True)
    compiled.step(5)
    assert compiled.fault
    assert compiled.outputs() == (False, False)
    assert compiled.until_due() is None
    compiled.init()
    compiled.set("b", False)
    compiled.step(0)
    assert not compiled.fault
    assert compiled.outputs() == (False, False)
