"""What a test that fails says: the judge's explanation, and what was done.

Law of this module: it adds nothing to the judgement; times are seconds since the rig was started.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from attrs import frozen

from boardgauge.command.report import deviation_lines
from boardgauge.judging.judgement import Judgement
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import Quantity
from boardgauge.language.quantity_writer import write_quantity
from boardgauge.machine.run import POWER, Value

MOST_DEVIATIONS = 5
MOST_DEEDS = 60
_WORDS = {
    InputKind.CALL: ("off", "on"),
    InputKind.SIGNAL: ("off", "on"),
    InputKind.SWITCH: ("open", "closed"),
    InputKind.LINK: ("open", "fitted"),
    InputKind.BUTTON: ("released", "pressed"),
}


class FirmwareDeviates(AssertionError):
    """The firmware did what its spec forbids; the message is the judge's."""


class UndecidedVerdict(AssertionError):
    """Nothing can be said beyond doubt, and the test wants it said."""


class NotShown(AssertionError):
    """The firmware did nothing wrong, and the test did not get to see what it was to show."""


@frozen
class Deed:
    """What was done at a moment: in words."""

    time: int
    text: str


def words_of(board: Board, name: str, value: Value) -> str:
    """Give an input at a value in the words of its kind: ``light on``, ``coil 20 °C``."""
    if name == POWER:
        return "supply on" if value else "supply off"
    row = board.inputs[name]
    if row.kind is InputKind.SENSOR:
        return f"{name} {write_quantity(Quantity(Fraction(value), row.unit or ''))}"
    return f"{name} {_WORDS[row.kind][bool(value)]}"


def failure_text(judgement: Judgement, deeds: Sequence[Deed]) -> str:
    """Give what a test says of a firmware that deviates."""
    return "\n".join(_lines(judgement, deeds))


def _lines(judgement: Judgement, deeds: Sequence[Deed]) -> Iterator[str]:
    number = len(judgement.deviations)
    found = f"{number} deviation{'' if number == 1 else 's'}"
    yield f"{judgement.file} deviates from the spec {judgement.board} ({judgement.spec_digest[:12]}): {found}"
    for deviation in judgement.deviations[:MOST_DEVIATIONS]:
        yield ""
        yield from deviation_lines(judgement, deviation)
    if number > MOST_DEVIATIONS:
        yield ""
        yield f"  and {number - MOST_DEVIATIONS} more"
    yield ""
    yield from deed_lines(deeds, judgement.deviations[0].time if judgement.deviations else None)


def deed_lines(deeds: Sequence[Deed], until: int | None = None) -> Iterator[str]:
    """Give what was done, up to a moment."""
    done = [deed for deed in deeds if until is None or deed.time <= until]
    yield "what was done until then:" if until is not None else "what was done:"
    if len(done) > MOST_DEEDS:
        yield f"  ({len(done) - MOST_DEEDS} earlier steps left out)"
    for deed in done[-MOST_DEEDS:]:
        yield f"  {deed.time / 1_000_000:.3f} s  {deed.text}"
