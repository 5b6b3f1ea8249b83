"""``boardgauge records DATABASE lot``.

Law of this module: a decision comes with the plan that it is by, the lots before it that the plan hangs on, and what it
is worth; lots of the same kind of board are one series, in the order in which they were first measured.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, Unusable
from boardgauge.command.figures_telling import left_out
from boardgauge.command.keeping import opened
from boardgauge.rigs.rig import NOT_KEPT, SIMULATED
from boardgauge.sheets.figures import many

if TYPE_CHECKING:
    from boardgauge.records.lots import BoardState
    from boardgauge.records.switching import Inspected, Lot, Standing

_SHOWN = 8
"""Lots before the one that is asked for that are told."""


def tell_lot(
    database: str,
    name: str,
    sizes: Sequence[str],
    limit: str,
    board: str | None,
    reduced: bool,
    corrected: Sequence[str],
    as_json: bool,
    *,
    simulated: bool = False,
) -> int:
    """Tell whether a lot is accepted; give the exit status. Simulated boards count only with ``simulated``."""
    with opened(database) as records:
        from boardgauge.records.finding import Wanted, simulated_runs
        from boardgauge.records.lots import board_states
        from boardgauge.records.sampling import NoSuchPlan
        from boardgauge.records.switching import inspect

        wanted = Wanted(lot=name, board=board)
        of_lot = board_states(records, wanted, simulated=simulated)
        left = 0 if simulated else simulated_runs(records, wanted)
        if not of_lot:
            more = f"; {left_out(left)}" if left else ""
            raise Unusable(f"{records.name}: no {board or 'board'} of lot {name} was judged{more}")
        kinds = list(dict.fromkeys(state.board for state in of_lot))
        if len(kinds) > 1:
            raise Unusable(f"lot {name} has boards of {', '.join(kinds)}; say which with --board")
        every = _lots(board_states(records, Wanted(board=kinds[0]), simulated=simulated))
        upto = list(every)[: list(every).index(name) + 1]
        lots = [_lot(one, every[one], _sizes(sizes, every)) for one in upto]
        _need_not(corrected, upto)
        try:
            series = inspect(lots, limit, reduced=reduced, corrected=corrected)
        except NoSuchPlan as error:
            raise Unusable(str(error)) from None
    _need_all(corrected, series)
    found, states = series[-1], every[name]
    if as_json:
        click.echo(json.dumps(_data(series, states), ensure_ascii=False, indent=2))
    else:
        for line in _lines(series, states):
            click.echo(line)
    if left:
        click.echo(f"  {left_out(left)}", err=as_json)
    return {"accept": CONFORMS, "go on": UNDECIDED}.get(found.decision, DEVIATES)


def _lots(states: Sequence[BoardState]) -> dict[str, list[BoardState]]:
    """Give the boards of each lot, lots and boards in the order in which they were first measured."""
    found: dict[str, list[BoardState]] = {}
    for state in sorted(states, key=lambda state: state.first_measured):
        if state.lot is not None:
            found.setdefault(state.lot, []).append(state)
    return found


def _sizes(given: Sequence[str], lots: Mapping[str, object]) -> dict[str | None, int]:
    """Read ``--size``: a number for all lots (by None), ``NAME=NUMBER`` for one. Raises Unusable."""
    from boardgauge.language.problems import nearest_of

    found: dict[str | None, int] = {}
    for text in given:
        name, sign, number = text.rpartition("=")
        if not (number.isascii() and number.isdigit() and 2 <= int(number) < 10**9):
            raise Unusable(f"--size {text}: expected how many boards a lot has, 2 or more: 40, or 26-14=40 for one lot")
        if sign and name not in lots:
            near = nearest_of(name, lots)
            hint = f"; did you mean {near!r}?" if near else ""
            raise Unusable(f"--size {text}: no board of lot {name} was judged{hint}")
        key = name if sign else None
        if key in found:
            raise Unusable(f"--size {text}: the size of {f'lot {name}' if sign else 'all lots'} was said already")
        found[key] = int(number)
    return found


def _lot(name: str, states: Sequence[BoardState], sizes: Mapping[str | None, int]) -> Lot:
    from boardgauge.records.switching import Lot

    size = sizes.get(name, sizes.get(None))
    if size is None:
        raise Unusable(
            f"--size: how many boards lot {name} has is not said: --size {name}=NUMBER, or one number for all"
        )
    if len(states) > size:
        raise Unusable(
            f"--size {size}: {len(states)} boards of lot {name} were judged already; --size {name}=NUMBER says it of "
            "this lot alone"
        )
    return Lot(name, size, tuple(state.verdict for state in states))


def _need_not(corrected: Sequence[str], upto: Sequence[str]) -> None:
    for name in corrected:
        if name not in upto:
            raise Unusable(f"--corrected {name}: is no lot up to {upto[-1]}; they are {', '.join(upto)}")


def _need_all(corrected: Sequence[str], series: Sequence[Inspected]) -> None:
    """Refuse to take a lot for the first after a correction where inspection was not discontinued before it."""
    stopped = [before.after.discontinued for before in series[:-1]]
    for name in corrected:
        place = next(index for index, one in enumerate(series) if one.lot.name == name)
        if place == 0 or not stopped[place - 1]:
            raise Unusable(f"--corrected {name}: inspection was not discontinued before lot {name}")


def _lines(series: Sequence[Inspected], states: Sequence[BoardState]) -> Iterator[str]:
    found, before = series[-1], series[:-1]
    plan, standing = found.plan, found.before
    yield f"lot {found.lot.name}: {found.decision}"
    if not standing.discontinued:
        yield from _decided(found, states)
    counted = [one for one in before if one.decision in ("accept", "do not accept")]
    if counted:
        left = f"{len(counted) - _SHOWN} more, " if len(counted) > _SHOWN else ""
        yield f"  before     {left}{', '.join(_of_series(one) for one in counted[-_SHOWN:])}"
    open_ = [one for one in before if one.decision == "go on"]
    if open_:
        told = ", ".join(f"{one.lot.name} ({one.judged} of {one.plan.n} judged)" for one in open_[-_SHOWN:])
        yield f"  not yet    {told}: not decided, so {'it does' if len(open_) == 1 else 'they do'} not count"
    yield f"  next lot   {_next(found.after)}"
    if not standing.discontinued:
        shares = [float(plan.limit) / 100 * factor for factor in (1, 2, 5, 10)]
        odds = ", ".join(f"{share * 100:g} % {plan.accepted(share):.4f}" for share in shares if share < 1)
        yield f"  would accept a lot with this share of bad boards so often: {odds}"


def _decided(found: Inspected, states: Sequence[BoardState]) -> Iterator[str]:
    plan = found.plan
    standard = "MIL-STD-105E, table II-C" if plan.severity == "reduced" else "ISO 2859-1"
    other = f", which leads to {plan.used}" if plan.used != plan.letter else ""
    every = " (the whole lot)" if plan.all else ""
    yield (
        f"  plan       {standard}, single sampling, {plan.severity} inspection, level II: lot of {plan.lot}, code "
        f"letter {plan.letter}{other}; limit {plan.limit} %"
    )
    yield (
        f"  sample     {plan.n} boards{every}: accept with up to {plan.reject - 1} that deviate, do not accept from "
        f"{plan.reject} on"
        + (
            f"; with more than {plan.accept}, the next lot is inspected normally"
            if plan.reject > plan.accept + 1
            else ""
        )
    )
    sample = states[: plan.n]
    named = [state.serial for word in ("deviates", "undecided") for state in sample if state.verdict == word]
    more = f" and {len(named) - _SHOWN} more" if len(named) > _SHOWN else ""
    told = f" ({', '.join(named[:_SHOWN])}{more})" if named else ""
    yield f"  judged     {found.judged}: {found.bad} that deviate, {found.open} undecided{told}"
    good = [state.serial for state in sample if state.made_good]
    if good:
        yield (
            f"  made good  {', '.join(good[:_SHOWN])} deviated at an earlier visit and counts by the last; if it was "
            "mended, and not measured wrongly then, the boards that were not drawn are as it was"
        )
    if len(states) > found.judged:
        yield f"  beyond it  {len(states) - found.judged} more boards were judged; the first {plan.n} are the sample"
    for simulated, said in ((True, SIMULATED), (None, NOT_KEPT)):
        unreal = sum(state.simulated is simulated for state in sample)
        if unreal:
            yield f"  boards     of {unreal} of these boards: {said}"
    if found.decision == "go on":
        left = plan.n - found.judged
        yield f"  to do      {f'judge {left} more, drawn at random' if left else 'settle what is undecided'}"
    whole = sum(state.plan_complete for state in sample)
    yield (
        f"  covered    {whole} of {found.judged} boards ran a plan and reached all its goals; of the others only what "
        "was exercised is known"
    )


def _of_series(one: Inspected) -> str:
    word = "accepted" if one.decision == "accept" else "not accepted"
    return f"{one.lot.name} {word} ({one.before.severity}, {one.bad} bad of {one.judged})"


def _next(standing: Standing) -> str:
    """Say how the next lot is inspected, and why."""
    if standing.discontinued:
        return (
            f"none: {standing.refused} lots were not accepted at tightened inspection, so it is discontinued until "
            "what is wrong was put right; --corrected LOT names the first lot after that"
        )
    told = f"{standing.severity} inspection"
    match standing.severity:
        case "normal":
            if not all(standing.results):
                of = "the last lot" if len(standing.results) == 1 else f"one of the last {len(standing.results)} lots"
                told += f"; {of} was not accepted, a second of five makes it tightened"
            if standing.may_be_reduced:
                told += f"; the switching score is {standing.score}: --reduced may be said if boards are made steadily"
            else:
                told += f"; switching score {standing.score} of 30"
        case "tightened":
            if standing.results:
                told += f"; {many(standing.refused, 'lot')} not accepted since it is (5 end it)"
            told += "; 5 accepted in a row make it normal"
        case "reduced":
            told += "; a lot that is not accepted makes it normal"
    return told


def _data(series: Sequence[Inspected], states: Sequence[BoardState]) -> dict[str, Any]:
    found = series[-1]
    plan, sample = found.plan, states[: found.plan.n]
    return {
        "lot": found.lot.name,
        "decision": found.decision,
        "severity": plan.severity,
        "size": plan.lot,
        "limit_percent": plan.limit,
        "code_letter": plan.letter,
        "plan_letter": plan.used,
        "sample": plan.n,
        "accept": plan.accept,
        "reject": plan.reject,
        "boards": [
            {"serial": s.serial, "verdict": s.verdict, "plan_complete": s.plan_complete, "simulated": s.simulated}
            for s in sample
        ],
        "before": [
            {
                "lot": one.lot.name,
                "decision": one.decision,
                "severity": one.before.severity,
                "size": one.lot.size,
                "judged": one.judged,
                "bad": one.bad,
                "undecided": one.open,
            }
            for one in series[:-1]
        ],
        "next": {
            "severity": found.after.severity,
            "switching_score": found.after.score,
            "discontinued": found.after.discontinued,
        },
    }
