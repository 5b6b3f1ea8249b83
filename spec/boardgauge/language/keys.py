"""The tables of a board spec and their keys.

Law of this module: this is the only list of keys. The reader, the JSON Schema and the reference page of the language
read it; no key is known anywhere else.
"""

from __future__ import annotations

from typing import Literal

from attrs import frozen

Takes = Literal[
    "text",
    "version",
    "file name",
    "word",
    "yes or no",
    "whole number",
    "time",
    "time with tolerance",
    "time or setting",
    "range of times",
    "tolerance",
    "unit",
    "accuracy",
    "condition",
    "event",
    "trigger",
    "trigger or words",
    "condition or event",
    "names",
    "names or words",
    "step",
    "pattern",
    "blink",
    "dark part",
    "positions",
    "steps",
    "lines",
    "lamp condition",
]
"""What stands at a key."""

Need = Literal["required", "optional", "depends"]
"""``depends``: required or refused according to other keys of its table; the meaning says how."""


@frozen
class Key:
    """One key of a table: what it takes, whether it must stand there, and what it means."""

    name: str
    takes: Takes
    need: Need
    meaning: str
    default: str | None = None
    words: tuple[str, ...] = ()


def _must(name: str, takes: Takes, meaning: str, words: tuple[str, ...] = ()) -> Key:
    return Key(name, takes, "required", meaning, words=words)


def _may(name: str, takes: Takes, meaning: str, default: str | None = None, words: tuple[str, ...] = ()) -> Key:
    return Key(name, takes, "optional", meaning, default, words)


def _depends(name: str, takes: Takes, meaning: str, words: tuple[str, ...] = ()) -> Key:
    return Key(name, takes, "depends", meaning, words=words)


CONTACTS = ("normally open", "normally closed")
HARD = "only by power loss"
OTHERWISE = "otherwise"
ALL_OUTPUTS = "all outputs"
END = "end"

NOTE_KEYS = (
    _may("title", "text", "a heading"),
    _may("text", "text", "what people should know about it"),
    _may("why", "text", "why the board does so"),
    _may("clause", "text", "the clause of the document given as the board's source"),
)

FILE_KEYS = (
    _must("language", "version", "the version of the language: 1"),
    _may("base", "file name", "this file is a variant of that one, which stands in the same folder"),
)

BOARD_KEYS = (
    _must("id", "text", "the short name of the board"),
    _must("title", "text", "the name of the board, for people"),
    _may("source", "text", "the document that the clause keys cite"),
    _may("text", "text", "what people should know about the board"),
    _depends("tolerance", "tolerance", "of every time that states none of its own; required if there is one"),
    _may("responds_within", "time", "an input's change shows its last consequence no later than this", "0 s"),
    _may(
        "filter", "range of times", "shorter changes are never seen, longer always, between them either", "0 ms to 0 ms"
    ),
    _may("same_moment", "time", "input changes closer than this are taken as one moment", "0 s"),
    _may(
        "clock", "word", "shared: one percentage error for all times of a run", "independent", ("independent", "shared")
    ),
    _may(
        "rides_through", "range of times", "supply gaps that do nothing, and that are a loss of power", "0 ms to 0 ms"
    ),
)

INPUT_KEYS = (
    _must("kind", "word", "fixes the words for its states", ("call", "signal", "switch", "link", "button", "sensor")),
    _depends("contact", "word", "the resting state of a switch; required there", CONTACTS),
    _depends("unit", "unit", "what a sensor measures in; required there"),
    _depends("accuracy", "accuracy", "how far a sensor may be off, on each limit by itself"),
    _depends("curve", "text", "the resistance curve of a sensor of temperature: its name, or its file"),
    _may("filter", "range of times", "as for the board", "the board's"),
    _may("responds_within", "time", "as for the board", "the board's"),
)

SETTING_KEYS = (
    _must("positions", "positions", "what can be chosen"),
    _must("read", "word", "when it is looked at", ("at power-up", "always")),
    _depends("factory", "text", "the position taken when nothing says otherwise; required where positions have names"),
)

POSITION_KEYS = (
    _depends("name", "text", "the position's name: a person chooses it"),
    _depends("when", "condition", "the state of the inputs that chooses it"),
    _must("is", "time with tolerance", "the time it stands for"),
)

CONDITION_KEYS = (_must("is", "condition", "what the name stands for"),)

_KEPT = _may("kept_without_power", "yes or no", "its place is kept through a loss of power", "false")

