"""One fault in a spec is told as one problem, at its place; several are told at once."""

from __future__ import annotations

import pytest

from boardgauge.language import UnusableSpec, read_board_text
from language.problems import place, problems_of
from language_examples import SMALL


def test_all_problems_of_a_file_are_told_at_once() -> None:
    """One run finds what is wrong in every table, in the order of the file."""
    text = (
        SMALL.replace('kind = "link"', 'kind = "lnik"').replace("limit = 3", "limit = 0").replace("not call", "not cal")
    )
    text = text.replace('shows = "steady"', 'shows = "stedy"')
    lines = problems_of(text)
    assert len(lines) == 5
    assert [line.split(": ")[1] for line in lines] == [
        "inputs.jumper.kind",
        "rules.trip.clears",
        "rules.trips.limit",
        "rules.start.ends",
        "lamps.led.lines[2].shows",
    ]


ONE_FAULT = {
    "unknown-key": ('clears = "not call"', 'clear = "not call"', "clear =", "did you mean 'clears'"),
    "unknown-table": ("[lamps.led]", "[lamp.led]", "lamp.led", "did you mean 'lamps'"),
    "wrong-language": ("language = 1", "language = 2", "2", "version 1"),
    "missing-key": ('target = "30 min"\n', "", "cold_time]", "required"),
    "wrong-type": ("limit = 3", 'limit = "3"', '"3"', "a text stands where a whole number is needed"),
    "yes-for-a-number": ("limit = 3", "limit = true", "true", "true stands where a whole number is needed"),
    "limit-below-one": ("limit = 3", "limit = 0", "0\n\n[rules.cold", "not between 1"),
    "number-for-a-time": ('lasts = "5 s"', "lasts = 5", "5, ".strip(", ") + " }", "a whole number stands where a text"),
    "no-unit": ('lasts = "5 s"', 'lasts = "5"', '" },\n  { name = "main"', "the unit is missing"),
    "wrong-unit-of-time": ('"5 s"', '"5 sec"', "sec", "'sec' is no unit of time"),
    "nothing-of-a-time": ('"5 s"', '"0 s"', '"0 s"', "a time of nothing"),
    "wrong-unit": ("coil < -2 °C", "coil < -2 bar", "coil < -2", "'bar' does not go with the unit"),
    "word-of-another-kind": (
        "limit open and run",
        "limit pressed and run",
        "limit pressed",
        "a switch is never pressed",
    ),
    "unknown-name": ("wanted and main", "wantd and main", "wantd and", "did you mean 'wanted'"),
    "bare-switch": ("limit open and run", "limit and run", "limit and", "a switch is not on or off"),
    "bare-button": ('clears = "not call"', 'clears = "button"', 'button"\n\n[rules.trips', "a button is not on or off"),
    "bare-sensor": ("run and coil < -2 °C", "run and coil", 'coil"', "has numbers, not states"),
    "bare-count": ("not trips reached", "not trips", 'trips"', "reached or not"),
    "bare-setting": ("thaw and turn", "thaw and wait_time", 'wait_time"\n\n[lamps', "is a setting"),
    "bare-lamp": ("thaw and turn", "thaw and led", 'led"\n\n[lamps', "is a lamp"),
    "state-of-a-rule": ("thaw and turn", "thaw off and turn", "thaw off", "only an input has states"),
    "reached-of-a-mode": ("thaw and turn", "thaw reached and turn", "thaw reached", "is for a count or an accumulator"),
    "expires-of-a-toggle": ("trip begins", "turn expires", "turn expires", "a time of its own"),
    "expires-without-lasts": ("trip begins", "trip expires", "trip expires", "'trip' has no lasts"),
    "expires-without-at-most": ("trip begins", "thaw expires", "thaw expires", "'thaw' has no at_most"),
    "expires-of-an-open-step": ("trip begins", "main expires", "main expires", "'main' has no lasts"),
    "opens-of-a-call": ("trip begins", "call opens", "call opens", "is for a switch or a link"),
    "begins-of-a-switch": ("trip begins", "limit begins", "limit begins", "limit opens"),
    "begins-of-a-count": ('flips = "run begins"', 'flips = "trips begins"', "trips begins", "(trips reached) begins"),
    "condition-for-an-event": ('counts = "trip begins"', 'counts = "trip"', 'trip"\nlimit', "a condition stands where"),
    "event-for-a-condition": ('on = "thaw and turn"', 'on = "thaw begins"', "thaw begins", "an event stands where"),
    "two-readings": ("thaw and turn", "thaw and turn or call", "or call", "as it is meant"),
    "less-than-in-a-rule": (
        "trip begins",
        "trip begins less than 2 s after run ends",
        "trip begins",
        "requirements only",
    ),
    "name-twice": ("[conditions]", '[conditions]\nturn = { is = "call" }', "turn = {", "taken by rules.turn"),
    "step-name-taken": ('name = "pre"', 'name = "trip"', '"trip", lasts', "taken by rules.trip"),
    "capitals-only": ("[conditions]", '[conditions]\nTurn = { is = "call" }', "Turn = {", "in capital letters only"),
    "word-as-a-name": (
        "[conditions]",
        '[conditions]\nwhile = { is = "call" }',
        "while = {",
        "is a word of the language",
    ),
    "no-name": ("[conditions]", '[conditions]\n2nd = { is = "call" }', "2nd = {", "is no name"),
    "circle": ('is = "call and not wait"', 'is = "call and not run"', '"call and not run"', "wanted -> run -> wanted"),
    "no-such-position": ('factory = "30"', 'factory = "31"', '"31"', "there is no position '31'"),
    "position-twice": ('name = "60"', 'name = "30"', '"30", is = "60 s"', "two positions '30'"),
    "no-such-setting": ('lasts = "wait_time"', 'lasts = "wait_tim"', '"wait_tim"', "did you mean 'wait_time'"),
    "rule-for-a-setting": ('lasts = "wait_time"', 'lasts = "turn"', '"turn"', "'turn' is no setting"),
    "no-such-step": ('then = "end"', 'then = "prep"', '"prep"', "the sequence has no step 'prep'"),
    "if-not-missing": (
        'lasts = "5 s"',
        'lasts = "5 s", until = "call"',
        '{ name = "pre"',
        "when its time runs out first",
    ),
    "if-not-too-much": ('lasts = "5 s"', 'lasts = "5 s", if_not = "end"', "if_not", "both lasts and until"),
    "begun-again-missing": ('if_begun_again = "starts over"\n', "", "wait]\nkind", "starts over"),
    "contact-missing": (', contact = "normally closed"', "", "limit = {", "a switch rests"),
    "contact-too-much": ('kind = "call"', 'kind = "call", contact = "normally open"', "contact", "only a switch has"),
    "sensor-without-unit": (', unit = "°C"', "", "coil = {", "what it measures in"),
    "unit-too-much": ('kind = "call"', 'kind = "call", unit = "V"', 'unit = "V"', "only a sensor has a unit"),
    "on-and-starts": ('on = "thaw and turn"', 'on = "thaw"\nstarts = "turn"', "starts =", "not both"),
    "starts-alone": ('on = "thaw and turn"', 'starts = "thaw and turn"', "heater]", "belong together"),
    "no-otherwise": ('when = "otherwise"', 'when = "call"', '"call", shows', "the last line shows when no other does"),
    "otherwise-first": ('when = "trip"', 'when = "otherwise"', '"otherwise", shows = "1 s', "for the last line"),
    "flash-missing": ('shows = "1 s lit, 1 s dark"', 'shows = "3 flashes"', "led]", "what one flash is"),
    "bad-pattern": ('shows = "steady"', 'shows = "on"', 'on" } ]', "does not begin with a number"),
    "two-tolerances": ('"5 s"', '"5 s ± 4 % ± 0.3 s"', '± 0.3 s"', "add them, ± (4 % + 0.3 s)"),
    "sequence-without-steps": (
        'steps = [\n  { name = "pre", lasts = "5 s" },\n  { name = "main", until = "limit open", then = "end" },\n]',
        "steps = []",
        "[]",
        "a list of tables is needed",
    ),
    "board-id": ('id = "small"', 'id = "../small"', '"../small"', "used in file names"),
    "kind-missing": ('kind = "toggle"\n', "", "turn]\nflips", "required"),
    "unknown-kind": ('kind = "toggle"', 'kind = "latch"', '"latch"', "is not one of its words"),
}


