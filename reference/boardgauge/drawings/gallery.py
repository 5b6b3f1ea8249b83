"""Draw a board: its overview, one of its rules, or everything there is to draw.

Law of this module: the public door to the diagrams; it chooses, and draws nothing itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, overload

from rapidfuzz import process

from boardgauge.drawings.group import KINDS, group_of, group_pages
from boardgauge.drawings.overview import overview_diagram
from boardgauge.drawings.overview_pages import overview_pages
from boardgauge.drawings.page import Paper
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.rendering import Format, render
from boardgauge.drawings.state_diagram import drawable, state_diagram
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.operating import overview
from boardgauge.machine.table import Machine


class NothingToDraw(LookupError):
    """The board has no rule or output of that id."""


def pictures(machine: Machine, what: str = "all") -> Iterator[Picture]:
    """Give the pictures of ``"overview"``, of a rule or output by its id, or ``"all"``. Raises NothingToDraw."""
    if what in {"overview", "all"}:
        yield overview_diagram(overview(machine))
    if what == "all":
        for rule in drawable(machine):
            yield state_diagram(machine, rule)
    elif what != "overview":
        yield state_diagram(machine, _known(machine, what))


@overload
def draw(  # type: ignore[overload-overlap]  # "all" is a text as well; the first of the two wins
    board: Board | Machine, what: Literal["all"], format: Format = "svg", paper: Paper = "letter"
) -> dict[str, bytes]: ...


@overload
def draw(board: Board | Machine, what: str = "overview", format: Format = "svg", paper: Paper = "letter") -> bytes: ...


def draw(
    board: Board | Machine, what: str = "overview", format: Format = "svg", paper: Paper = "letter"
) -> bytes | dict[str, bytes]:
    """Draw a board in ``svg`` or ``dot`` (in its own size), ``png`` or ``pdf`` (one page of letter or a4).

    ``what`` is ``"overview"``, the id of a rule or output, or ``"all"``: then the bytes come by name, ``overview``
    first. Raises NothingToDraw for an id the board does not have.
    """
    machine = compile_board(board) if isinstance(board, Board) else board
    if what == "all":
        return {picture.name: render(picture, machine.board, format, paper) for picture in pictures(machine)}
    return render(next(pictures(machine, what)), machine.board, format, paper)


def pages(machine: Machine, what: str = "overview", paper: Paper | None = "letter") -> tuple[Picture, ...]:
    """Give the pages of the overview, of a rule or output by its id, of a group of rules, or of several (by commas).

    A group is a kind of rule in the plural (``lockouts``) or ``outputs``. Without ``paper`` nothing is split. Raises
    NothingToDraw.
    """
    names = [name.strip() for name in what.split(",") if name.strip()]
    if "overview" in names:
        seen = overview_pages(overview(machine), paper)
        others = ",".join(name for name in names if name != "overview")
        return (*seen, *(pages(machine, others, paper) if others else ()))
    rules: list[str] = []
    for name in names:
        group = group_of(machine, name)
        if group == ():
            raise NothingToDraw(f"board {machine.board.id} has no {name}")
        rules += group if group is not None else (_known(machine, name),)
    if not rules:
        raise NothingToDraw("nothing to draw was named")
    if len(names) == 1 and names[0] == rules[0]:
        return (state_diagram(machine, rules[0]),)
    return group_pages(machine, ", ".join(names), tuple(dict.fromkeys(rules)), paper)


def _known(machine: Machine, what: str) -> str:
    known = [*machine.board.rules, *machine.board.outputs]
    if what in known:
        return what
    nearest = process.extractOne(what, ["overview", *KINDS, "outputs", *known], score_cutoff=60)
    hint = f'; did you mean "{nearest[0]}"?' if nearest else f": there are overview, {', '.join(known)}"
    raise NothingToDraw(f'board {machine.board.id} has no rule or output "{what}"{hint}')
