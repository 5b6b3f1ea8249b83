"""Whether two boards can be compared at all, and where one's terminals may do what the other's may not.

Law of this module: boards are compared at their terminals, so both have the same ones, of the same kinds; what one has
alone is set aside by a mapping, or they are not comparable.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from boardgauge.language.model import Board, Input, Lamp
from boardgauge.language.problems import nearest_of
from boardgauge.language.quantities import Tolerance
from boardgauge.language.units import difference_in_unit
from boardgauge.pairing.differences import without_prose
from boardgauge.pairing.renaming import SECTIONS, Renaming
from boardgauge.proving.slicing import names_in


def not_comparable(first: Board, second: Board, renaming: Renaming) -> tuple[str, ...]:
    """Give the reasons why two boards cannot be compared, none if they can; the second has the first's names."""
    return tuple(_reasons(first, second, renaming))


def _reasons(first: Board, second: Board, renaming: Renaming) -> Iterator[str]:
    for section in SECTIONS:
        what = section[:-1]
        ours, theirs = getattr(first, section), getattr(second, section)
        alone = (renaming.first_only.get(section, {}), renaming.second_only.get(section, {}))
        for rows, others, set_aside, board, other, table in (
            (ours, theirs, alone[0], first, second, "first_only"),
            (theirs, ours, alone[1], second, first, "second_only"),
        ):
            free = [name for name in others if name not in rows]
            for name in rows:
                if name in others or renaming.in_second_words(name) in set_aside:
                    continue
                near = nearest_of(name, free)
                hint = f" (is it {near!r} there?)" if near else ""
                aside = f"[{table}.inputs]" if section == "inputs" else f"[{table}]"
                yield (
                    f"{what} {name}: {board.id} has it, {other.id} has not{hint}. A mapping file gives it its name "
                    f"there under [{section}], or sets it aside under {aside}"
                )
    for name, row in first.inputs.items():
        other_row = second.inputs.get(name)
        if other_row is not None and (row.kind, row.unit) != (other_row.kind, other_row.unit):
            yield f"input {name}: it is {_kind(row)} on {first.id} and {_kind(other_row)} on {second.id}"


def _kind(row: Input) -> str:
    return f"a {row.kind.value}" + (f" in {row.unit}" if row.unit else "")


def may_do_more(first: Board, second: Board) -> tuple[str, ...]:
    """Give what about the second's terminals the first's do not allow, as ``section.name``; none: all is allowed."""
    return tuple(_more(first, second))


def _more(first: Board, second: Board) -> Iterator[str]:
    clock = first.clock != second.clock and second.clock != "shared"
    if clock or first.same_moment < second.same_moment or not _within(first.rides_through, second.rides_through):
        yield "board"
    for name, row in second.inputs.items():
        mine = first.inputs.get(name)
        if mine is None:
            continue
        if (
            not _within(mine.filter, row.filter)
            or row.responds_within > mine.responds_within
            or _accuracy(row) > _accuracy(mine)
            or (row.contact, row.curve) != (mine.contact, mine.curve)
        ):
            yield f"inputs.{name}"
    for name, output in second.outputs.items():
        ours = first.outputs.get(name)
        if ours is not None and (output.lag > ours.lag or output.contact != ours.contact):
            yield f"outputs.{name}"
    for name, lamp in second.lamps.items():
        its = first.lamps.get(name)
        if its is not None and not _lamp_within(its, lamp):
            yield f"lamps.{name}"
    if not _masks_within(first, second):
        yield "not_judged.not_judged"


def _masks_within(first: Board, second: Board) -> bool:
    """Tell whether all that is not judged of the second is not judged of the first."""
    if any(row not in without_prose(first.not_judged) for row in without_prose(second.not_judged)):
        return False
    shown = {*second.inputs, *second.outputs, *second.lamps}
    if all(names_in([row.after]) <= shown for row in second.not_judged):
        return True
    # What such a stretch begins with does not show, so it may begin at other moments.
    return all(
        without_prose(getattr(first, section)) == without_prose(getattr(second, section))
        for section in ("settings", "conditions", "rules")
    )


def _accuracy(row: Input) -> Fraction:
    """Give how far a sensor may be off, in its own unit, whichever its accuracy is written in."""
    if row.accuracy is None or row.unit is None:
        return Fraction(0)
    return difference_in_unit(row.accuracy, row.unit).number


def _within(outer: object, inner: object) -> bool:
    low, high = getattr(outer, "least", 0), getattr(outer, "greatest", 0)
    return bool(low <= getattr(inner, "least", 0) and getattr(inner, "greatest", 0) <= high)


def _lamp_within(mine: Lamp, its: Lamp) -> bool:
    return (
        (mine.flash, mine.between_groups) == (its.flash, its.between_groups)
        and _no_wider(its.tolerance, mine.tolerance)
        and its.changes_within <= mine.changes_within
        and its.not_judged_for <= mine.not_judged_for
    )


def _no_wider(one: Tolerance, other: Tolerance) -> bool:
    return (
        one.percent_less <= other.percent_less
        and one.percent_more <= other.percent_more
        and one.less <= other.less
        and one.more <= other.more
    )
