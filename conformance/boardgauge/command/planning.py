"""``boardgauge plan``.

Law of this module: the clock is read here and nowhere below; how far it came is told on standard error, the plan on
standard output.
"""

from __future__ import annotations

import shlex
import time
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click
from attrs import evolve

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, find_wiring, plan_beside, spec_path
from boardgauge.command.handing_out import command_line
from boardgauge.command.options import time_given
from boardgauge.command.progress_line import ProgressLine
from boardgauge.drawings.page import Paper

if TYPE_CHECKING:
    from boardgauge.language.model import Board
    from boardgauge.plans.making import Made
    from boardgauge.plans.plan import Plan
    from boardgauge.plans.wish import Wish
    from boardgauge.rigs.rig_file import RigFile
    from boardgauge.sheets.blocks import Sheet

_ENDINGS = (".toml", ".pdf", ".txt")


def plan_board(
    given: str,
    outputs: tuple[str, ...],
    *,
    at_most: str | None,
    groups: str | None,
    wired: str | None,
    wiring: str | None,
    rig: str | None,
    seed: int,
    planning_time: str,
    jobs: int | None,
    paper: str,
    table: bool,
) -> None:
    """Make the plan of a board, write it, and print what it comes to."""
    from boardgauge.many.workers import cores

    board = find_board(given)
    for output in outputs:
        _check_output(Path(output))
    wish = _wish(board, given, at_most, groups, wired, wiring, seed)
    if rig is not None:
        wish = for_rig(wish, _rig_file(rig, board))
    made = made_within(wish, time_given("--planning-time", planning_time), jobs or cores())
    click.echo(summary(made, board))
    _write_out(made.plan, board, given, outputs, paper=paper, table=table)


def write_kept(given: str, outputs: tuple[str, ...], *, paper: str, table: bool) -> None:
    """Write out the plan that comes with a board, or is kept beside its spec: the one that the bench takes."""
    from boardgauge.command.plan_choosing import plan_that_is_there

    board = find_board(given)
    for output in outputs:
        _check_output(Path(output))
    chosen = plan_that_is_there(given, board)
    if chosen is None:
        raise Unusable(
            f"no plan comes with {given}, and none is kept at {plan_beside(spec_path(given))}; "
            "leave --kept out, and one is made"
        )
    click.echo(chosen.said)
    _write_out(chosen.plan, board, given, outputs, paper=paper, table=table)


def _write_out(plan: Plan, board: Board, given: str, outputs: tuple[str, ...], *, paper: str, table: bool) -> None:
    from boardgauge.plans.plan_writer import write_plan
    from boardgauge.plans.sheet import plan_sheets
    from boardgauge.sheets.as_text import to_text

    plan_file = next((output for output in outputs if output.lower().endswith(".toml")), "PLAN.toml")
    sheets = plan_sheets(plan, board, shlex.join(["boardgauge", "plan", given, "--enter", plan_file]))
    if table:
        for sheet in sheets:
            click.echo("\n" + to_text(sheet), nl=False)
    for output in outputs:
        path = Path(output)
        match path.suffix.lower():
            case ".toml":
                path.write_text(write_plan(plan, board), encoding="utf-8")
            case ".pdf":
                path.write_bytes(pdf_of(plan, sheets, board, cast(Paper, paper)))
            case _:
                path.write_text("\n".join(map(to_text, sheets)), encoding="utf-8")
        click.echo(output)


def _check_output(path: Path) -> None:
    """Refuse what could not be written, before minutes are spent on a plan."""
    if path.suffix.lower() not in _ENDINGS:
        raise Unusable(f"{path}: the format is not plain from the name; end it in {', '.join(_ENDINGS)}")
    if not path.parent.is_dir():
        raise Unusable(f"{path}: there is no folder {path.parent}")


def pdf_of(plan: Plan, sheets: tuple[Sheet, ...], board: Board, paper: Paper) -> bytes:
    """Give the sheets of a plan as PDF."""
    from boardgauge.sheets.as_typst import to_pdf
    from boardgauge.sheets.handout import Handout

    footer = f"{board.id} {board.digest[:12]} · {command_line()}"
    first, *others = sheets
    return to_pdf(Handout(plan.title, first.blocks, tuple(others), footer), paper)


