"""However a bench records a board in order, it never deviates; a faulty one is found where the recording shows it.

Law: what a recording cannot show (pulses between samples, a line that aliases, a lamp too fast for its samples, levels
in the noise) is undecided or not exercised, and never a false alarm.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cache
from random import Random

import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bench_recorder import Mains, as_volts, at_samples, bounced, on_ac, rows_of, skewed, with_clock
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Recording, Wiring, condition, default_wiring
from boardgauge.traces.simulated import recording_of

S, MS = 1_000_000, 1_000
SPEC = """
language = 1
[board]
id = "bench-cooler"
title = "A small cooler on a bench (invented)"
tolerance = "± (4 % + 0.3 s)"
responds_within = "0.3 s"
filter = "40 ms to 150 ms"
[inputs]
call = { kind = "call" }
guard = { kind = "switch", contact = "normally closed" }
[rules]
rest = { kind = "delay", begins = "power_up or motor ends", lasts = "12 s", if_begun_again = "starts over" }
trip = { kind = "lockout", trips = "(guard open and motor) for 2 s", clears = "not call" }
[outputs]
motor = { on = "call and not rest and not trip", lag = "0.1 s" }
alarm = { on = "trip", lag = "0.1 s" }
[lamps.status]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
tolerance = "± 20 %"
changes_within = "0.5 s"
not_judged_for = "3 s"
lines = [
  { when = "trip", shows = "3 flashes" },
  { when = "motor", shows = "1 s lit, 1 s dark" },
  { when = "call", shows = "0.1 s lit, 0.1 s dark" },
  { when = "otherwise", shows = "steady" },
]
"""
FAULTS = {
    "rests too short": ('lasts = "12 s"', 'lasts = "6 s"'),
    "trips too soon": ("for 2 s", "for 0.8 s"),
    "counts one flash more": ("3 flashes", "4 flashes"),
    "does not stop": ("call and not rest and not trip", "call and not rest"),
}
INPUTS, OUTPUTS = ("call", "guard"), ("motor", "alarm")
Bench = Callable[[Recording, Random], tuple[Recording, Wiring]]


@cache
def engine_of(fault: str | None) -> Engine:
    text = SPEC.replace(*FAULTS[fault]) if fault else SPEC
    return Engine(compile_board(read_board_text(text, "bench.toml")))


@cache
def judge() -> Judge:
    return Judge.of(board())


def board() -> Board:
    return engine_of(None).machine.board


def wired(lines: tuple[str, ...] = (), bouncing: tuple[str, ...] = (), hertz: int = 60, **facts: object) -> Wiring:
    recorder = {name: facts.pop(name) for name in ("clock_error", "skew") if name in facts}
    wires = tuple(
        evolve(wire, line_frequency=hertz, **facts)  # type: ignore[arg-type]
        if wire.signal in lines
        else evolve(wire, bounce=5 * MS if wire.signal in bouncing else 0)
        for wire in default_wiring(board()).wires
    )
    return evolve(default_wiring(board()), wires=wires, **recorder)  # type: ignore[arg-type]


def mains(chance: Random, hertz: int) -> Mains:
    full = chance.random() < 0.4
    duty = chance.uniform(0.67, 0.95) if full else chance.uniform(0.34, 0.47)
    off = chance.choice([1.0, 0.98, 1.02, chance.uniform(0.98, 1.02)])
    return Mains(hertz * off, chance.random(), duty, full, chance.choice([0.0, 0.02]), chance.randrange(10**6))


def pulses(recording: Recording, chance: Random) -> tuple[Recording, Wiring]:
    hertz, rest = chance.choice([50, 60]), chance.choice([0, 1])
    made = on_ac(recording, INPUTS, mains(chance, hertz), rest)
    return made, wired(INPUTS, hertz=hertz, at_rest="high" if rest else "low")


def table(rate: float, jitter: int = 0, lost: float = 0.0) -> Bench:
    return lambda recording, chance: (
        at_samples(recording, rows_of(recording, rate, chance.randrange(10**6), jitter, lost)), wired()
    )  # fmt: skip


def pulse_table(rate: float, jitter: int = 0, lost: float = 0.0) -> Bench:
    def make(recording: Recording, chance: Random) -> tuple[Recording, Wiring]:
        hertz = chance.choice([50, 60])
        made = on_ac(recording, INPUTS[:1], mains(chance, hertz))
        rows = rows_of(made, rate, chance.randrange(10**6), jitter, lost)
        return at_samples(made, rows), wired(INPUTS[:1], hertz=hertz)

    return make


def volts(recording: Recording, chance: Random) -> tuple[Recording, Wiring]:
    hertz = chance.choice([50, 60])
    rows = rows_of(recording, 1000, chance.randrange(10**6), 200, 0.01)
    line = Mains(hertz * chance.uniform(0.98, 1.02), chance.random(), seed=chance.randrange(10**6))
    made = as_volts(at_samples(recording, rows), recording, INPUTS, line, chance.random() < 0.5)
    return made, wired(INPUTS, hertz=hertz, amplitude=Fraction(34))


def bouncing(recording: Recording, chance: Random) -> tuple[Recording, Wiring]:
    names = (*INPUTS, *OUTPUTS)
    return bounced(recording, names, 5 * MS, chance.randrange(10**6)), wired(bouncing=names)


def off_clock(recording: Recording, chance: Random) -> tuple[Recording, Wiring]:
    return with_clock(recording, chance.uniform(0.998, 1.002)), wired(clock_error=Fraction(3, 1000))


def off_skew(recording: Recording, chance: Random) -> tuple[Recording, Wiring]:
    late = chance.sample(sorted(recording.channels), 2)
    return skewed(recording, late, chance.choice([-2 * MS, 2 * MS])), wired(skew=2 * MS)


FINE: dict[str, Bench] = {
    "AC pulses": pulses,
    "a table at 1 kHz": table(1000),
    "a table at 100 Hz": table(100),
    "AC pulses at 1 kHz, jitter": pulse_table(1000, 300, 0.02),
    "volts at 1 kHz": volts,
    "bounce": bouncing,
    "clock error": off_clock,
    "skew": off_skew,
}
COARSE: dict[str, Bench] = {
    "a table at 50 Hz": table(50),
    "a logger at 50 Hz": table(50, 3 * MS, 0.03),
    "a table at 25 Hz": table(25),
    "AC pulses at 100 Hz": pulse_table(100),
    "AC pulses at 50 Hz": pulse_table(50),
    "AC pulses at 50 Hz, jitter": pulse_table(50, 3 * MS, 0.03),
    "AC pulses at 25 Hz": pulse_table(25),
}


@st.composite
def lives(draw: st.DrawFn) -> Timeline:
    """A call that comes and goes and a guard that opens, for a minute or so."""
    gaps = st.one_of(st.integers(100, 700), st.integers(1_000, 4_000), st.integers(10_000, 16_000))
    rows: dict[str, tuple[tuple[int, bool], ...]] = {"power": ((0, False), (S, True))}
    for name, level, most in (("call", False, 5), ("guard", True, 4)):
        at, edges = draw(st.integers(0, 3_000)), [(0, level)]
        for gap in draw(st.lists(gaps, max_size=most)):
            at, level = at + gap, not level
            edges.append((at * MS + draw(st.integers(0, 999)), level))
        rows[name] = tuple(edges)
    return Timeline(rows, 60 * S)


def run_of(timeline: Timeline, timings: str, seed: int, fault: str | None = None) -> Run:
    engine = engine_of(fault)
    return Simulator(engine.machine, timings, seed, engine=engine).run(timeline)  # type: ignore[arg-type]


def judged(recording: Recording, wiring: Wiring | None = None) -> Judgement:
    return judge().judge(condition(recording, wiring, board()))


QUICK = settings(
    max_examples=max(4, settings().max_examples // 12),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.parametrize("bench", [*FINE, *COARSE])
@QUICK
@given(life=lives(), timings=st.sampled_from(["earliest", "latest", "random"]), seed=st.integers(0, 10**6))
def test_a_board_in_order_never_deviates(bench: str, life: Timeline, timings: str, seed: int) -> None:
    recording, wiring = {**FINE, **COARSE}[bench](recording_of(run_of(life, timings, seed), board()), Random(seed))
    judgement = judged(recording, wiring)
    assert judgement.verdict != "deviates", judgement.deviations


TRIPPED = Timeline(
    {
        "power": ((0, False), (S, True)),
        "call": ((0, False), (5 * S, True), (20 * S, False), (23 * S, True), (70 * S, False)),
        "guard": ((0, True), (40 * S, False), (44 * S, True)),
    },
    80 * S,
)


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("bench", FINE)
def test_a_faulty_board_is_found(bench: str, fault: str) -> None:
    """By the same rule as in a perfect recording, and at about the same time; by a lamp, perhaps a group later."""
    recording = recording_of(run_of(TRIPPED, "nominal", 1, fault), board())
    perfect = judged(recording).deviations[0]
    found = judged(*FINE[bench](recording, Random(3)))
    assert found.verdict == "deviates"
    assert (found.deviations[0].rule, found.deviations[0].channel) == (perfect.rule, perfect.channel)
    assert abs(found.deviations[0].time - perfect.time) < (4 * S if perfect.kind == "lamp" else 0.4 * S)


@pytest.mark.parametrize("bench", [*FINE, "a table at 50 Hz", "a logger at 50 Hz", "a table at 25 Hz"])
def test_a_board_in_order_conforms(bench: str) -> None:
    """With nothing near a limit, nothing is left open."""
    recording = recording_of(run_of(TRIPPED, "nominal", 1), board())
    assert judged(*{**FINE, **COARSE}[bench](recording, Random(3))).verdict == "conforms"


def test_remarks_reach_the_judgement() -> None:
    """Where a line was not known a person reads so, in words and in JSON."""
    recording = recording_of(run_of(TRIPPED, "nominal", 1), board())
    line = Mains(60.0, 0.2, 0.4)
    judgement = judged(at_samples(on_ac(recording, ["call"], line), rows_of(recording, 30, 1)), wired(("call",)))
    assert judgement.verdict == "undecided"
    (remark,) = judgement.as_json()["remarks"]
    assert (remark["channel"], remark["kind"], remark["known"]) == ("call", "too coarse", False)
