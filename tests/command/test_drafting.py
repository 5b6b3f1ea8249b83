"""A board that was told by answers is the board that was meant."""

from __future__ import annotations

import tomllib
from typing import Any

import attrs
import pytest
from hypothesis import HealthCheck, given, settings

from board_strategies import boards
from boardgauge.boards import board_path
from boardgauge.drafting import Interview, Session, board_of, commented, proposed_by_us, read_answers, write_answers
from boardgauge.drafting.session import problems_of
from boardgauge.drafting.table_questions import DEMANDS
from boardgauge.language import read_board, read_board_text, write_board
from boardgauge.language.expressions import PowerUp
from boardgauge.language.model import Board, Delay, Lamp, Note

relaxed = settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
SECTIONS = ("inputs", "settings", "conditions", "rules", "outputs", "lamps", "requirements", "speed_ups")


def _tellable(board: Board) -> Board:
    """The board with what is not asked for left out: stretches not judged, and the white space of prose."""

    def words(text: str | None) -> str | None:
        told = " ".join((text or "").split())
        return None if told in ("", "nothing") else told

    def plainer(item: Any) -> Any:
        note = Note(*(words(each) for each in attrs.astuple(item.note)))
        if isinstance(item, Lamp):
            lines = [
                attrs.evolve(each, clause=words(each.clause), means=words(each.means), do=words(each.do))
                for each in item.lines
            ]
            return attrs.evolve(item, note=note, lines=tuple(lines))
        if isinstance(item, Delay) and isinstance(item.begins, PowerUp):
            item = attrs.evolve(item, if_begun_again=None)  # it cannot be begun again, so nobody is asked
        return attrs.evolve(item, note=note)

    tables: dict[str, Any] = {
        section: {id_: plainer(item) for id_, item in getattr(board, section).items()} for section in SECTIONS
    }
    texts = {"title": words(board.title) or "a board", "source": words(board.source), "text": words(board.text)}
    return attrs.evolve(board, not_judged=(), **texts, **tables)


def _answers(board: Board) -> dict[str, str]:
    """What a person would answer, taken from the board's own text."""
    found: dict[str, str] = {}

    def put(key: str, value: object) -> None:
        if isinstance(value, dict):
            for inner, each in value.items():
                put(f"{key}.{inner}", each)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            if "name" in value[0]:
                found[key] = ", ".join(row["name"] for row in value)
            for number, row in enumerate(value, start=1):
                put(f"{key}[{number}]", {inner: each for inner, each in row.items() if inner != "name"})
        elif isinstance(value, list):
            found[key] = ", ".join(map(str, value))
        else:
            found[key] = str(value).lower() if isinstance(value, bool) else str(value)

    spec = tomllib.loads(write_board(board))
    for section in SECTIONS:
        found[section] = ", ".join(spec.get(section, {}))
        for id_, table in spec.get(section, {}).items():
            put(f"{section}.{id_}", table)
    put("board", spec["board"])
    # What the language fills in by itself is proposed otherwise here.
    found.setdefault("board.responds_within", "0 s")
    for id_ in board.outputs:
        found.setdefault(f"outputs.{id_}.lag", "0 s")
    for id_, setting in board.settings.items():
        found[f"settings.{id_}.by"] = "a person" if setting.factory is not None else "jumpers"
    for id_ in board.requirements:
        found[f"requirements.{id_}.demands"] = next(each for each in DEMANDS if f"requirements.{id_}.{each}" in found)
    return found


def _told(answers: dict[str, str], *, every_key: bool) -> Session:
    session = Session(every_key=every_key, given=dict(answers))
    while (question := session.open()) is not None:
        text = question.answer(session.given.get(question.id, "")) or ""
        refusals = session.refusals(question, text)
        assert refusals == (), f"{question.id} = {text!r}: {refusals}"
        session.take(question, text)
    return session


@relaxed
@given(boards())
def test_any_board_can_be_told(drawn: Board) -> None:
    """Asked for every key, a person can tell any board: no answer is refused, none is left over, and it comes back."""
    board = _tellable(drawn)
    session = _told(_answers(board), every_key=True)
    assert session.given == {}
    assert board_of(session.answers) == board


@pytest.mark.parametrize("name", ["tarnbeck", "sump-pumps", "extract-fan", "hearthgate", "iec-ctu", "iec-rs"])
def test_boards_of_the_library_can_be_told(name: str) -> None:
    """Each board of the library can be told by answering."""
    board = _tellable(read_board(board_path(name)))
    session = _told(_answers(board), every_key=True)
    assert session.given == {}
    assert board_of(session.answers) == board


FAN = {
    "board.id": "fan",
    "board.title": "Fan control (invented)",
    "board.source": "fan sheet",
    "board.tolerance": "± 10 %",
    "inputs": "call, winding",
    "inputs.winding.kind": "switch",
    "outputs": "motor",
    "rules": "rest, overheat",
    "rules.overheat.kind": "lockout",
    "rules.rest.begins": "motor ends",
    "rules.rest.lasts": "30 s",
    "rules.overheat.trips": "winding open for 2 s",
    "rules.overheat.clears": "winding closed",
    "outputs.motor.on": "call and not rest and not overheat",
}
"""A small board; what is not here has its default."""