RULE_KEYS: dict[str, tuple[Key, ...]] = {
    "delay": (
        _must("begins", "event", "sets it going"),
        _must("lasts", "time or setting", "how long it runs"),
        _depends(
            "if_begun_again",
            "word",
            "what happens when it is begun again while it runs; required unless it begins with power_up alone",
            ("starts over", "runs on"),
        ),
        _may("cut_by", "trigger", "ends it early; it has then ended, not expired", "never"),
        _KEPT,
    ),
    "lockout": (
        _must("trips", "trigger", "locks out"),
        _must("clears", "trigger or words", "lets go again; the words make it a hard lockout", (HARD,)),
        _may("lasts", "time or setting", "lets go by itself after this", "for ever"),
        _KEPT,
    ),
    "count": (
        _must("counts", "event", "what is counted"),
        _must("limit", "whole number", "reached from here on"),
        _may("within", "time or setting", "older events no longer count", "for ever"),
        _may("forgets", "trigger", "back to none", "only loss of power"),
        _KEPT,
    ),
    "accumulator": (
        _must("adds_while", "condition", "time is added up while this holds"),
        _must("target", "time or setting", "reached from here until it resets"),
        _may("resets", "trigger", "back to zero", "only loss of power"),
        _KEPT,
    ),
    "mode": (
        _must("begins", "trigger", "into the mode"),
        _must("ends", "trigger", "out of the mode"),
        _may("at_least", "time or setting", "its end is overlooked so long", "0 s"),
        _may("at_most", "time or setting", "ends by itself then", "for ever"),
        _KEPT,
    ),
    "sequence": (
        _must("begins", "trigger", "into the first step"),
        _must("ends", "trigger", "out of any step"),
        _must("steps", "steps", "the steps, in order"),
        _KEPT,
    ),
    "toggle": (
        _must("flips", "event", "changes it over; it starts from off"),
        _KEPT,
    ),
}

RULE_KIND = _must("kind", "word", "what sort of rule it is", tuple(RULE_KEYS))

STEP_KEYS = (
    _must("name", "text", "usable like a mode"),
    _may("lasts", "time or setting", "the longest stay; without until, the exact stay", "for ever"),
    _may("until", "condition", "goes on as soon as it holds", "never"),
    _may("then", "step", "where it goes on to", "the next step; after the last, end"),
    _depends("if_not", "step", "where it goes if its time runs out first; required with lasts and until"),
)

OUTPUT_KEYS = (
    _depends("on", "condition", "on exactly while this holds; this, or starts and stops"),
    _depends("starts", "condition", "comes on when this holds"),
    _depends("stops", "condition", "stays on until this holds"),
    _may("contact", "word", "the relay contact used; on is always the coil", "normally open", CONTACTS),
    _may("lag", "time", "shows at the terminal up to this much later", "0 s"),
)

LAMP_KEYS = (
    _must("lines", "lines", "the first line that holds is shown"),
    _depends("flash", "blink", "one flash of a group; required where a line shows flashes"),
    _depends("between_groups", "dark part", "the dark between groups; required where a line shows flashes"),
    _may("tolerance", "tolerance", "of the lit and dark parts", "the board's"),
    _may("changes_within", "time", "how soon the pattern follows a change of line", "responds_within"),
    _may("not_judged_for", "time", "how long the lamp is no evidence after a change of line", "0 s"),
)

LINE_KEYS = (
    _must("when", "lamp condition", "when the line holds; the last line is otherwise", (OTHERWISE,)),
    _must("shows", "pattern", "what the lamp does"),
    _may("means", "text", "what it tells a person"),
    _may("do", "text", "what a person does about it"),
    _may("clause", "text", "the clause of the document"),
)

REQUIREMENT_KEYS = (
    _depends("never", "condition or event", "never holds, never happens"),
    _depends("always", "condition", "holds in every settled picture"),
    _depends("after", "event", "each of these is followed by then"),
    _depends("then", "trigger", "what follows"),
    _depends("together", "names", "outputs that change within a time of each other"),
    _depends("within", "time", "the time of then or of together"),
    _may("except_while", "condition", "not watched then", "never"),
)

SPEED_UP_KEYS = (
    _must("while", "condition", "the state of the inputs in which it works"),
    _must("times_faster", "whole number", "how many times faster"),
    _must("what", "names", "the rules whose times run faster"),
)

NOT_JUDGED_KEYS = (
    _must("signals", "names or words", "outputs and lamps", (ALL_OUTPUTS,)),
    _must("after", "event", "when the stretch begins"),
    _must("lasts", "time with tolerance", "how long no verdict is given"),
    _may("clause", "text", "the clause of the document"),
)

SECTIONS = ("inputs", "settings", "conditions", "rules", "outputs", "lamps", "requirements", "speed_ups")
"""The tables of tables, ``[section.X]``."""

SECTION_KEYS: dict[str, tuple[Key, ...]] = {
    "inputs": INPUT_KEYS,
    "settings": SETTING_KEYS,
    "conditions": CONDITION_KEYS,
    "outputs": OUTPUT_KEYS,
    "lamps": LAMP_KEYS,
    "requirements": REQUIREMENT_KEYS,
    "speed_ups": SPEED_UP_KEYS,
}
"""The keys of each of them but ``rules``, whose keys hang on the kind."""

VARIANT_TABLES = ("remove", "change", "add")

RESERVED = frozenset(
    [
        "and",
        "or",
        "not",
        "for",
        "while",
        "until",
        "less",
        "than",
        "after",
        "begins",
        "ends",
        "changes",
        "opens",
        "closes",
        "expires",
        "power_up",
        "reached",
        "on",
        "off",
        "open",
        "closed",
        "fitted",
        "pressed",
        "released",
        "exactly",
        "to",
        "otherwise",
        "end",
        "power",
    ]
)
"""Words that cannot be names. ``power`` is the supply's own column in a recording."""
