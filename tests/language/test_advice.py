"""Advice is found by reading alone: what nothing reads, what can never happen, what an eye cannot tell apart."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from board_strategies import boards
from boardgauge.language import advise, read_board_text
from boardgauge.language.model import Board
from language_examples import EXAMPLES

BARE = """\
language = 1
[board]
id = "bare"
title = "A bare board (invented)"
tolerance = "± 20 %"
[inputs]
call = { kind = "call" }
limit = { kind = "switch", contact = "normally closed" }
[outputs.run]
on = "call and limit closed"
"""


def advice_on(added: str, text: str = BARE) -> list[str]:
    """Give the advice on a board with something added, as lines."""
    return [f"{item.key}: {item.message}" for item in advise(read_board_text(text + added, "bare.toml"))]


def test_a_plain_board_needs_no_advice() -> None:
    """There is nothing to say about a board in which everything is read and can happen."""
    assert advice_on("") == []


RULE = '\n[rules.r]\nkind = "{kind}"\n{keys}\n[outputs.out]\non = "{use}"\nlag = "50 ms"\n'


def rule(kind: str, keys: str, use: str = "r") -> str:
    """Give a rule of a kind that an output uses."""
    return RULE.format(kind=kind, keys=keys, use=use)


GIVEN = {
    "input-never-read": ('[inputs.spare]\nkind = "link"', "inputs.spare: the input is never read"),
    "condition-never-used": ('[conditions]\nx = { is = "call" }', "conditions.x: the condition is never used"),
    "setting-never-used": (
        '[settings.s]\nread = "always"\nfactory = "a"\npositions = [ { name = "a", is = "5 s" } ]',
        "settings.s: the setting is never used",
    ),
    "rule-never-used": ('[rules.t]\nkind = "toggle"\nflips = "call begins"', "rules.t: the rule is never used"),
    "lockout-no-output": (
        '[rules.l]\nkind = "lockout"\ntrips = "limit open"\nclears = "not call"',
        "rules.l: no output depends on the lockout, so it holds nothing off",
    ),
    "lockout-for-a-lamp-only": (
        '[rules.l]\nkind = "lockout"\ntrips = "limit open"\nclears = "not call"\n'
        '[lamps.led]\nlines = [ { when = "l", shows = "dark" }, { when = "otherwise", shows = "steady" } ]',
        "rules.l: no output depends on the lockout, so it holds nothing off",
    ),
    "never-trips": (
        rule("lockout", 'trips = "limit open and run"\nclears = "not call"'),
        "rules.r.trips: this never happens, so the rule never trips",
    ),
    "never-trips-by-an-event": (
        rule("lockout", 'trips = "limit opens while run"\nclears = "not call"'),
        "rules.r.trips: this never happens, so the rule never trips",
    ),
    "never-begins": (
        rule("delay", 'begins = "(call or not call) ends"\nlasts = "5 s"\nif_begun_again = "runs on"'),
        "rules.r.begins: this never happens, so the rule never begins",
    ),
    "never-counts": (
        rule("count", 'counts = "run begins while limit open"\nlimit = 3', "r reached"),
        "rules.r.counts: this never happens, so the rule never counts anything",
    ),
    "never-adds": (
        rule("accumulator", 'adds_while = "call and not call"\ntarget = "5 s"', "r reached"),
        "rules.r.adds_while: this never happens, so the rule never adds anything up",
    ),
    "never-flips": (
        rule("toggle", 'flips = "(call and call off) begins"'),
        "rules.r.flips: this never happens, so the rule never changes over",
    ),
    "never-ends": (
        rule("mode", 'begins = "call"\nends = "run and limit open"'),
        "rules.r.ends: this never happens, so the rule never ends by it",
    ),
    "never-clears": (
        rule("lockout", 'trips = "limit open"\nclears = "run and not call"'),
        "rules.r.clears: this never happens, so the rule never ends by it",
    ),
    "condition-always": (
        '[conditions]\nx = { is = "call or not call" }\n[outputs.out]\non = "x and call"\nlag = "1 s"',
        "conditions.x.is: the condition always holds",
    ),
    "output-never-on": ('[outputs.out]\non = "run and limit open"\nlag = "1 s"', "outputs.out.on: this can never hold"),
    "output-never-off": ('[outputs.out]\non = "call or call off"\nlag = "1 s"', "outputs.out.on: this always holds"),
    "output-never-stops": (
        '[outputs.out]\nstarts = "call"\nstops = "run and limit open"\nlag = "1 s"',
        "outputs.out.stops: this can never hold",
    ),
    "steps-exclude-each-other": (
        rule(
            "sequence",
            'begins = "call"\nends = "not call"\n'
            'steps = [ { name = "one", lasts = "5 s" }, { name = "two", until = "limit open" } ]',
            "one and two",
        ),
        "outputs.out.on: this can never hold",
    ),
    "sensor-limits-exclude-each-other": (
        '[inputs.coil]\nkind = "sensor"\nunit = "°C"\n[outputs.out]\non = "coil > 14 °C and coil < 50 °F"\nlag = "1 s"',
        "outputs.out.on: this can never hold",
    ),
    "no-lag": (
        '[outputs.out]\non = "run or call"',
        "outputs.run.lag: run, out hang on call, limit together and none has a lag: a real board never changes two "
        'outputs in the same microsecond; give each the time that its relay takes at most, as in lag = "30 ms"',
    ),
}


@pytest.mark.parametrize("case", GIVEN)
def test_each_matter_has_its_advice(case: str) -> None:
    """What is to be looked at again is named with its key."""
    added, said = GIVEN[case]
    lines = advice_on(added)
    assert any(line.startswith(said) for line in lines), lines


NOT_GIVEN = {
    "a-lag-is-enough": ('[outputs.out]\non = "call"\nlag = "50 ms"', "lag"),
    "no-common-cause": ('[inputs.other]\nkind = "call"\n[outputs.out]\non = "other"', "lag"),
    "it-can-trip": (rule("lockout", 'trips = "limit opens while call"\nclears = "not call"'), "rules.r"),
    "hysteresis-may-hold-between": (
        '[inputs.coil]\nkind = "sensor"\nunit = "°C"\n'
        '[outputs.out]\non = "coil > 14 °C until < 10 °C and coil < 13 °C"\nlag = "1 s"',
        "outputs.out",
    ),
    "a-rule-of-its-own-time-ends": (
        rule("mode", 'begins = "call"\nends = "run and limit open"\nat_most = "5 s"'),
        "rules.r.ends",
    ),
    "used-by-a-requirement": (
        '[conditions]\nx = { is = "call" }\n[requirements.q]\nnever = "run and not x"',
        "conditions.x",
    ),
    "an-input-read-by-a-setting": (
        '[inputs.j]\nkind = "link"\n[settings.s]\nread = "always"\n'
        'positions = [ { when = "j open", is = "5 s" }, { when = "j fitted", is = "9 s" } ]\n'
        + rule("delay", 'begins = "call begins"\nlasts = "s"\nif_begun_again = "runs on"'),
        "inputs.j",
    ),
}


@pytest.mark.parametrize("case", NOT_GIVEN)
def test_what_is_in_order_gets_no_advice(case: str) -> None:
    """Advice is silent where it is not certain."""
    added, unsaid = NOT_GIVEN[case]
    assert not [line for line in advice_on(added) if unsaid in line]


LAMP = """
[lamps.led]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
lines = [
{lines}
  {{ when = "otherwise", shows = "{last}" }},
]
"""


def lamp(*lines: tuple[str, str], last: str = "steady") -> list[str]:
    """Give the advice on a lamp with some lines."""
    rows = "\n".join(f'  {{ when = "{when}", shows = "{shows}" }},' for when, shows in lines)
    return advice_on(LAMP.format(lines=rows, last=last))


@pytest.mark.parametrize(
    ("one", "two", "alike"),
    [
        ("steady", "steady", True),
        ("dark", "steady", False),
        ("1 s lit, 1 s dark", "1.4 s lit, 1.2 s dark", True),
        ("1 s lit, 1 s dark", "1.6 s lit, 1 s dark", False),
        ("1 s lit, 1 s dark", "1 s lit, 1.6 s dark", False),
        ("2 flashes", "2 flashes", True),
        ("2 flashes", "3 flashes", False),
        ("1 flash", "0.25 s lit, 1.4 s dark", True),
        ("1 flash", "0.25 s lit, 0.25 s dark", False),
    ],
)
def test_lines_that_look_alike_are_named(one: str, two: str, alike: bool) -> None:
    """Two lines look alike where some timing within ± 20 % is of both: 1 s and 1.5 s are, 1 s and 1.6 s are not."""
    found = [line for line in lamp(("run", one), last=two) if "looks like line 1" in line]
    assert bool(found) is alike


def test_a_line_that_can_never_show_is_named() -> None:
    """A line is hidden where its condition implies an earlier one, or where earlier ones take everything."""
    assert lamp(("call", "dark"), ("run", "2 flashes")) == [
        "lamps.led.lines[2].when: the line can never show: wherever it holds, an earlier line holds"
    ]
    assert lamp(("run and limit open", "dark")) == [
        "lamps.led.lines[1].when: the line can never show: its condition never holds"
    ]
    assert lamp(("call", "dark"), ("not call", "2 flashes")) == [
        "lamps.led.lines[3].when: the line can never show: wherever it holds, an earlier line holds"
    ]


def test_many_inputs_are_no_reason_to_guess() -> None:
    """Where there are too many combinations to try, nothing is said."""
    wires = "\n".join(f'[inputs.w{n}]\nkind = "call"' for n in range(20))
    condition = " and ".join(f"w{n}" for n in range(20)) + " and not w0"
    assert not [line for line in advice_on(f'{wires}\n[outputs.out]\non = "{condition}"') if "never" in line]


@pytest.mark.parametrize("name", EXAMPLES)
def test_advice_on_the_examples_stands_at_a_place(name: str) -> None:
    """Advice knows file, line and column, and comes in the order of the file."""
    found = advise(read_board_text(EXAMPLES[name], "board.toml"))
    assert list(found) == sorted(found)
    assert all(str(item).startswith(f"board.toml:{item.at.line}:") for item in found)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(boards())
def test_any_valid_board_can_be_advised_on(board: Board) -> None:
    """Advice on a valid board never fails, and is the same each time."""
    assert advise(board) == advise(board)