def _asked(**more: str) -> Session:
    return _told({**FAN, **more}, every_key=False)


def _refused(session: Session, text: str) -> str:
    question = session.open()
    assert question is not None
    return "\n".join(str(problem) for problem in session.refusals(question, text))


def _up_to(id_: str) -> Session:
    session = Session(given=dict(FAN))
    while (question := session.open()) is not None and question.id != id_:
        session.take(question, question.answer(session.given.get(question.id, "")) or "")
    assert session.open() is not None
    return session


def test_a_draft_is_commented_and_means_the_same() -> None:
    """Comments change nothing, each kind of rule is told, and proposals that nobody confirmed are marked."""
    session = _asked()
    board = board_of(session.answers)
    text = commented(board, "fan.toml", proposed_by_us(session.answers))
    assert read_board_text(text, "fan.toml") == board
    assert "# lockout: latches when tripped" in text
    marked = [line for line in text.splitlines() if "  # proposed" in line]
    assert [line.split(" = ")[0] for line in marked] == ["responds_within", "lag"]
    confirmed = _asked(**{"board.responds_within": "0.2 s", "outputs.motor.lag": "0.05 s"})
    assert "# proposed" not in commented(board_of(confirmed.answers), "fan.toml", proposed_by_us(confirmed.answers))


@pytest.mark.parametrize(
    ("question", "text", "told"),
    [
        ("outputs.motor.on", "call and not ovrheat", "did you mean 'overheat'?"),
        ("rules.overheat.trips", "winding open and call for 2 s", '"for" counts for the whole chain'),
        ("rules.overheat.trips", "winding", "a switch is not on or off"),
        ("rules.rest.lasts", "30", "expected"),
        ("inputs.winding.kind", "swich", "did you mean 'switch'?"),
        ("inputs", "call, low pressure", "is no name"),
        ("inputs", "call, for", "is a word of the language"),
        ("rules", "rest, motor", "the name 'motor' is taken"),
        ("outputs", "", "an answer is needed"),
        ("board.id", "a/b", "used in file names"),
        ("board.tolerance", "10", "this is no tolerance"),
    ],
)
def test_a_wrong_answer_is_refused_at_its_question(question: str, text: str, told: str) -> None:
    """What the language has against an answer is told when it is given, with the nearest name that exists."""
    session = _up_to(question)
    assert told in _refused(session, text)
    assert _refused(session, FAN.get(question, "call")) == ""


def test_an_answer_that_spoils_another_is_refused() -> None:
    """Two conditions that are worked out from each other are told when the second is answered."""
    session = _up_to("conditions")
    for id_, text in (("conditions", "a, b"), ("settings", ""), ("conditions.a.is", "b and call")):
        question = session.open()
        assert question is not None
        assert question.id == id_
        assert session.refusals(question, text) == ()
        session.take(question, text)
    assert "worked out from itself" in _refused(session, "a and call")
    assert _refused(session, "call") == ""


def test_jumpers_must_choose_one_position_each_way() -> None:
    """That a combination of jumpers chooses nothing is told when the last position was named."""
    answers = {**FAN, "inputs": "call, winding, j0", "inputs.j0.kind": "link", "settings": "pause"}
    session = Session(given={**answers, "settings.pause.by": "jumpers"})
    rows = {"settings.pause.positions[1].when": "j0 fitted", "settings.pause.positions[1].is": "30 s"}
    session.given.update(rows)
    while (question := session.open()) is not None and question.id != "settings.pause.positions[2].when":
        text = question.answer(session.given.get(question.id, "")) or ""
        assert session.refusals(question, text) == ()
        session.take(question, text)
    assert _refused(session, "") != ""
    assert _refused(session, "j0 open") == ""


def test_going_back_keeps_what_was_answered_after() -> None:
    """Gone back from, an answer is proposed again; what no longer fits is asked anew."""
    session = _up_to("outputs.motor.on")
    assert session.back("rules")
    question = session.open()
    assert question is not None
    assert question.id == "rules"
    assert session.proposal(question) == "rest, overheat"
    session.take(question, "rest, heat")
    session.forward()
    reached = session.open()
    assert reached is not None
    assert reached.id == "rules.heat.kind"
    assert not session.back("no.such.question")


def test_a_whole_draft_has_no_problems() -> None:
    """A draft told to its end is a spec without problems."""
    assert problems_of(_asked().answers) == ()
    assert Interview(_asked().answers).open() is None


def test_answers_come_back_from_their_file(tmp_path: Any) -> None:
    """Answers that were written are read as they were."""
    path = tmp_path / "fan.answers.toml"
    answers = {**FAN, "board.text": 'quotes " and \\ and ±', "settings": ""}
    path.write_text(write_answers(answers), encoding="utf-8")
    assert read_answers(path) == answers
