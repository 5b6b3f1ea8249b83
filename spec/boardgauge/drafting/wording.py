"""How each thing is asked for, and what an answer looks like.

Law of this module: words and examples only. An example is made of the names that were told already, so that it could
be typed as it stands; before there are any it takes invented ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from boardgauge.language.keys import Key

KINDS = {
    "delay": "a stretch of time that begins at an event: restart delay, start bypass, fan-off delay",
    "lockout": "latches when tripped, clears by itself or only by power loss: pressure lockout, flame failure",
    "count": "counts events, within a time or since another event: third trip within the hour",
    "accumulator": "adds up time while a condition holds: cold running time before a defrost",
    "mode": "begins and ends, with a least and a greatest stay: defrost, emergency heat",
    "sequence": "named steps, each with its time and its way out: purge, ignition, firing",
    "toggle": "one bit that flips at an event: lead and lag pump",
}
"""The seven kinds of rule, in the words of the trade."""

INPUT_KINDS = {
    "call": "a thermostat or a control asks for something: on, off",
    "signal": "any other level that is on or off",
    "switch": "a contact of a pressure, limit or float switch: open, closed",
    "link": "a jumper or a plug: fitted, open",
    "button": "pressed, released",
    "sensor": "a number: a temperature, a current",
}

SECTIONS = {
    "board": "the board",
    "inputs": "what the board reads: its input terminals",
    "outputs": "what the board drives: its output terminals",
    "rules": "what the board does: each delay, lockout and count of the manual is a rule",
    "conditions": "names for conditions that are needed more than once",
    "settings": "times that are chosen on the board, by a person or by jumpers",
    "lamps": "what its lamps show",
    "requirements": "what must never or always happen, whatever the rules say",
    "speed_ups": "pins or buttons that make its times run faster",
    "not_judged": "when nothing is expected of it",
}

WORDS = {
    "board.id": "What is the board called, in one word?",
    "board.title": "What is its full name, for people?",
    "board.source": "Which document tells what it does? Its clauses can then be cited, rule by rule.",
    "board.tolerance": "How far may its times be off, where the document gives none for a time of its own?",
    "board.responds_within": "How soon does it show what it does at once? It may take longer than a relay alone.",
    "inputs": "Which input terminals has it?",
    "outputs": "Which output terminals has it?",
    "rules": "Which rules has it? Go through the manual: each wait, ignore for, lock out, after the third is one.",
    "conditions": "Are there conditions that you would like to give a name?",
    "settings": "Are there times that are chosen on the board?",
    "lamps": "Which lamps has it?",
    "requirements": "What must hold whatever the rules say? Give each a name.",
    "speed_ups": "Is there something that makes its times run faster, for a test?",
    "not_judged.lasts": "How long after power-up do its outputs mean nothing?",
    "inputs.text": "What is it?",
    "inputs.kind": "What kind of input is it?",
    "inputs.contact": "How is it at rest, with nothing wrong?",
    "inputs.unit": "What does it measure in?",
    "inputs.accuracy": "How far may its reading be off?",
    "inputs.filter": "Which flickers of it are never seen, and which changes always?",
    "outputs.text": "What does it drive?",
    "outputs.on": "It is on exactly while what holds? Enter alone if one sentence says when it starts and another "
    "when it stops.",
    "outputs.starts": "It comes on when what holds?",
    "outputs.stops": "And stays on until what holds?",
    "outputs.lag": "How long may it take to show at the terminal?",
    "rules.kind": "What kind of rule is it?",
    "rules.steps": "What are its steps called, in order?",
    "conditions.is": "What does it stand for?",
    "settings.by": "Who chooses it?",
    "settings.positions": "What are its positions called?",
    "settings.is": "How long is it then?",
    "settings.read": "When does the board look at it?",
    "settings.factory": "Which position is it delivered in?",
    "settings.when": "Which jumpers choose the next position? Enter alone after the last one.",
    "delay.begins": "Which event sets it going?",
    "delay.lasts": "How long does it run?",
    "delay.if_begun_again": "And if it is begun again while it runs?",
    "delay.cut_by": "What cuts it short?",
    "lockout.trips": "What trips it?",
    "lockout.clears": 'What clears it? "only by power loss" makes it a hard lockout.',
    "lockout.lasts": "After which time does it clear by itself?",
    "count.counts": "Which event is counted?",
    "count.limit": "How many make it full?",
    "count.within": "Within which time?",
    "count.forgets": "What makes it forget them?",
    "accumulator.adds_while": "Time is added up while what holds?",
    "accumulator.target": "Up to which time?",
    "accumulator.resets": "What sets it back to nothing?",
    "mode.begins": "What begins it?",
    "mode.ends": "What ends it?",
    "mode.at_least": "How long does it stay at least?",
    "mode.at_most": "And at most?",
    "sequence.begins": "What starts it?",
    "sequence.ends": "What breaks it off, in any step?",
    "steps.lasts": "How long may it take?",
    "steps.until": "What makes it go on at once?",
    "steps.then": "Where does it go on to?",
    "steps.if_not": "And where if its time runs out first?",
    "toggle.flips": "Which event flips it?",
    "lamps.text": "What is it?",
    "lamps.flash": "What is one of its flashes?",
    "lamps.between_groups": "And how long is it dark between groups?",
    "lines.when": 'When does the next line show? The first line that holds is shown, the last is "otherwise".',
    "lines.shows": "What does the lamp do then?",
    "lines.means": "What does that tell a person?",
    "requirements.demands": "What does it demand?",
    "requirements.never": "What must never be?",
    "requirements.always": "What must always hold?",
    "requirements.after": "After which event?",
    "requirements.then": "What must follow?",
    "requirements.together": "Which outputs change together?",
    "requirements.within": "Within which time?",
    "speed_ups.while": "In which state of the inputs does it work?",
    "speed_ups.times_faster": "How many times faster do the times run?",
    "speed_ups.what": "The times of which rules?",
    "clause": "In which clause of the document?",
}
"""The questions; a key that has none here is asked for by its meaning, as the language has it."""


def words_for(id_: str, key: Key | None = None) -> str:
    """Give the question for an id, ``section.key``."""
    if id_ in WORDS:
        return WORDS[id_]
    assert key is not None, id_
    return f"{key.name}: {key.meaning}?"


class Names:
    """The names that were told so far, by what they are."""

    def __init__(self, inputs: Mapping[str, str], outputs: Iterable[str], rules: Mapping[str, str]) -> None:
        self.inputs = dict(inputs)
        self.outputs = list(outputs)
        self.rules = dict(rules)

    def state(self) -> str:
        """Give a condition that could be written of this board."""
        for name, kind in self.inputs.items():
            if kind in ("call", "signal"):
                return name
        for name, kind in self.inputs.items():
            if kind in _HOLDS:
                return f"{name} {_HOLDS[kind]}"
        return self.outputs[0] if self.outputs else "call"

    def trouble(self) -> str:
        """Give a condition that something is wrong, made of a switch where there is one."""
        switch = next((name for name, kind in self.inputs.items() if kind == "switch"), None)
        return f"{switch} open" if switch else f"not {self.state()}"

    def condition(self) -> str:
        """Give a condition of two parts."""
        rule = next((name for name, kind in self.rules.items() if kind in ("lockout", "delay", "mode")), None)
        trouble = self.trouble().replace(" open", " closed")
        return f"{self.state()} and not {rule}" if rule else f"{self.state()} and {trouble}"

    def event(self) -> str:
        """Give an event."""
        return f"{self.outputs[0]} ends" if self.outputs else "power_up"


_HOLDS = {"switch": "closed", "link": "fitted", "button": "pressed"}


def example_for(key: Key, names: Names) -> str:
    """Give an answer that a key of this sort could have on this board."""
    if key.words and key.takes == "word":
        return key.words[0]
    match key.name:
        case "trips":
            return f"({names.trouble()}) for 2 s"
        case "clears":
            return f"not {names.state()}"
        case "forgets" | "cut_by":
            return f"not {names.state()}"
        case "counts":
            lockout = next((name for name, kind in names.rules.items() if kind == "lockout"), None)
            return f"{lockout} begins" if lockout else names.event()
        case "never":
            return f"{names.outputs[0] if names.outputs else 'motor'} and {names.trouble()}"
        case "times_faster":
            return "60"
        case "what":
            return ", ".join(list(names.rules)[:2]) or "restart_delay"
        case "together":
            return ", ".join(names.outputs[:2]) or "contactor, fan"
    match key.takes:
        case "condition" | "condition or event" | "lamp condition":
            return names.condition()
        case "event":
            return names.event()
        case "trigger" | "trigger or words":
            return names.condition()
        case "step":
            return "end"
    return EXAMPLES.get(key.takes, "")


EXAMPLES = {
    "time": "0.3 s",
    "time or setting": "5 min, or 90 s ± 5 %",
    "time with tolerance": "90 s ± 5 %",
    "range of times": "20 ms to 100 ms",
    "tolerance": "± 10 %, or ± (4 % + 0.3 s)",
    "whole number": "3",
    "accuracy": "± 1 K",
    "unit": "°C",
    "pattern": "steady, dark, 1 s lit, 1 s dark, or 3 flashes",
    "blink": "0.3 s lit, 0.3 s dark",
    "dark part": "1.5 s dark",
    "yes or no": "true",
    "text": "in your own words",
}
