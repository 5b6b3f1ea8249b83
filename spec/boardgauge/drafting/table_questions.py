"""The questions about one table of a spec: an input, a setting, a rule, an output, a lamp, a requirement.

Law of this module: one generator a table. What it asks next is decided when it comes, from the answers by then.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import attrs

from boardgauge.drafting.key_questions import KeyQuestions
from boardgauge.drafting.paths import names_in
from boardgauge.drafting.question import Question
from boardgauge.drafting.wording import INPUT_KINDS, KINDS
from boardgauge.language.keys import (
    INPUT_KEYS,
    LAMP_KEYS,
    LINE_KEYS,
    OTHERWISE,
    OUTPUT_KEYS,
    POSITION_KEYS,
    REQUIREMENT_KEYS,
    RULE_KEYS,
    RULE_KIND,
    SETTING_KEYS,
    STEP_KEYS,
    Key,
)

DEMANDS = {
    "never": ("never",),
    "always": ("always",),
    "then": ("after", "then", "within"),
    "together": ("together", "within"),
}
"""What a requirement can demand, by its leading key, and the keys that belong to it."""

_DEMANDS_IN_WORDS = {
    "never": "a condition never holds, or an event never happens",
    "always": "a condition always holds",
    "then": "an event is followed by another within a time",
    "together": "outputs change within a time of each other",
}


class TableQuestions(KeyQuestions):
    """Asks about tables."""

    def input(self, name: str) -> Iterator[Question]:
        """Ask about an input."""
        keys = _by_name(INPUT_KEYS)
        yield self.note("inputs", name, "text", "low-pressure switch")
        yield attrs.evolve(self.key("inputs", name, keys["kind"]), more=_listed(INPUT_KINDS))
        kind = self.told(f"inputs.{name}.kind")
        if kind == "switch":
            yield self.key("inputs", name, keys["contact"])
        if kind == "sensor":
            yield self.key("inputs", name, keys["unit"])
            yield self.key("inputs", name, keys["accuracy"], default="", otherwise="± 0")
            if self.every_key:
                yield self.key("inputs", name, keys["curve"], default="", otherwise="none")
        if self.every_key:
            yield self.key("inputs", name, keys["filter"])
            yield self.key("inputs", name, keys["responds_within"])
        yield from self.notes("inputs", name)

    def kind(self, name: str) -> Iterator[Question]:
        """Ask of which kind a rule is, and for the names that it brings."""
        yield attrs.evolve(self.key("rules", name, RULE_KIND), more=_listed(KINDS))
        if self.told(f"rules.{name}.kind") == "sequence":
            yield self.plain(f"rules.{name}.steps", "rules.steps", "purge, ignition, firing")

    def setting(self, name: str) -> Iterator[Question]:
        """Ask about a setting."""
        id_ = f"settings.{name}"
        by = self.plain(f"{id_}.by", "settings.by", "a person", "a person")
        yield attrs.evolve(by, choices=("a person", "jumpers"))
        keys = _by_name((*SETTING_KEYS, *POSITION_KEYS))
        # Before the positions: a setting that is told so far can be looked at as a whole.
        yield self.key("settings", name, keys["read"])
        if self.told(f"{id_}.by") == "jumpers":
            link = next((each for each, kind in self.names.inputs.items() if kind == "link"), "j0")
            row = 1
            while True:
                at = f"{name}.positions[{row}]"
                when = f"settings.{at}.when"
                yield self.plain(when, "settings.when", f"{link} fitted", None if row == 1 else "")
                if not self.told(when):
                    break
                yield self.key("settings", at, keys["is"])
                row += 1
        else:
            yield self.plain(f"{id_}.positions", "settings.positions", "short, long")
            positions = names_in(self.told(f"{id_}.positions"))
            for row, position in enumerate(positions, start=1):
                question = self.key("settings", f"{name}.positions[{row}]", keys["is"])
                yield attrs.evolve(question, words=f"How long is {position!r}?")
            factory = attrs.evolve(self.key("settings", name, keys["factory"]), choices=tuple(positions))
            yield attrs.evolve(factory, example=next(iter(positions), ""))
        yield from self.notes("settings", name)

    def rule(self, name: str) -> Iterator[Question]:
        """Ask about a rule of which the kind is known."""
        for key in RULE_KEYS.get(self.told(f"rules.{name}.kind"), ()):
            if key.name == "if_begun_again" and self.told(f"rules.{name}.begins") == "power_up":
                continue
            if key.name == "steps":
                yield from self._steps(name)
            elif not self.seldom(key):
                yield self.key("rules", name, key)
        yield from self.notes("rules", name, cited=True)

    def _steps(self, name: str) -> Iterator[Question]:
        keys = _by_name(STEP_KEYS)
        for row, step in enumerate(names_in(self.told(f"rules.{name}.steps")), start=1):
            at = f"{name}.steps[{row}]"
            for each in ("lasts", "until"):
                yield self.key("rules", at, keys[each], step=step)
            ways_out = [self.told(f"rules.{at}.{each}") for each in ("lasts", "until")]
            if any(ways_out):
                yield self.key("rules", at, keys["then"], step=step)
            if all(ways_out):
                yield self.key("rules", at, keys["if_not"], step=step)

    def output(self, name: str) -> Iterator[Question]:
        """Ask what an output needs to be on."""
        keys = _by_name(OUTPUT_KEYS)
        yield self.key("outputs", name, keys["on"], default="", otherwise="starts and stops")
        if not self.told(f"outputs.{name}.on"):
            yield self.key("outputs", name, keys["starts"])
            yield self.key("outputs", name, keys["stops"])
        yield self.key("outputs", name, keys["lag"])
        if self.every_key:
            yield self.key("outputs", name, keys["contact"])
        yield from self.notes("outputs", name, cited=True)

    def lamp(self, name: str) -> Iterator[Question]:
        """Ask about a lamp, line by line."""
        yield self.note("lamps", name, "text", "status lamp")
        keys = _by_name((*LAMP_KEYS, *LINE_KEYS))
        row, flashes, last = 0, False, False
        while not last:
            row += 1
            at = f"{name}.lines[{row}]"
            yield self.key("lamps", at, keys["when"], default=OTHERWISE)
            yield self.key("lamps", at, keys["shows"])
            yield attrs.evolve(self.key("lamps", at, keys["means"]), example="standby")
            if self.every_key:
                yield self.key("lamps", at, keys["do"])
                yield self.key("lamps", at, keys["clause"])
            flashes = flashes or "flash" in self.told(f"lamps.{at}.shows")
            last = self.told(f"lamps.{at}.when") in ("", OTHERWISE)
        for each in ("flash", "between_groups"):
            if flashes:
                yield self.key("lamps", name, keys[each])
            elif self.every_key:
                yield attrs.evolve(self.key("lamps", name, keys[each]), default="", otherwise="nothing")
        if self.every_key:
            for each in ("tolerance", "changes_within", "not_judged_for"):
                yield self.key("lamps", name, keys[each])
        yield from self.notes("lamps", name)

    def requirement(self, name: str) -> Iterator[Question]:
        """Ask what must never or always happen."""
        id_ = f"requirements.{name}.demands"
        demands = self.plain(id_, "requirements.demands", "never", "never")
        yield attrs.evolve(demands, choices=tuple(DEMANDS), more=_listed(_DEMANDS_IN_WORDS))
        keys = _by_name(REQUIREMENT_KEYS)
        for each in DEMANDS.get(self.told(id_), ()):
            yield self.key("requirements", name, keys[each])
        if self.every_key:
            if self.told(id_) == "together":
                yield self.key("requirements", name, keys["after"], default="", otherwise="any")
            yield self.key("requirements", name, keys["except_while"])
        yield from self.notes("requirements", name, cited=True)


def _by_name(keys: tuple[Key, ...]) -> dict[str, Key]:
    return {key.name: key for key in keys}


def _listed(meanings: Mapping[str, str]) -> str:
    width = max(map(len, meanings))
    return "\n".join(f"{name:<{width}}  {meaning}" for name, meaning in meanings.items())
