"""A question for one key of a spec.

Law of this module: the question is made of ``language.keys``, of the words of ``wording`` and of what was told so far;
which question comes when is not decided here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property

import attrs

from boardgauge.drafting.paths import names_in
from boardgauge.drafting.question import Question
from boardgauge.drafting.wording import SECTIONS, Names, example_for, words_for
from boardgauge.language.keys import NOTE_KEYS, Key

_PROPOSED = {"board.responds_within": "0.3 s", "outputs.lag": "0.1 s"}
"""Times that no real board is without. Common practice, no source: the file says that they are to be measured."""

_USUAL = {
    "inputs.kind": "call",
    "inputs.contact": "normally closed",
    "rules.kind": "delay",
    "delay.if_begun_again": "starts over",
    "settings.read": "at power-up",
    "lamps.flash": "0.3 s lit, 0.3 s dark",
    "lamps.between_groups": "1.5 s dark",
}
"""What is meant most often."""

_SELDOM = frozenset(("kept_without_power", "same_moment", "clock", "rides_through", "filter", "text"))
"""Keys of a board and of a rule that are asked for only when every key is wanted."""


class KeyQuestions:
    """Makes the questions about one board. ``every_key`` asks also for what is seldom needed."""

    def __init__(self, answers: Mapping[str, str], every_key: bool = False) -> None:
        self.answers = answers
        self.every_key = every_key

    # -- what was told -----------------------------------------------------------------------------------------------
    def told(self, id_: str) -> str:
        """Give an answer, "" where there is none."""
        return self.answers.get(id_, "")

    def listed(self, section: str) -> list[str]:
        """Give the names that were told for a section, each once."""
        return list(dict.fromkeys(names_in(self.told(section))))

    @cached_property
    def names(self) -> Names:
        """Give the names that were told so far, by what they are."""
        inputs, rules = (
            {name: self.told(f"{section}.{name}.kind") for name in self.listed(section)}
            for section in ("inputs", "rules")
        )
        return Names(inputs, self.listed("outputs"), rules)

    def seldom(self, key: Key) -> bool:
        """Tell whether a key of the board or of a rule is left out."""
        return key.name in _SELDOM and not self.every_key

    # -- questions ---------------------------------------------------------------------------------------------------
    def list_of(self, section: str, example: str, needed: bool = False) -> Question:
        """Ask for the names of a section."""
        return Question(
            section,
            words_for(section),
            example,
            None if needed else "",
            "" if needed else "none",
            heading=SECTIONS[section],
            more="Names of letters, digits and _, parted by commas.",
        )

    def plain(self, id_: str, asked_as: str, example: str, default: str | None = None, otherwise: str = "") -> Question:
        """Ask for what is no key of the language by itself."""
        return Question(id_, words_for(asked_as), example, default, otherwise, heading=SECTIONS[id_.split(".")[0]])

    def key(
        self, section: str, name: str, key: Key, default: str | None = None, otherwise: str = "", step: str = ""
    ) -> Question:
        """Ask for a key of a table; of a step of that name, or else of a row where ``name`` has one."""
        id_ = ".".join(part for part in (section, name, key.name) if part)
        kind = self.told(f"rules.{name}.kind") if section == "rules" and key.name != "kind" else ""
        row = "lines" if ".lines[" in name else section
        general = f"{'steps' if step else kind or row}.{key.name}"
        if default is None and key.need == "optional":
            default, otherwise = "", key.default or "nothing"
        usual = _PROPOSED | _USUAL
        if general in usual:
            default, otherwise = usual[general], ""
        words = words_for(general, key)
        return Question(
            id_,
            f"{step}: {words}" if step else words,
            example_for(key, self.names),
            default,
            otherwise,
            key.words if key.takes == "word" else (),
            general in _PROPOSED,
            SECTIONS[section],
        )

    def keys(self, section: str, name: str, keys: tuple[Key, ...]) -> Iterator[Question]:
        """Ask for each of some keys of a table."""
        for key in keys:
            yield self.key(section, name, key)

    def note(self, section: str, name: str, key: str, example: str = "in your own words") -> Question:
        """Ask for something that people write about a table."""
        note = next(each for each in NOTE_KEYS if each.name == key)
        return attrs.evolve(self.key(section, name, note), example=example)

    def notes(self, section: str, name: str, *, cited: bool = False) -> Iterator[Question]:
        """Ask for what people write about a table: its clause where it is cited, the rest where every key is wanted."""
        if self.every_key:
            for each in ("title", "text", "why"):
                if f"{section}.{name}.{each}" not in self.answers:
                    yield self.note(section, name, each)
        if self.every_key or (cited and self.told("board.source")):
            yield attrs.evolve(self.note(section, name, "clause", "4.2"), words=words_for("clause"))
