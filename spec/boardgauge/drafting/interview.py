"""Which questions come, one after the other.

Law of this module: what is asked next follows from the answers before it; nothing is remembered. All names are asked
for before the first expression, so that every expression can be looked at as soon as it is there.
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from boardgauge.drafting.question import Question
from boardgauge.drafting.table_questions import TableQuestions
from boardgauge.language.keys import BOARD_KEYS, SECTION_KEYS

_EXAMPLES = {"id": "tarnbeck", "title": "Tarnbeck outdoor-unit control", "source": "service manual, edition 3"}


class Interview(TableQuestions):
    """The questions about one board."""

    def asked(self) -> list[Question]:
        """Give the questions in order, up to and with the first that has no answer."""
        found = []
        for question in self._all():
            found.append(question)
            if question.id not in self.answers:
                break
        return found

    def open(self) -> Question | None:
        """Give the first question without an answer, None where all are answered."""
        asked = self.asked()
        return asked[-1] if asked and asked[-1].id not in self.answers else None

    def _all(self) -> Iterator[Question]:
        yield from self._board()
        yield self.list_of("inputs", "y, lps, hps")
        for name in self.listed("inputs"):
            yield from self.input(name)
        yield self.list_of("outputs", "contactor, fan, alarm", needed=True)
        for name in self.listed("outputs"):
            yield self.note("outputs", name, "text", "compressor contactor")
        yield self.list_of("rules", "restart_delay, lp_lockout")
        for name in self.listed("rules"):
            yield from self.kind(name)
        yield self.list_of("conditions", "hard_lockout")
        yield self.list_of("settings", "interval")
        for name in self.listed("settings"):
            yield from self.setting(name)
        for name in self.listed("conditions"):
            yield from self.keys("conditions", name, SECTION_KEYS["conditions"])
            yield from self.notes("conditions", name)
        for name in self.listed("rules"):
            yield from self.rule(name)
        for name in self.listed("outputs"):
            yield from self.output(name)
        yield self.list_of("lamps", "status")
        for name in self.listed("lamps"):
            yield from self.lamp(name)
        yield self.list_of("requirements", "no_start_while_open")
        for name in self.listed("requirements"):
            yield from self.requirement(name)
        yield self.list_of("speed_ups", "pins")
        for name in self.listed("speed_ups"):
            yield from self.keys("speed_ups", name, SECTION_KEYS["speed_ups"])
            yield from self.notes("speed_ups", name)
        lasts = "not_judged.lasts"
        yield self.plain(lasts, lasts, "0.25 s ± 10 %", "", "they mean something at once")

    def _board(self) -> Iterator[Question]:
        for key in BOARD_KEYS:
            if self.seldom(key):
                continue
            if key.name == "tolerance":
                yield self.key("board", "", key, default="", otherwise="each time has its own")
            else:
                question = self.key("board", "", key)
                yield attrs.evolve(question, example=_EXAMPLES.get(key.name, question.example))