@pytest.mark.parametrize("fault", ONE_FAULT)
def test_one_fault_gives_its_message_at_its_place(fault: str) -> None:
    """Each fault is named where it stands, down to the column inside an expression."""
    old, new, where, said = ONE_FAULT[fault]
    assert old in SMALL
    text = SMALL.replace(old, new, 1)
    with pytest.raises(UnusableSpec) as caught:
        read_board_text(text, "board.toml")
    found = [problem for problem in caught.value.problems if said in str(problem)]
    assert found, str(caught.value)
    assert (found[0].at.line, found[0].at.column) == place(text, where), str(found[0])


def test_no_tolerance_anywhere_is_a_problem() -> None:
    """A time that states none needs one of the board."""
    lines = problems_of(SMALL.replace('tolerance = "± 5 %"\n', ""))
    assert any("rules.cold_time.target: the time has no tolerance" in line for line in lines)
    assert any("lamps.led.tolerance" in line for line in lines)


APPENDED: dict[str, tuple[str, str]] = {
    "state-of-a-count": ('[outputs.o]\non = "trips on"', "which is reached or not"),
    "comparison-of-a-call": ('[outputs.o]\non = "call > 3 V"', "only a sensor is compared"),
    "limits-overlap": ('[outputs.o]\non = "coil > 3 °C until < 4 °C"', "the limits overlap"),
    "limits-meet": ('[outputs.o]\non = "coil >= 3 °C until <= 3 °C"', "the limits overlap"),
    "expires-of-a-switch": ('[rules.t]\nkind = "toggle"\nflips = "limit expires"', '"limit opens", "limit closes"'),
    "expires-of-a-sensor": ('[rules.t]\nkind = "toggle"\nflips = "coil expires"', "what has a time of its own"),
    "prose-without-end": (f'[outputs.o]\non = "call"\nwhy = "{"x" * 20_001}"', "longer than 20000"),
    "unit-of-nothing": ('[inputs.p]\nkind = "sensor"\nunit = " "', "the unit is empty"),
    "power-up-as-two-words": ('[rules.t]\nkind = "toggle"\nflips = "power up"', "did you mean 'power_up'?"),
    "power-up-as-one-word": (
        '[rules.t]\nkind = "delay"\nbegins = "powerup"\nlasts = "1 s"\nif_begun_again = "runs on"',
        "the return of the supply is one word; did you mean 'power_up'?",
    ),
    "power-up-as-a-name": ('[outputs.o]\non = "poweru"', "nothing called 'poweru'; did you mean 'power_up'?"),
    "power-loss-misspelt": (
        '[rules.t]\nkind = "lockout"\ntrips = "call"\nclears = "only by power los"',
        "'only by power los' is no trigger; did you mean 'only by power loss'?",
    ),
    "power-loss-alone": (
        '[rules.t]\nkind = "lockout"\ntrips = "call"\nclears = "power loss"',
        "did you mean 'only by power loss'?",
    ),
    "text-for-a-yes": ('[rules.t]\nkind = "toggle"\nflips = "power_up"\nkept_without_power = "yes"', "true or false"),
    "no-list-of-names": ('[speed_ups.f]\nwhile = "call"\ntimes_faster = 2\nwhat = "wait"', "a list of names is needed"),
    "rows-without-end": (
        "[lamps.l]\nlines = [" + "{when = 'call', shows = 'dark'}, " * 257 + "]",
        "more than 256 tables",
    ),
    "clears-of-a-number": ('[rules.l]\nkind = "lockout"\ntrips = "call"\nclears = 3', "only by power loss"),
    "when-of-a-number": ('[lamps.l]\nlines = [ { when = 3, shows = "dark" } ]', '"otherwise"'),
    "setting-by-until": (
        '[settings.t]\nread = "always"\n'
        'positions = [ { when = "coil > 3 °C until < 2 °C", is = "5 s" }, { when = "coil < 2 °C", is = "9 s" } ]',
        "remembers which limit was passed last",
    ),
    "setting-by-a-count": (
        '[settings.t]\nread = "always"\npositions = [ { when = "trips reached", is = "5 s" } ]',
        "'trips' is no input",
    ),
    "setting-with-a-gap-of-a-sensor": (
        '[settings.t]\nread = "always"\n'
        'positions = [ { when = "coil > 3 °C", is = "5 s" }, { when = "coil < 3 °C", is = "9 s" } ]',
        "no position is chosen with coil at 3",
    ),
    "speed-up-of-nothing": ('[speed_ups.f]\nwhile = "jumper fitted"\ntimes_faster = 60\nwhat = ["wiat"]', "'wait'"),
    "speed-up-of-a-toggle": (
        '[speed_ups.f]\nwhile = "jumper fitted"\ntimes_faster = 60\nwhat = ["turn"]',
        "no time of its own",
    ),
    "speed-up-of-an-output": (
        '[speed_ups.f]\nwhile = "jumper fitted"\ntimes_faster = 60\nwhat = ["run"]',
        "not a rule",
    ),
    "speed-up-by-a-rule": ('[speed_ups.f]\nwhile = "trip"\ntimes_faster = 60\nwhat = ["wait"]', "hang on inputs only"),
    "speed-up-by-a-name": (
        '[speed_ups.f]\nwhile = "wanted"\ntimes_faster = 6\nwhat = ["wait"]',
        "'wanted' hangs on more",
    ),
    "speed-up-by-for": (
        '[speed_ups.f]\nwhile = "call for 2 s"\ntimes_faster = 6\nwhat = ["wait"]',
        "remembers since when",
    ),
    "speed-up-by-one": ('[speed_ups.f]\nwhile = "call"\ntimes_faster = 1\nwhat = ["wait"]', "not between 2"),
    "setting-gap": (
        '[settings.t]\nread = "always"\n'
        'positions = [ { when = "jumper open and call", is = "5 s" }, { when = "jumper fitted", is = "9 s" } ]',
        "no position is chosen with jumper open, call off",
    ),
    "setting-overlap": (
        '[settings.t]\nread = "always"\n'
        'positions = [ { when = "jumper open", is = "5 s" }, { when = "jumper fitted or call", is = "9 s" } ]',
        "positions 1 and 2 are both chosen with jumper open, call on",
    ),
    "setting-by-a-rule": (
        '[settings.t]\nread = "always"\n'
        'positions = [ { when = "trip", is = "5 s" }, { when = "not trip", is = "9 s" } ]',
        "a setting may hang on inputs only",
    ),
    "setting-of-both": (
        '[settings.t]\nread = "always"\npositions = [ { when = "call", is = "5 s" }, { name = "x", is = "9 s" } ]',
        "either every position has a name",
    ),
    "factory-missing": ('[settings.t]\nread = "always"\npositions = [ { name = "x", is = "9 s" } ]', "factory"),
    "requirement-of-nothing": ('[requirements.r]\nwhy = "?"', "demands nothing"),
    "requirement-of-two": ('[requirements.r]\nnever = "run"\nalways = "call"', "does not go with never"),
    "requirement-half": ('[requirements.r]\nafter = "run begins"\nthen = "call"', "it goes with then"),
    "together-alone": ('[requirements.r]\ntogether = ["run"]\nwithin = "1 s"', "two outputs or more"),
    "together-of-a-rule": ('[requirements.r]\ntogether = ["run", "wait"]\nwithin = "1 s"', "not an output"),
    "not-judged-of-nothing": ('[[not_judged]]\nsignals = ["rnu"]\nafter = "power_up"\nlasts = "1 s"', "'run'"),
    "not-judged-words": ('[[not_judged]]\nsignals = "all"\nafter = "power_up"\nlasts = "1 s"', "all outputs"),
    "stay-too-long": (
        '[rules.m]\nkind = "mode"\nbegins = "call"\nends = "not call"\nat_least = "9 s"\nat_most = "5 s"',
        "longer than the greatest",
    ),
    "accuracy-of-another-unit": ('[inputs.p]\nkind = "sensor"\nunit = "bar"\naccuracy = "± 1 K"', "'K' does not go"),
    "range-backwards": ('[inputs.p]\nkind = "call"\nfilter = "2 s to 1 s"', "the lesser"),
    "self": ('[outputs.o]\non = "not o"', "worked out from itself"),
    "variant-table-without-base": ('[change.rules.wait]\nlasts = "5 s"', "names no base"),
    "list-of-names-twice": (
        '[[not_judged]]\nsignals = ["run", "run"]\nafter = "power_up"\nlasts = "1 s"',
        "stands twice",
    ),
    "table-for-a-list": ('[not_judged]\nsignals = ["run"]', "not_judged is a list of tables"),
    "text-for-a-table": ('[inputs]\nx = "call"', "this stands twice"),
}


@pytest.mark.parametrize("fault", APPENDED)
def test_a_table_with_a_fault_is_refused(fault: str) -> None:
    """Each fault of a table added to a good board is named."""
    table, said = APPENDED[fault]
    lines = problems_of(SMALL + "\n" + table + "\n")
    assert any(said in line for line in lines), lines
