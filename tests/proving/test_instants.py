"""Law: all that may happen at one moment is gone through, however much it is; where it is not, nothing is proved."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

import pytest
from hypothesis import example, given, settings

from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving import at_one_moment, instants, together
from boardgauge.proving.at_one_moment import moments_of
from boardgauge.proving.clockwork import Node
from boardgauge.proving.folding import Folds, kernel_of
from boardgauge.proving.reach import reachable_parts
from boardgauge.proving.requirements import prove
from boardgauge.proving.timed import explore_timed
from boardgauge.proving.together import End, Happens, Together, settled
from proving.drawn import asked

HEAD = """
language = 1
[board]
id = "coincidence"
title = "What only comes about where all coincides (invented)"
tolerance = "exactly"
"""


def detector(things: int, lasts: str = "10 s") -> str:
    """Give an output that comes on only where so many delays, all begun by the supply, are over in one instant."""
    text = HEAD
    names = [f"d{number}" for number in range(things)]
    for name in names:
        text += f'[rules.{name}]\nkind = "delay"\nbegins = "power_up"\nlasts = "{lasts}"\n'
    others = [" and ".join(f"not {other}" for other in names if other != name) for name in names]
    for name, rest in zip(names, others, strict=True):
        text += f'[rules.m{name}]\nkind = "lockout"\ntrips = "{name} expires while ({rest})"\n'
        text += 'clears = "only by power loss"\n'
    return text + f'[outputs.out]\non = "{" and ".join(f"m{name}" for name in names)}"\n'


def switches(number: int) -> str:
    """Give an output that comes on only where so many switches close in one instant."""
    names = [f"s{place}" for place in range(number)]
    text = HEAD + "".join(f'[inputs.{n}]\nkind = "switch"\ncontact = "normally open"\n' for n in names)
    some, every = (f" {word} ".join(f"{n} closed" for n in names) for word in ("or", "and"))
    # Of the rules the one that matters comes last: how the ways of what runs beside it are told apart matters too.
    text += '[rules.warming]\nkind = "delay"\nbegins = "power_up"\nlasts = "10 s"\n'
    text += '[rules.ready]\nkind = "lockout"\ntrips = "warming expires"\nclears = "only by power loss"\n'
    text += f'[rules.met]\nkind = "lockout"\ntrips = "({some}) begins while ({every} and ready)"\n'
    return text + 'clears = "only by power loss"\n[outputs.out]\non = "met"\n'


def counted() -> str:
    """Give a count of which events grow too old, beside a delay that runs on and a call that comes and goes."""
    return HEAD + (
        '[inputs.a]\nkind = "call"\n'
        '[rules.often]\nkind = "count"\ncounts = "a begins"\nlimit = 3\nwithin = "10 s"\n'
        '[rules.wait]\nkind = "delay"\nbegins = "a begins"\nlasts = "10 s"\nif_begun_again = "runs on"\n'
        '[outputs.out]\non = "often reached or wait"\n'
    )


def crossed() -> str:
    """Give two delays that start over, each cut short by what begins the other."""
    text = HEAD
    for mine, other in ("ab", "ba"):
        text += f'[inputs.{mine}]\nkind = "call"\n[rules.{mine}d]\nkind = "delay"\nbegins = "{mine} begins"\n'
        text += f'lasts = "10 s"\nif_begun_again = "starts over"\ncut_by = "{other} begins"\n'
    return text + '[outputs.out]\non = "ad or bd"\n'


NEVER = '[requirements.dark]\nnever = "out"\n'


@pytest.mark.parametrize("things", [2, 3, 4, 5])
def test_what_takes_delays_over_in_one_instant_is_not_proved_never_to_be(things: int) -> None:
    """All lengths are exact and begin with the supply, so all are over in one instant, always."""
    (proof,) = prove(read_board_text(detector(things) + NEVER, "one.toml"))
    assert proof.verdict == "refuted"


@pytest.mark.parametrize("number", [2, 3, 4, 5])
def test_what_takes_switches_that_close_in_one_instant_is_not_proved_never_to_be(number: int) -> None:
    (proof,) = prove(read_board_text(switches(number) + NEVER, "one.toml"))
    assert proof.verdict != "proved"


def test_delays_that_are_never_over_together_prove_it() -> None:
    """One of four is a second later: the output never comes on, by the lengths."""
    text = detector(4).replace('lasts = "10 s"', 'lasts = "11 s"', 1)
    (proof,) = prove(read_board_text(text + NEVER, "one.toml"))
    assert proof.verdict == "proved"


def test_what_comes_about_in_one_instant_alone_is_reached() -> None:
    board = read_board_text(detector(4), "one.toml")
    assert {row.verdict for row in reachable_parts(board).items} == {"can"}


@pytest.mark.parametrize("folded", [True, False])
def test_where_not_all_of_a_moment_is_looked_at_nothing_is_proved(
    monkeypatch: pytest.MonkeyPatch, folded: bool
) -> None:
    """Four delays over in one instant with room for fewer: not decided, and nothing is said never to be."""
    monkeypatch.setattr(instants, "MOST_INSTANTS", 8)
    monkeypatch.setattr(at_one_moment, "MOST_FEW", 11)
    monkeypatch.setattr(together, "MOST_TOGETHER", 11)
    engine = Engine(compile_board(read_board_text(detector(4) + NEVER, "one.toml")))
    folds = Folds(engine, False) if folded else None
    space = explore_timed(engine, lambda node, outcome: bool(outcome.broken), folds=folds)
    assert (space.stop, space.complete, space.whole) == (None, False, False)
    board = read_board_text(detector(4) + NEVER, "one.toml")
    (proof,) = prove(board)
    assert proof.verdict == "undecided"
    assert "at one moment" in proof.how
    assert "never" not in {row.verdict for row in reachable_parts(board).items}


def groups(engine: Engine, folds: Folds, config: Config) -> Iterator[Happens]:
    """Give every instant that a configuration can have, without asking what may be left apart."""
    ends = [*folds.ends(kernel_of(config))]
    for chosen in product(*(values for _, values in folds.ways)):
        levels = list(config.levels)
        for (indices, _), values in zip(folds.ways, chosen, strict=True):
            for index, value in zip(indices, values, strict=True):
                levels[index] = value
        changes = tuple((i, new) for i, (old, new) in enumerate(zip(config.levels, levels, strict=True)) if old != new)
        for number in range(len(ends) + 1):
            for over in combinations(ends, number):
                yield Happens(changes, tuple(sorted(over)))


def come_to(engine: Engine, folds: Folds, config: Config, what: Happens, known: dict[object, bool]) -> bool:
    """Tell whether what happens is gone through: as one instant, or as some that are looked at in a row."""
    key = (config, what)
    if key in known:
        return known[key]
    known[key] = True
    looked = dict(moments_of(folds).of(kernel_of(config), config.levels))
    if what == Happens() or what in looked:
        return True
    goal = settled(engine, config, what).config
    found = False
    for one in looked:
        ends = {end[:2] for end in what.over}
        if not set(one.levels) <= set(what.levels) or not {end[:2] for end in one.over} <= ends:
            continue
        first = settled(engine, config, one)
        over = tuple(end for end in what.over if end not in one.over)
        if any(timing in {end.timing for end in over if end.region < 0} for timing, _ in first.begun):
            continue
        if not {(end.timing, end.region) for end in over} <= {end[:2] for end in folds.ends(kernel_of(first.config))}:
            continue
        rest = Happens(tuple(row for row in what.levels if row not in one.levels), over)
        try:
            last = settled(engine, first.config, rest).config
        except CannotSettle:
            continue
        if last == goal and come_to(engine, folds, first.config, rest, known):
            found = True
            break
    known[key] = found
    return found


@settings(deadline=None, max_examples=settings().max_examples // 25)
@given(asked())
@example(read_board_text(detector(3), "one.toml"))
@example(read_board_text(switches(3), "one.toml"))
@example(read_board_text(counted(), "one.toml"))
@example(read_board_text(crossed(), "one.toml"))
def test_whatever_may_happen_at_one_moment_is_gone_through(board: Board) -> None:
    """On drawn boards, in places that are come to: of every choice of what may happen, all at once."""
    engine = Engine(compile_board(board))
    folds = Folds(engine, True)
    space = explore_timed(engine, None, None, 12, None, 1, True, frozenset())
    for place in space.places[1:12]:
        config = place.node.config
        if not config.powered:
            continue
        known: dict[object, bool] = {}
        for what in groups(engine, folds, config):
            try:
                settled(engine, config, what)
            except CannotSettle:
                continue
            assert come_to(engine, folds, config, what, known), (config, what)


@settings(deadline=None, max_examples=settings().max_examples // 25)
@given(asked())
@example(read_board_text(detector(3), "one.toml"))
@example(read_board_text(switches(3), "one.toml"))
@example(read_board_text(counted(), "one.toml"))
@example(read_board_text(crossed(), "one.toml"))
def test_asked_of_all_instants_at_once_the_same_happens(board: Board) -> None:
    """As asked thing by thing: the same instants; and what would be part of one there may be part of it here."""
    engine = Engine(compile_board(board))
    folds = Folds(engine, True)
    plain = Together(engine, folds.ways, 1 << 20)
    space = explore_timed(engine, None, None, 30, None, 1, True, frozenset())
    for place in space.places[1:30]:
        config = place.node.config
        if config.powered:
            quick = dict(moments_of(folds).of(kernel_of(config), config.levels))
            asked_one_by_one = {what: {end[:2] for end in ends} for what, ends in plain.moments(Node(config))}
            assert {what: set(ends) for what, ends in quick.items()} == asked_one_by_one


def test_what_may_not_come_first_does_not_with_the_other_due() -> None:
    """Two delays that are over at one moment: the one that has to come first may, with the other due; not the other."""
    text = HEAD + '[inputs.s]\nkind = "switch"\ncontact = "normally open"\n'
    for name in ("a", "b"):
        text += f'[rules.{name}]\nkind = "delay"\nbegins = "power_up"\nlasts = "10 s"\n'
    text += '[rules.both]\nkind = "lockout"\ntrips = "(a expires while not b)"\nclears = "only by power loss"\n'
    text += '[outputs.out]\non = "both or s closed"\n'
    engine = Engine(compile_board(read_board_text(text, "one.toml")))
    config = settled(engine, engine.off(), Happens(power=True)).config
    for rows in (
        dict(Together(engine, Folds(engine, True).ways).moments(Node(config))),
        {what: {End(*end) for end in ends} for what, ends in of_all(engine, config).items()},
    ):
        (switch,) = (what for what in rows if what.levels and not what.over)
        assert rows[switch] == set()
        assert rows[Happens(over=(End(A),))] == {End(B)}
        assert rows[Happens(over=(End(B),))] == set()


A, B = 0, 1


def of_all(engine: Engine, config: Config) -> dict[Happens, frozenset[tuple[int, int]]]:
    return dict(moments_of(Folds(engine, True)).of(kernel_of(config), config.levels))
