"""Faults of times: short, long, absent, endless; a setting misread; a clock that is fast or slow.

Law of this module: a time that is wrong is wrong beyond what the spec allows it, and keeps its tolerance. How far
beyond is a choice for simulating (``SHORT``, ``LONG``); ``any_size`` leaves it open.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from attrs import evolve

from boardgauge.faults.editing import Site, fresh_name, reading, sites, with_table, with_times
from boardgauge.faults.fault import Fault
from boardgauge.faults.folding import NEVER, NO_EVENT, replaced
from boardgauge.faults.naming import clause_of, of_site, spoken, time
from boardgauge.faults.times import Change, fors_in, times_of
from boardgauge.language.expressions import And, Expression, For, Not, Reached
from boardgauge.language.model import (
    Accumulator,
    Blink,
    Board,
    Count,
    Delay,
    Lamp,
    Lockout,
    Mode,
    Sequence,
)
from boardgauge.language.quantities import EXACTLY, MS, Duration, H, Tolerance

SHORT, LONG = Fraction(7, 10), Fraction(14, 10)
"""What part of its nominal time a short, and a long, timing lasts in a simulation, if that is beyond its tolerance."""
CLOCK = Fraction(8, 100)
"""How far beyond what its times allow a wrong clock is, in a simulation."""
ENDLESS = Duration(10_000 * H, EXACTLY)
"""Not left out, since other things may look at the end of the time, or speed it up."""
_SHORTEST_PART, _LONGEST_PART = Fraction(1, 1000), 20
_WRONG_CLOCK = Fraction(1, 2)
_LAMP_TOO = Fraction(1, 4)


def timing_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of every time of a board."""
    for row in times_of(board):
        if all(d.shortest > 2 * MS for d in row.nominals):
            any_short = evolve(row.put(any_short_of), clock="independent")
            yield Fault(
                f"{row.key}.short",
                f"{row.name} too short (not {row.told})",
                "timing short",
                row.of,
                row.clause,
                row.put(short_of),
                any_short,
                row.timings,
            )
        any_long = evolve(row.put(any_long_of), clock="independent")
        yield Fault(
            f"{row.key}.long",
            f"{row.name} too long (not {row.told})",
            "timing long",
            row.of,
            row.clause,
            row.put(long_of),
            any_long,
            row.timings,
        )
    yield from _absent_and_endless(board)


def _known(duration: Duration) -> Tolerance:
    return duration.tolerance or EXACTLY


