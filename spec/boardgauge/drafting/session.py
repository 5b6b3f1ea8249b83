"""An interview on its way: what was answered, what was answered before, and what stands against an answer.

Law of this module: an answer that the language refuses is not taken; the problems are the reader's own. Going back
keeps the later answers, to be proposed again when their questions come.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from attrs import define, field

from boardgauge.drafting.interview import Interview
from boardgauge.drafting.paths import names_in, spec_of
from boardgauge.drafting.question import Question
from boardgauge.language.model import NOWHERE
from boardgauge.language.problems import Problem, UnusableSpec, nearest_of
from boardgauge.language.toml_writer import key, pairs

FILE = "the draft"


@define
class Session:
    """The answers so far. ``given`` are those told beforehand; ``before`` those that were gone back from."""

    every_key: bool = False
    answers: dict[str, str] = field(factory=dict)
    given: dict[str, str] = field(factory=dict)
    before: dict[str, str] = field(factory=dict)
    _looked_at: dict[str, tuple[Problem, ...]] = field(factory=dict, init=False, repr=False, eq=False)

    def open(self) -> Question | None:
        """Give the question to be answered next, None where there is none left."""
        return Interview(self.answers, self.every_key).open()

    def refusals(self, question: Question, text: str) -> tuple[Problem, ...]:
        """Give what stands against an answer: what the language says of it, and of answers that it now spoils."""
        if question.choices and text not in question.choices and text != question.default:
            expected = "one of " + ", ".join(question.choices)
            near = nearest_of(text, question.choices)
            return (Problem(NOWHERE, question.id, f"{text!r} is not one of them", expected, near),)
        if question.default is None and not text:
            return (Problem(NOWHERE, question.id, "an answer is needed", f"one such as {question.example}"),)
        answers = {**self.answers, question.id: text}
        # What is left out is missed by the reader wherever something else may yet stand for it.
        own = {question.id} if text else set()
        if "." not in question.id:
            own.update(f"{question.id}.{name}" for name in names_in(text))
        if ".positions[" in question.id and not text:
            own.add(question.id.partition("[")[0])
        known = {(problem.key, problem.message) for problem in self._problems(self.answers)}
        row = re.compile(re.escape(question.id) + r"\[\d+\](\.name)?")
        found = []
        for problem in self._problems(answers):
            about_this = problem.key in own or row.fullmatch(problem.key) is not None
            spoilt = problem.key in self.answers and (problem.key, problem.message) not in known
            if about_this or spoilt:
                found.append(problem)
        return tuple(found)

    def _problems(self, answers: Mapping[str, str]) -> tuple[Problem, ...]:
        """Give the problems of a draft; the last few are remembered, as each is wanted before and after an answer."""
        text = spec_text(answers)
        if text not in self._looked_at:
            while len(self._looked_at) > 3:
                del self._looked_at[next(iter(self._looked_at))]
            self._looked_at[text] = _problems_in(text)
        return self._looked_at[text]

    def take(self, question: Question, text: str) -> None:
        """Take an answer that nothing stands against."""
        self.answers[question.id] = text
        self.given.pop(question.id, None)
        self.before.pop(question.id, None)

    def proposal(self, question: Question) -> str | None:
        """Give what an empty answer stands for: what was answered before, else the default."""
        return self.before.get(question.id, question.default)

    def back(self, to: str | None = None) -> bool:
        """Take back the last answer, or all from a question on; tell whether there was such an answer."""
        if not self.answers or (to is not None and to not in self.answers):
            return False
        while self.answers:
            id_, text = self.answers.popitem()
            self.before[id_] = text
            if to in (None, id_):
                break
        return True

    def forward(self) -> None:
        """Answer as before for as long as that still fits."""
        while (question := self.open()) is not None:
            text = self.before.get(question.id)
            if text is None or self.refusals(question, text):
                return
            self.take(question, text)

    def all_told(self) -> dict[str, str]:
        """Give all that was told, in order: answers, then what was gone back from, then what nothing asked for yet."""
        return {**self.answers, **self.before, **self.given}


def problems_of(answers: Mapping[str, str]) -> tuple[Problem, ...]:
    """Give what the language says of the spec that the answers make, unfinished as it is."""
    return _problems_in(spec_text(answers))


def _problems_in(text: str) -> tuple[Problem, ...]:
    from boardgauge.language.reader import read_board_text

    try:
        read_board_text(text, FILE)
    except UnusableSpec as error:
        return error.problems
    return ()


def spec_text(answers: Mapping[str, str]) -> str:
    """Give the answers as the text of a spec, as plain as can be."""
    spec = spec_of(answers)
    lines = pairs([(name, content) for name, content in spec.items() if not isinstance(content, dict)])
    for name, content in spec.items():
        if name == "board":
            lines += ["[board]", *_rows(content)]
        elif isinstance(content, dict):
            for id_, table in content.items():
                lines += [f"[{name}.{key(id_)}]", *_rows(table)]
    return "\n".join(lines) + "\n"


def _rows(table: Mapping[str, object]) -> list[str]:
    return pairs([(key(name), each) for name, each in table.items()])
