"""The line protocol, both ends of it: what is said is understood, and nothing else is believed."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_plans import TARNBECK
from boardgauge.language.model import Board
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.line_rig import LineRig
from boardgauge.rigs.lines import BadLine, number_of, number_text, time_of, with_sum, without_sum
from boardgauge.rigs.links import Link, LinkLost
from boardgauge.rigs.points import Point, Points
from boardgauge.rigs.rig import Change, Rig, RigFailure
from boardgauge.rigs.serving import Answering

S = 1_000_000
POKES = st.lists(st.tuples(st.integers(200_000, 20 * S), st.sampled_from(("y", "o", "cold"))), max_size=8)
HELLO = ["fixture tester", "drives power", "drives y", "sees cc", "time real", "ok 1"]


class Direct(Link):
    """A link to something that answers lines, in this process."""

    def __init__(self, answer: Callable[[str], list[str]]) -> None:
        self.said: list[str] = []
        self._answer = answer
        self._coming = b""
        self.closed = False

    def send(self, line: str) -> None:
        self.said.append(line)
        self._coming += "".join(f"{row}\n" for row in self._answer(line)).encode()

    def receive(self, within: float) -> bytes:
        data, self._coming = self._coming, b""
        return data

    def line(self, within: float) -> str | None:
        # Nothing more is going to come: no need to wait for it.
        return super().line(within) if self._coming or b"\n" in self._rest else None

    def close(self) -> None:
        self.closed = True


def scripted(**answers: list[str]) -> Direct:
    """Give a fixture that answers each first word of a line as it is told, and else as a good one does."""
    usual = {"hello": HELLO, "start": ["at 0 cc 0", "ok 0"], "set": ["ok 5"], "wait": ["ok 10"], "safe": ["safe"]}

    def answer(line: str) -> list[str]:
        word = line.partition(" ")[0]
        return {**usual, **answers}.get(word, []) if word else []

    return Direct(answer)


def rig_on(link: Link, board: Board = TARNBECK, **more: object) -> LineRig:
    """Give the rig on a link, that never sleeps and whose clock runs on by itself."""
    ticks = iter(range(10**9))
    return LineRig(
        board,
        "bench",
        "process",
        lambda: link,
        sleep=lambda _: None,
        clock=lambda: next(ticks) / 10,
        **more,  # type: ignore[arg-type]
    )


# -- words and numbers -----------------------------------------------------------------------------------------------


@given(st.fractions(min_value=-(10**9), max_value=10**9))
def test_a_number_is_read_back_to_nine_places(value: Fraction) -> None:
    """What is written of a number differs from it by half a unit of the ninth place at most."""
    assert abs(number_of(number_text(value)) - value) <= Fraction(1, 2 * 10**9)


@given(st.booleans())
def test_a_level_is_read_back(value: bool) -> None:
    """A level is 0 or 1."""
    assert number_of(number_text(value)) == value


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=60), st.data())
def test_a_sum_tells_of_any_one_character_that_was_damaged(line: str, data: st.DataObject) -> None:
    """A line with its sum is read back; with one character changed it is refused."""
    said = with_sum(line)
    assert without_sum(said) == line
    at = data.draw(st.integers(0, len(said) - 1))
    other = data.draw(st.characters(min_codepoint=32, max_codepoint=126).filter(lambda c: c != said[at]))
    damaged = said[:at] + other + said[at + 1 :]
    with pytest.raises(BadLine):
        without_sum(damaged)


@pytest.mark.parametrize("text", ["", "-1", "1.5", "1e3", "٣", "9" * 17, str(2**53 + 1), "nan", "0x1"])
def test_what_is_no_moment_is_refused(text: str) -> None:
    """A moment is whole microseconds, not below zero, up to 2^53."""
    with pytest.raises(BadLine):
        time_of(text)


# -- both ends -------------------------------------------------------------------------------------------------------


@settings(max_examples=25)
@given(POKES, st.integers(0, 999))
def test_over_the_protocol_a_rig_tells_what_it_tells_without(poked: list[tuple[int, str]], seed: int) -> None:
    """The same calls to a rig, and to the same rig behind the protocol, give the same moments and changes."""

    def told(rig: Rig) -> list[object]:
        found: list[object] = [rig.start()]
        found.append(rig.set({"power": True, "lps": True, "hps": True}))
        levels = {"y": False, "o": False, "cold": False}
        now = 0
        for lasts, name in poked:
            now += lasts
            while (report := rig.wait(now)).now < now:
                found.append(report)
            found.append(report)
            levels[name] = not levels[name]
            found.append(rig.set({name: levels[name]}))
        while (report := rig.wait(now + S)).now < now + S:
            found.append(report)
        found.append(rig.pulse({"y": True}, {"y": False}, 20_000) if not levels["y"] else ())
        found.append(rig.wait(now + 40 * S))
        return found

    behind = BoardRig(TARNBECK, seed=seed)
    line = rig_on(Direct(Answering(behind).answer), coils=True)
    assert told(line) == told(BoardRig(TARNBECK, seed=seed))
    assert line.facts.virtual
    assert line.facts.pulses
    assert line.facts.drives == behind.facts.drives


# -- our end ---------------------------------------------------------------------------------------------------------


def test_lines_of_a_start_up_before_the_answer_are_passed_over() -> None:
    """What a fixture prints as it starts up is no harm."""
    rig = rig_on(scripted(hello=["", "Booting v3 ...", "ok 12", *HELLO]))
    assert rig.facts.sees == ("cc",)


def test_a_half_line_left_in_the_fixture_is_ended_first() -> None:
    """An empty line goes before hello; an error about what it ended does not count, hello is asked again."""
    link = Direct(lambda line: [])
    asked: list[str] = []

    def answer(line: str) -> list[str]:
        asked.append(line)
        if line == "":
            return ["error line 'wai' is not known"]
        return HELLO if line.startswith("hello") else []

    link._answer = answer
    rig = rig_on(link)
    assert asked[:3] == ["", "hello 1", "hello 1"]
    assert rig.facts.watchdog is None


BAD: list[tuple[str, dict[str, list[str]], str]] = [
    ("another version", {"hello": ["fixture x", "ok 2"]}, "version '2'"),
    ("a line that hello does not have", {"hello": ["fixture x", "colour red", "ok 1"]}, "colour red"),
    ("no answer to hello", {"hello": []}, "did not answer hello"),
    ("an error to hello", {"hello": ["error line no"]}, "refuses hello"),
    ("time that does not begin at 0", {"start": ["at 0 cc 0", "ok 7"]}, "begin at 0"),
    ("a signal not told of at start", {"start": ["ok 0"]}, "how cc stands"),
    ("a level that is none", {"start": ["at 0 cc 3", "ok 0"]}, "either 0 or 1"),
    ("a point nobody spoke of", {"wait": ["at 6 fan 1", "ok 10"]}, "did not say it sees"),
    ("a change after now", {"wait": ["at 11 cc 1", "ok 10"]}, "a change at 11"),
    ("time that goes back", {"set": ["ok 5"], "wait": ["ok 3"]}, "goes back"),
    ("an answer of two moments", {"wait": ["ok 10 20"]}, "2 moments"),
    ("a change in the answer to set", {"set": ["at 5 cc 1", "ok 5"]}, "belong to wait"),
    ("a line of something else", {"wait": ["what?"]}, "not of the protocol"),
    ("an error", {"wait": ["error watchdog too long"]}, "watchdog too long"),
    ("no answer", {"wait": []}, "did not answer 'wait"),
    ("a number that is none", {"wait": ["at 6 cc on", "ok 10"]}, "no level"),
]


@pytest.mark.parametrize(("answers", "told"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_what_a_fixture_may_not_say_ends_the_run(answers: dict[str, list[str]], told: str) -> None:
    """Each is a failure of the rig that says what was wrong; nothing of it gets into a recording."""
    with pytest.raises(RigFailure, match=told):  # noqa: PT012  # at which call it shows is not the point
        rig = rig_on(scripted(**answers))
        rig.start()
        rig.set({"y": True})
        rig.wait(10)


WORDS = st.sampled_from(
    (
        "ok",
        "at",
        "error",
        "safe",
        "0",
        "1",
        "5",
        "10",
        "cc",
        "fan",
        "y",
        "fixture",
        "drives",
        "sees",
        "-3",
        "*00",
        "x=1",
    )
)
SAID = st.one_of(st.text(max_size=20), st.lists(WORDS, max_size=5).map(" ".join))


@settings(max_examples=150)
@given(st.lists(SAID, max_size=6), st.lists(SAID, max_size=3), st.lists(SAID, max_size=3), st.lists(SAID, max_size=4))
def test_whatever_a_fixture_says_the_rig_works_or_fails_in_words(
    hello: list[str], start: list[str], driven: list[str], waited: list[str]
) -> None:
    """Any lines at all give reports that keep to their law, or a failure of the rig; never anything else."""
    link = scripted(
        hello=[*HELLO[:-1], *hello, "ok 1"], start=[*start, "at 0 cc 0", "ok 0"], set=[*driven, "ok 5"],
        wait=[*waited, "ok 10"],
    )  # fmt: skip
    try:
        rig = rig_on(link)
        rig.start()
        moment = rig.set({"y": True})
        report = rig.wait(10)
    except RigFailure:
        return
    assert 0 <= moment <= report.now
    times = [change.time for change in report.changes]
    assert times == sorted(times)
    assert all(0 <= time <= report.now for time in times)


def test_changes_of_a_coarse_clock_are_taken_a_microsecond_apart() -> None:
    """A fixture that counts milliseconds may tell of two changes at one moment."""
    rig = rig_on(scripted(wait=["at 1000 cc 1", "at 1000 cc 0", "ok 1000"]))
    rig.start()
    report = rig.wait(1000)
    assert report.changes == (Change(1000, "cc", True), Change(1001, "cc", False))
    assert report.now == 1001


def test_sums_are_asked_of_both_sides_once_a_fixture_says_so() -> None:
    """With sums each line carries one, and a damaged answer ends the run."""
    good = [*HELLO[:-1], "sums", "ok 1"]
    link = scripted(hello=good, start=[with_sum("at 0 cc 0"), with_sum("ok 0")], wait=[with_sum("ok 10")])
    answer = link._answer
    link._answer = lambda line: answer(line.partition("*")[0])
    rig = rig_on(link)
    rig.start()
    rig.wait(10)
    assert link.said[-1] == with_sum("wait 10")
    link._answer = lambda line: ["ok 11*00"]
    with pytest.raises(RigFailure, match="damaged on the way"):
        rig.wait(11)


def test_points_give_levels_the_boards_words() -> None:
    """An inverted point is turned, a sensor has its scale, and both ways agree."""
    board = Board("b", "b", inputs={}, outputs={})
    dac = Point("coil", "DAC", False, True, Fraction(1, 10), Fraction(-50))
    drives = {"y": Point("y", "K1", turned=True), "coil": dac}
    sees = {"cc": Point("cc", "D1", turned=True)}
    hello = ["fixture x", "drives K1", "drives DAC 700", "sees D1", "sees D2", "time real", "ok 1"]
    link = scripted(hello=hello, start=["at 0 D1 1", "at 0 D2 1", "ok 0"], wait=["at 7 D1 0", "at 8 D2 0", "ok 10"])
    rig = rig_on(link, board, points=Points(drives, sees), safe_levels={"y": False})
    assert rig.facts.drives == {"y": False, "coil": 20}
    # In the fixture's own safe state K1 is off, which is y on: what the rig file says is safe is set at once.
    assert rig.start().changes == (Change(0, "cc", False),)
    assert link.said[-1] == "set K1=1 DAC=700"
    rig.set({"y": True, "coil": Fraction(-25, 2)})
    assert link.said[-1] == "set K1=0 DAC=375"
    assert rig.wait(10).changes == (Change(7, "cc", True),)


def test_a_point_that_the_fixture_does_not_have_is_told_with_the_nearest() -> None:
    """The message has the place in the rig file."""
    with pytest.raises(RigFailure, match=r"sees\.cc: the fixture sees no point 'CC'; did you mean 'cc'"):
        rig_on(scripted(), points=Points({}, {"cc": Point("cc", "CC")}))


def test_safe_waits_for_the_word_and_no_longer_than_it_may() -> None:
    """Whatever else is still on its way is passed over; without the word the failure says what to do."""
    rig = rig_on(scripted(safe=["ok 10", "at 5 cc 1", "safe"]))
    rig.start()
    rig.safe()
    silent = rig_on(scripted(safe=[], hello=[*HELLO[:-1], "watchdog 500000", "ok 1"]))
    silent.start()
    with pytest.raises(RigFailure, match=r"did not confirm within 1 s .* makes itself safe after 0\.5 s"):
        silent.safe()
    with pytest.raises(RigFailure, match="by hand"), rig_on(scripted(safe=[])) as bare:
        bare.start()


def test_a_link_that_is_lost_says_so_and_cannot_make_safe() -> None:
    """A dead program is told; so is that its outputs have to be looked after."""
    link = scripted()

    def gone(line: str) -> list[str]:
        raise LinkLost("the program fixture.py was ended by signal 9")

    rig = rig_on(link)
    rig.start()
    link._answer = gone
    with pytest.raises(RigFailure, match="ended by signal 9"):
        rig.wait(10)
    with pytest.raises(RigFailure, match="link is lost"):
        rig.safe()


def test_a_line_too_long_for_the_fixture_is_refused_here() -> None:
    """More inputs in one step than a line holds are not cut off."""
    many = {f"input_{n:040d}": Point(f"input_{n:040d}", f"p{n:040d}") for n in range(10)}
    hello = ["fixture x", *(f"drives {p.name}" for p in many.values()), "time real", "ok 1"]
    rig = rig_on(scripted(hello=hello, start=["ok 0"]), points=Points(many, {}))
    rig.start()
    with pytest.raises(RigFailure, match="longer than 250"):
        rig.set(dict.fromkeys(many, True))
