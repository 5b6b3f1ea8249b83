"""What a deviation says of the requirement that was broken.

Law of this module: it speaks of an output that the requirement names, in the words of the spec.
"""

from __future__ import annotations

from boardgauge.language.expression_writer import write_expression
from boardgauge.language.model import Always, Board, Follows, Never, Requirement
from boardgauge.language.quantities import EXACTLY
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.machine.compile import expressions_of
from boardgauge.proving.slicing import read_by


def output_asked_of(board: Board, requirement: Requirement, changed: str | None) -> str | None:
    """Give the output that a requirement speaks of: the one that changed when it was broken if it is one of them, else
    the first it names; the one that changed where it names none."""
    named = read_by(board, (expression for owner, expression in expressions_of(board) if owner == requirement.id))
    outputs = [name for name in board.outputs if name in named]
    return outputs[0] if outputs and changed not in outputs else changed


def in_words(requirement: Requirement) -> str:
    """Say what is asked: by the title or the text, else as it is written."""
    match requirement.demand:
        case Never(what=what):
            written = f"never {write_expression(what, EXACTLY)}"
        case Always(what=what):
            written = f"always {write_expression(what, EXACTLY)}"
        case Follows(after=after, then=then, within=within):
            written = f"{write_expression(then, EXACTLY)} within {write_plain_time(within)} after "
            written += write_expression(after, EXACTLY)
        case together:
            written = f"{' and '.join(together.outputs)} together"
    return requirement.note.title or requirement.note.text or written
