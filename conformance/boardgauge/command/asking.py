"""``boardgauge new``: ask about a board, and write its spec.

Law of this module: it asks and prints; which questions come and what stands against an answer is for ``drafting``,
where files go for ``draft_files``. What was answered is never lost: broken off, it is kept in a file to go on from.
"""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import click

from boardgauge.command.draft_files import Wanted, keep_answers, target_of, write_like, write_new
from boardgauge.command.failing import INTERRUPTED, UNUSABLE, Unusable
from boardgauge.command.vetting import vet_spec
from boardgauge.drafting import Question, Session, board_of, commented, proposed_by_us, read_answers
from boardgauge.language import Problem, UnusableSpec
from boardgauge.language.problems import nearest_of

BACK, FORWARD, MORE = "<", ">", "?"

INTRODUCTION = """\
Enter takes what stands in [ ]. ? tells more, < goes back one question and < KEY to that one, > forward again.
Ctrl-C stops and keeps the answers."""

_LINE = re.compile(r", line \d+\b")
"""A place in the draft, which nobody sees while it is asked for."""


def new_spec(wanted: Wanted) -> int:
    """Make a draft, by asking or of the answers given; give the exit status."""
    session = Session(every_key=wanted.every_key, given=_given(wanted))
    name = session.given.get("board.id")
    if name is not None:
        _refuse_a_bad_id(session, name)
        target_of(wanted, name)
    if wanted.like is not None:
        return _new_like(wanted, wanted.like, session)
    if not wanted.asking:
        _answer_all(session)
    else:
        status = _ask_all(session, wanted)
        if status is not None:
            return status
    return _finish(session, wanted)


# -- what was given ----------------------------------------------------------------------------------------------------
def _given(wanted: Wanted) -> dict[str, str]:
    given: dict[str, str] = {}
    if wanted.answers is not None:
        try:
            given.update(read_answers(Path(wanted.answers)))
        except UnusableSpec as error:
            raise Unusable(f"{wanted.answers} cannot be used:\n{error}") from None
    for text in wanted.answer:
        key, sign, answer = text.partition("=")
        if not sign:
            raise Unusable(f'--answer {text}: expected KEY=TEXT, as in --answer "outputs=contactor, fan"')
        given[key.strip()] = answer.strip()
    if wanted.name is not None:
        given["board.id"] = wanted.name
    return given


def _refuse_a_bad_id(session: Session, name: str) -> None:
    question = session.open()
    assert question is not None
    problems = session.refusals(question, name)
    if problems:
        raise Unusable(f"{name}: {_told(problems[0], question)}")


# -- answers -----------------------------------------------------------------------------------------------------------
def _answer_all(session: Session) -> None:
    """Answer every question with what was given or its default. Raises Unusable where neither does."""
    while (question := session.open()) is not None:
        text = question.answer(session.given.get(question.id, ""))
        problems = session.refusals(question, text or "")
        if problems:
            key = question.id
            asked = f"{question.words} For example: {question.example}"
            raise Unusable(f"{key}: {'; '.join(_told(each, question) for each in problems)}\n{asked}")
        session.take(question, text or "")
    _refuse_what_nothing_asked_for(session)


def _refuse_what_nothing_asked_for(session: Session) -> None:
    if session.given:
        lines = []
        for key in session.given:
            near = nearest_of(key, session.answers)
            lines.append(f"{key}: nothing asks for this answer" + (f"; did you mean {near!r}?" if near else ""))
        raise Unusable("\n".join(lines))


def _ask_all(session: Session, wanted: Wanted) -> int | None:
    """Ask until all is answered; give an exit status where that was broken off."""
    typing = _Typing(session)
    click.echo(INTRODUCTION)
    heading = ""
    explained: set[str] = set()
    try:
        while (question := session.open()) is not None:
            given = session.given.get(question.id)
            if given is not None:
                text = question.answer(given)
                problems = session.refusals(question, text or "")
                if not problems:
                    session.take(question, text or "")
                    continue
                click.echo(f"\n{question.id} = {given}")
                _tell(problems, question)
                del session.given[question.id]
            if question.heading != heading:
                heading = question.heading
                click.echo(f"\n---- {heading}")
            _ask_one(session, question, typing, explained)
            if question.id == "board.id" and "board.id" in session.answers:
                target_of(wanted, session.answers["board.id"])
    except (KeyboardInterrupt, EOFError) as stop:
        click.echo("", err=True)
        keep_answers(session, wanted)
        if isinstance(stop, EOFError):
            click.echo("boardgauge: there was no more to read, and not every question is answered", err=True)
            return UNUSABLE
        return INTERRUPTED
    for key in session.given:
        click.echo(f"{key}: nothing asked for this answer, so it is left out", err=True)
    return None