def _wish(
    board: Board,
    given: str,
    at_most: str | None,
    groups: str | None,
    wired: str | None,
    wiring: str | None,
    seed: int,
) -> Wish:
    from boardgauge.faults import GROUPS
    from boardgauge.language.problems import nearest_of
    from boardgauge.plans.wish import wish_for

    wanted = None if groups is None else [name.strip() for name in groups.split(",")]
    for name in wanted or ():
        if name not in GROUPS:
            near = nearest_of(name, GROUPS)
            hint = f"; did you mean {near!r}?" if near else f"; they are {', '.join(GROUPS)}"
            raise Unusable(f"--faults {name}: there is no such kind of fault{hint}")
    wish = wish_for(board, wanted)
    if wired is not None and wiring is not None:
        raise Unusable("--wired and --wiring both say what the bench sees; leave one out")
    if wiring is not None:
        signals = {wire.signal for wire in find_wiring(wiring, board, spec_path(given)).wires}
        seen = [name for name in (*board.outputs, *board.lamps) if name in signals]
    elif wired is not None:
        seen = [name.strip() for name in wired.split(",") if name.strip()]
        for name in seen:
            if name not in board.outputs and name not in board.lamps:
                near = nearest_of(name, {**board.outputs, **board.lamps})
                hint = f"; did you mean {near!r}?" if near else ""
                raise Unusable(f"--wired {name}: {board.id} has no such output or lamp{hint}")
    else:
        seen = [*board.outputs, *board.lamps]
    if not seen:
        raise Unusable("the bench sees no output and no lamp, so nothing can be told")
    return evolve(
        wish,
        outputs=tuple(name for name in board.outputs if name in seen),
        lamps=tuple(name for name in board.lamps if name in seen),
        at_most=None if at_most is None else time_given("--at-most", at_most),
        seed=seed,
    )


def made_within(wish: Wish, limit: int, jobs: int) -> Made:
    """Make a plan, looking no longer than ``limit`` microseconds; how far it is stands on standard error."""
    from boardgauge.plans.making import make_plan

    begun = time.monotonic()
    line = ProgressLine()
    try:
        return make_plan(wish, lambda: (time.monotonic() - begun) * 1_000_000 > limit, line.tell, jobs)
    finally:
        line.wipe()


def _rig_file(rig: str, board: Board) -> RigFile:
    from boardgauge.language.problems import UnusableSpec
    from boardgauge.rigs.rig_file import read_rig_file

    try:
        return read_rig_file(rig, board)
    except UnusableSpec as error:
        raise Unusable(str(error)) from None


def for_rig(wish: Wish, file: RigFile) -> Wish:
    """Ask for no more than a rig can do: what it sees, what it drives, and nothing that it says is never driven."""
    from boardgauge.language.expression_reader import read_condition
    from boardgauge.language.model import InputKind
    from boardgauge.language.scope import BARE, word_of

    sees, drives = file.points.sees, file.points.drives
    outputs = [name for name in wish.outputs if sees is None or name in sees]
    # A person cannot tell how fast a lamp flashes.
    lamps = [name for name in wish.lamps if file.kind != "person" and (sees is None or name in sees)]
    if not outputs and not lamps:
        raise Unusable(f"{file.file}: sees none of the outputs and lamps that the plan may look at")
    never = [interlock.condition for interlock in file.never]
    for row in wish.board.inputs.values():
        if drives is None or row.id in drives or row.kind is InputKind.SENSOR:
            continue
        moved = word_of(row.kind, not row.rests_on)
        bare = ("" if moved == "on" else "not ") + row.id
        never.append(read_condition(bare if row.kind.value in BARE else f"{row.id} {moved}"))
    return evolve(wish, outputs=tuple(outputs), lamps=tuple(lamps), never=tuple(never))


def summary(made: Made, board: Board) -> str:
    """Give what a plan comes to, in a few lines."""
    from boardgauge.plans.making import told_time
    from boardgauge.plans.plan import PLURALS
    from boardgauge.plans.sheet import needs

    plan = made.plan
    steps = sum(len(sitting.steps) for sitting in plan.sittings)
    lines = [
        f"{plan.title}",
        f"  {steps} steps in {len(plan.sittings)} sitting{'s' if len(plan.sittings) != 1 else ''}, "
        f"{told_time(plan.expected_time)} of bench on a rig, for a board at nominal times",
        f"  faults found {made.found} of {made.faults}, at nominal, earliest, latest and random lengths alike",
    ]
    for row in plan.leaves_out:
        if row.kind == "fault":
            names = ", ".join(row.goals[:4]) + (f" and {len(row.goals) - 4} more" if len(row.goals) > 4 else "")
            lines.append(f"    {len(row.goals)} left out, {row.reason}: {names}")
    kinds = dict.fromkeys([*(row.kind for row in plan.covers), *(row.kind for row in plan.leaves_out)])
    for kind in kinds:
        if kind != "fault":
            got = sum(len(row.goals) for row in plan.covers if row.kind == kind)
            left = [row for row in plan.leaves_out if row.kind == kind]
            lines.append(f"  {PLURALS[kind]} shown: {got} of {got + sum(len(row.goals) for row in left)}")
            lines += [f"    {len(row.goals)} left out, {row.reason}: {_some(row.goals)}" for row in left]
    if needs(plan):
        lines.append(f"  {needs(plan)}")
    return "\n".join(lines)


def _some(goals: tuple[str, ...]) -> str:
    return "; ".join(goals[:2]) + (f" and {len(goals) - 2} more" if len(goals) > 2 else "")
