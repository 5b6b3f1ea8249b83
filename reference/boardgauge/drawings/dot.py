"""Write DOT in the notation of state machines (UML 2.5.1, clause 14): the few shapes the drawings share.

Law of this module: text in, text out; the same values give the same text. Black, white and one light grey only, so
that a diagram survives any copier.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence

FONT_SIZE = 11.0
"""Points as printed before the page is scaled."""

SPARE = 1.06
"""How much wider the layout takes text to be than it is printed: the face at hand may be wider than the measured."""

GREY = "#e6e6e6"

_WITH_UNIT = re.compile(r"(§|\d) (ms|s|min|h|%|°C|°F|V|\d)(?![a-z])")


def quoted(text: str) -> str:
    """Put a text in DOT's double quotes; ``\\n`` and ``\\l`` in it keep their meaning as line ends."""
    return '"' + text.replace('"', '\\"') + '"'


def wrapped(text: str, width: int, mark: str = "\\n") -> str:
    """Wrap a text at ``width`` letters into lines of like length; a number stays with its unit.

    ``mark`` ends a line as DOT has it: ``\\n`` centred, ``\\l`` set left (then the last line ends in it as well).
    """
    plain = _WITH_UNIT.sub("\\1\u00a0\\2", text.replace("\\", "/"))
    lines = [line for part in plain.split("\n") for line in _balanced(part, width)]
    return "\\n".join(lines) if mark == "\\n" else "".join(line + mark for line in lines)


def _balanced(text: str, width: int) -> list[str]:
    fewest = _wrap(text, width)
    for narrower in range(width - 1, 11, -1):
        lines = _wrap(text, narrower)
        if len(lines) > len(fewest) or max(map(len, lines)) > width:
            break
        fewest = lines
    return fewest


def _wrap(text: str, width: int) -> list[str]:
    # A no-break space is a letter to the wrapper only if it is not in the white space that it splits at.
    made = textwrap.wrap(text.replace("\u00a0", "\u2007"), width, break_long_words=False, break_on_hyphens=False)
    return [line.replace("\u2007", "\u00a0") for line in made] or [""]


def header(direction: str, ranksep: float = 0.55, nodesep: float = 0.45) -> list[str]:
    """Give the opening lines of a diagram laid out ``LR`` or ``TB``."""
    size = f"{FONT_SIZE * SPARE:.2f}"
    return [
        "digraph statemachine {",
        f'  graph [rankdir={direction}, compound=true, ranksep={ranksep}, nodesep={nodesep}, fontname="Times-Roman",'
        f" fontsize={size}, margin=0, pad=0.05];",
        f'  node [shape=Mrecord, fontname="Times-Roman", fontsize={size}, margin="0.13,0.07", penwidth=1];',
        f'  edge [fontname="Times-Roman", fontsize={size}, arrowsize=0.7, arrowhead=vee, penwidth=0.8];',
    ]


def state(
    node: str, name: str, inside: Sequence[str], *, upright: bool = False, bold: bool = False, grey: bool = False
) -> str:
    """Give a state: a rounded rectangle with its name and, below a line, what goes on in it.

    ``upright``: the diagram is laid out TB; DOT turns the fields of a record with the layout.
    """
    label = _record(wrapped(name, 30))
    if inside:
        label += "|" + "".join(_record(wrapped(line, 36, "\\l")) for line in inside)
    if upright:
        label = "{" + label + "}"
    look = ", penwidth=2" if bold else ""
    if grey:
        look += f', style=filled, fillcolor="{GREY}"'
    return f"  {quoted(node)} [label={quoted(label)}{look}];"


def initial(node: str) -> str:
    """Give the initial pseudostate: a filled circle."""
    return f'  {quoted(node)} [shape=circle, style=filled, fillcolor=black, label="", width=0.14, fixedsize=true];'


def history(node: str) -> str:
    """Give the history pseudostate, an H in a circle: what is kept is entered again where it was left."""
    return f'  {quoted(node)} [shape=circle, label="H", width=0.28, fixedsize=true, margin=0];'


def final(node: str) -> str:
    """Give the final state: a filled circle in a ring."""
    return (
        f'  {quoted(node)} [shape=doublecircle, style=filled, fillcolor=black, label="", width=0.12, fixedsize=true];'
    )


def unseen(node: str) -> str:
    """Give a place for the end of an arrow that is cut off at the frame round it."""
    return f'  {quoted(node)} [shape=point, style=invis, label="", width=0.01];'


def arrow(
    source: str, target: str, lines: Sequence[str], attributes: Mapping[str, str] | None = None, width: int = 34
) -> str:
    """Give a transition with its label, one wrapped line after another."""
    extra = "".join(f", {key}={quoted(value)}" for key, value in sorted((attributes or {}).items()))
    return f"  {quoted(source)} -> {quoted(target)} [label={quoted(_label(lines, width))}{extra}];"


def back_arrow(
    source: str, target: str, lines: Sequence[str], attributes: Mapping[str, str] | None = None, width: int = 34
) -> str:
    """Give a transition that runs against the layout: it leads back to what stands first."""
    turned = {{"ltail": "lhead", "lhead": "ltail"}.get(key, key): value for key, value in (attributes or {}).items()}
    return arrow(target, source, lines, {**turned, "dir": "back", "arrowtail": "vee"}, width)


def broken_arrow(
    source: str, target: str, lines: Sequence[str], width: int = 34, attributes: Mapping[str, str] | None = None
) -> list[str]:
    """Give a transition against the layout whose label stands in its way, inside the frame round both its states.

    DOT gives the label beside such an arrow no room inside a frame; a label that is a node gets its room.
    """
    label = f"{source} to {target}"
    extra = "".join(f", {key}={quoted(value)}" for key, value in sorted((attributes or {}).items()))
    return [
        note(label, lines, width),
        f"  {quoted(target)} -> {quoted(label)} [dir=back, arrowtail=vee{extra}];",
        f"  {quoted(label)} -> {quoted(source)} [dir=none{extra}];",
    ]


def note(node: str, lines: Sequence[str], width: int = 34) -> str:
    """Give a note: text in no box, from which an arrow may start."""
    return f"  {quoted(node)} [shape=plaintext, margin=0.03, label={quoted(_label(lines, width))}];"


def _label(lines: Sequence[str], width: int) -> str:
    # A blank on either side keeps the letters off the arrow, which passes close by.
    parts = (part for line in lines for part in wrapped(line, width).split("\\n"))
    return "\\n".join(f"\u00a0{part}\u00a0" for part in parts)


def _record(text: str) -> str:
    """Mask what a record label would take for a field."""
    for mark in "{}|<>":
        text = text.replace(mark, "\\" + mark)
    return text