def _ask_one(session: Session, question: Question, typing: _Typing, explained: set[str]) -> None:
    """Ask one question until it is answered, or gone back from. ``explained`` are the choices told at length so far."""
    example = f" For example: {question.example}" if question.example else ""
    about = _about(session, question)
    words = f"{about}: {question.words[0].lower()}{question.words[1:]}" if about else question.words
    click.echo(f"\n{words}{'' if question.choices else example}")
    if question.choices and question.more and question.more not in explained:
        # Who meets the kinds for the first time cannot choose by their names alone.
        explained.add(question.more)
        for line in question.more.splitlines():
            click.echo(f"  {line}")
    elif question.choices:
        click.echo(f"  one of: {', '.join(question.choices)}")
    while True:
        proposal = session.proposal(question)
        shown = proposal or question.otherwise
        typed = typing.line(f"{question.id}{f' [{shown}]' if shown else ''}: ", question)
        if typed == MORE:
            _tell_more(session, question)
        elif typed[:1] == BACK:
            to = typed[1:].strip() or None
            if session.back(to):
                return
            click.echo(f"  {to}: no question of that name was answered" if to else "  this is the first question")
        elif typed == FORWARD:
            session.forward()
            return
        else:
            text = question.answer(typed) if typed else proposal
            problems = session.refusals(question, text or "")
            if not problems:
                session.take(question, text or "")
                return
            _tell(problems, question)


def _about(session: Session, question: Question) -> str:
    """Tell what a question is about, where that is one of several things: its name, and a rule's kind."""
    section, *rest = question.id.split(".")
    if len(rest) < 2:
        return ""
    name = rest[0].partition("[")[0]
    kind = session.answers.get(f"rules.{name}.kind") if section == "rules" else None
    return f"{name} ({kind})" if kind else name


def _tell(problems: tuple[Problem, ...], question: Question) -> None:
    for problem in problems:
        click.echo(f"  {_told(problem, question)}")
    if any(problem.message.startswith("there is nothing called") for problem in problems):
        click.echo("  A name can still be added: < inputs, < rules or < conditions, then > until you are here again.")


def _told(problem: Problem, question: Question) -> str:
    """Tell a problem without a place: it stands in what was just typed, or its key says where."""
    text = problem.message if problem.key == question.id else f"{problem.key}: {problem.message}"
    text = _LINE.sub("", text)
    if problem.expected is not None:
        text += f"; expected {problem.expected}"
    return text + (f"; did you mean {problem.nearest!r}?" if problem.nearest is not None else "")


def _tell_more(session: Session, question: Question) -> None:
    for line in question.more.splitlines():
        click.echo(f"  {line}")
    if question.choices:
        click.echo(f"  one of: {', '.join(question.choices)}")
    click.echo(f"  for example: {question.example}")
    if question.proposed:
        click.echo("  What is proposed is common practice and no more; the file will say so.")
    for section in ("inputs", "outputs", "rules", "conditions"):
        if session.answers.get(section):
            click.echo(f"  {section}: {session.answers[section]}")


# -- the end -----------------------------------------------------------------------------------------------------------
def _finish(session: Session, wanted: Wanted) -> int:
    try:
        path = target_of(wanted, session.answers["board.id"])
        board = board_of(session.answers)
        text = commented(board, path.name, proposed_by_us(session.answers, session.every_key))
        write_new(path, text.encode(), wanted.overwrite)
    except UnusableSpec as error:
        keep_answers(session, wanted)
        raise Unusable("the answers do not go together:\n" + "\n".join(map(str, error.problems))) from None
    except (Unusable, OSError):
        keep_answers(session, wanted)
        raise
    click.echo(f"written: {path}")
    status = vet_spec(str(path), thorough=False, explore=True)
    file = shlex.quote(str(path))
    click.echo(f"next: boardgauge vet {file} proves what it can; boardgauge draw {file} shows it on one page")
    return status


def _new_like(wanted: Wanted, like: str, session: Session) -> int:
    name = session.given.pop("board.id", None)
    if name is None:
        raise Unusable("with --like the new board's name is needed: boardgauge new NAME --like BOARD")
    title = session.given.pop("board.title", f"{name}, like {like}")
    _refuse_what_nothing_asked_for(session)
    return vet_spec(str(write_like(wanted, like, name, title)), thorough=False, explore=False)


class _Typing:
    """A line from a person; Tab completes the names told so far and the words of the language."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.words: list[str] = []
        if not sys.stdin.isatty():
            return
        try:
            import readline
        except ImportError:  # not on every system
            return
        readline.set_completer(self._complete)
        readline.set_completer_delims(" ,()")
        readline.parse_and_bind("tab: complete")

    def line(self, prompt: str, question: Question) -> str:
        """Ask for a line. Raises EOFError at the end of what there is to read."""
        from boardgauge.drafting.paths import names_in
        from boardgauge.language.keys import RESERVED

        told = [self.session.answers.get(section, "") for section in ("inputs", "outputs", "rules", "conditions")]
        names = [name for text in told for name in names_in(text)]
        self.words = sorted({*question.choices} or {*names, *RESERVED})
        return input(prompt).strip()

    def _complete(self, begun: str, index: int) -> str | None:
        fitting = [word for word in self.words if word.startswith(begun)]
        return fitting[index] if index < len(fitting) else None