def short_of(good: Duration) -> Duration:
    """Give a time clearly short of what the good one may last."""
    tolerance = _known(good)
    short = Duration(int(good.nominal * SHORT), tolerance)
    if short.longest * 20 < good.shortest * 19:
        return short
    return Duration(good.shortest // 2, EXACTLY)


def long_of(good: Duration) -> Duration:
    """Give a time clearly longer than the good one may last."""
    tolerance = _known(good)
    most = (good.longest * Fraction(21, 20) + tolerance.less) / (1 - min(tolerance.percent_less, Fraction(1, 2)))
    return Duration(int(max(good.nominal * LONG, most)) + 1, tolerance)


def any_short_of(good: Duration) -> Duration:
    """Give the time that may be as short as it likes."""
    tolerance = _known(good)
    return evolve(
        good, tolerance=evolve(tolerance, percent_less=1 - _SHORTEST_PART, percent_more=-tolerance.percent_less)
    )


def any_long_of(good: Duration) -> Duration:
    """Give the time that may be as long as it likes."""
    tolerance = _known(good)
    more = Fraction(_LONGEST_PART)
    return evolve(good, tolerance=evolve(tolerance, percent_less=-tolerance.percent_more, percent_more=more))


# -- absent and endless ----------------------------------------------------------------------------------------------


def _absent_and_endless(board: Board) -> Iterator[Fault]:
    # As soon as the board can: what it takes in, it takes in as late as it may.
    slowest = max([board.responds_within, *(row.responds_within for row in board.inputs.values())])
    at_once = Duration(1 * MS, Tolerance(more=slowest))
    for id_, rule in board.rules.items():
        name, clause = spoken(board, id_), rule.note.clause

        def fault(how: str, words: str, group: str, new: object, id_: str = id_, clause: str | None = clause) -> Fault:
            return Fault(f"{id_}.{how}", words, group, id_, clause, with_table(board, "rules", id_, new))

        match rule:
            case Delay():
                yield fault("absent", f"{name} never runs", "timing absent", evolve(rule, begins=NO_EVENT))
                yield fault("endless", f"{name} never runs out", "timing endless", evolve(rule, lasts=ENDLESS))
            case Lockout() if rule.lasts is not None:
                new = evolve(rule, lasts=at_once)
                yield fault("absent", f"{name} clears at once", "timing absent", new)
                new = evolve(rule, lasts=ENDLESS)
                yield fault("endless", f"{name} never clears by itself", "timing endless", new)
            case Count() if rule.within is not None:
                yield fault(
                    "endless",
                    f"{name}: no event is ever too old to count",
                    "timing endless",
                    evolve(rule, within=ENDLESS),
                )
            case Accumulator():
                yield fault("absent", f"{name} is full at once", "timing absent", evolve(rule, target=at_once))
                yield fault("endless", f"{name} is never full", "timing endless", evolve(rule, target=ENDLESS))
            case Mode():
                if rule.at_most is not None:
                    yield fault(
                        "endless", f"{name} does not end by itself", "timing endless", evolve(rule, at_most=ENDLESS)
                    )
                if rule.at_least is not None:
                    yield fault("absent", f"{name} has no shortest stay", "timing absent", evolve(rule, at_least=None))
            case Sequence():
                for step in rule.steps:
                    if step.lasts is not None:
                        steps = tuple(evolve(s, lasts=ENDLESS) if s is step else s for s in rule.steps)
                        called = step.name.replace("_", " ")
                        yield fault(
                            f"{step.name}.endless",
                            f"{called} never runs out",
                            "timing endless",
                            evolve(rule, steps=steps),
                        )
    for site in sites(board):
        for node in fors_in(site.expression):
            where, clause = of_site(board, site), clause_of(board, site.section, site.id, site.index)
            unwaiting = site.put(board, replaced(site.expression, lambda e, n=node: n.condition if e is n else None))  # type: ignore[misc]
            key = f"{site.id}.{site.key}.for"
            yield Fault(f"{key}.absent", f"{where} does not wait", "timing absent", site.id, clause, unwaiting)
            never = site.put(board, replaced(site.expression, lambda e, n=node: NEVER if e is n else None))  # type: ignore[misc]
            yield Fault(f"{key}.endless", f"{where} waits for ever", "timing endless", site.id, clause, never)
            words = f"{where} does not wait anew after an interruption: it adds up"
            yield Fault(f"{key}.not-restarted", words, "begun again", site.id, clause, _adding_up(board, site, node))


def _adding_up(board: Board, site: Site, node: For) -> Board:
    """Give the board on which a condition need not hold all along: the times that it held are added up.

    Once they are enough, it goes on as it should until the condition ends.
    """
    name = fresh_name(board, f"{site.id}_added_up")
    full = Reached(name)
    sums = Accumulator(name, node.condition, node.lasts, And((full, Not(node.condition))))
    edited = with_table(board, "rules", name, sums)
    held = And((full, node.condition))
    return site.put(edited, replaced(site.expression, lambda e: held if e is node else None))


# -- settings and the clock --------------------------------------------------------------------------------------------


def setting_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of settings: each position taken, whatever is set."""
    for id_, setting in board.settings.items():
        for number, position in enumerate(setting.positions):
            name = f"setting {spoken(board, id_)} is always taken for {time(position.is_.nominal)}"
            yield Fault(
                f"{id_}.as-{number + 1}",
                name,
                "setting misread",
                id_,
                setting.note.clause,
                reading(board, id_, position),
            )


def clock_faults(board: Board) -> Iterator[Fault]:
    """Give the clock that is fast, and slow, beyond what the times of the board allow."""
    known = [_known(d) for row in times_of(board) for d in row.nominals]
    if not known:
        return
    less, more = (max(getattr(t, key) for t in known) for key in ("percent_less", "percent_more"))
    for how, rate, low, high in (
        ("fast", 1 - less - CLOCK, -_WRONG_CLOCK, -less),
        ("slow", 1 + more + CLOCK, more, _WRONG_CLOCK),
    ):
        yield Fault(
            f"clock.{how}",
            f"clock too {how}: all times too {'short' if how == 'fast' else 'long'}",
            "clock",
            board.id,
            None,
            _all_times(board, lambda d, rate=rate: _at_rate(d, rate), rate),  # type: ignore[misc]
            evolve(_all_times(board, lambda d, low=low, high=high: _any_rate(d, low, high)), clock="shared"),  # type: ignore[misc]
        )


def _at_rate(good: Duration, rate: Fraction) -> Duration:
    tolerance = evolve(_known(good), percent_less=Fraction(0), percent_more=Fraction(0))
    return evolve(good, nominal=int(good.nominal * rate), tolerance=tolerance)


def _any_rate(good: Duration, low: Fraction, high: Fraction) -> Duration:
    return evolve(good, tolerance=evolve(_known(good), percent_less=-low, percent_more=high))


def _all_times(board: Board, change: Change, lamp_rate: Fraction | None = None) -> Board:
    edited = board
    for id_, rule in board.rules.items():
        new = with_times(rule, lambda lasting: change(lasting) if isinstance(lasting, Duration) else lasting)
        edited = with_table(edited, "rules", id_, new)
    for id_, setting in board.settings.items():
        positions = tuple(evolve(p, is_=change(p.is_)) for p in setting.positions)
        edited = with_table(edited, "settings", id_, evolve(setting, positions=positions))

    def changed(expression: Expression) -> Expression | None:
        # A ``for`` inside another one's condition is reached by going on inside.
        if not isinstance(expression, For):
            return None
        inner = replaced(expression.condition, changed)
        return For(inner, change(expression.lasts))  # type: ignore[arg-type]  # a condition stays one

    for site in sites(edited):
        new_expression = replaced(site.expression, changed)
        if new_expression != site.expression:
            edited = site.put(edited, new_expression)
    if lamp_rate is not None:
        for id_, lamp in board.lamps.items():
            edited = with_table(edited, "lamps", id_, _lamp_at(lamp, lamp_rate))
    else:
        for id_, lamp in board.lamps.items():
            known = lamp.tolerance
            wide = evolve(
                known, percent_less=known.percent_less + _LAMP_TOO, percent_more=known.percent_more + _LAMP_TOO
            )
            edited = with_table(edited, "lamps", id_, evolve(lamp, tolerance=wide))
    return edited


def _lamp_at(lamp: Lamp, rate: Fraction) -> Lamp:
    def scaled(blink: Blink) -> Blink:
        return Blink(int(blink.lit * rate), int(blink.dark * rate))

    lines = tuple(
        evolve(line, shows=scaled(line.shows)) if isinstance(line.shows, Blink) else line for line in lamp.lines
    )
    flash = None if lamp.flash is None else scaled(lamp.flash)
    between = None if lamp.between_groups is None else int(lamp.between_groups * rate)
    return evolve(lamp, lines=lines, flash=flash, between_groups=between)
