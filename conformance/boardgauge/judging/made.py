"""Make a function of a tape: plain Python that asks what the tape was asked, and works out what it came to.

Law of this module: only numbers of our own and fixed words are put together, no text of a spec.
"""

from __future__ import annotations

from typing import Any

from boardgauge.judging.symbols import ZERO, Place, Tape, place_of


def function_of(
    tape: Tape, own: int, pending: int, ended: list[tuple[int, int, int, bool]], results: list[Place], outcome: object
) -> Any:
    lines = ["def made(n, s, e, l, c, x):"]
    names = [*(f"n{i}" for i in range(own)), *(f"p{i}" for i in range(pending))]
    lines.append(f" ({','.join(names)},) = n")
    writer = _Writer(tape, lines)
    for sign, one, other, by in tape.guards:
        turned = {"<": ">=", ">=": "<", "==": "!=", "!=": "=="}[sign]
        lines.append(f" if {writer.text((one, 0))} {turned} {writer.text((other, by))}: return None")
    for timing, least, greatest, sped_up in ended:
        low, high = writer.text(place_of(least)), writer.text(place_of(greatest))
        lines.append(f" x.ended({timing}, {low}, {high}, {sped_up})")
    texts = [writer.text(place) for place in results]
    lines.append(f" return outcome, {'n' if texts == names else '(' + ''.join(t + ',' for t in texts) + ')'}")
    names_ = {"__builtins__": {}, "outcome": outcome}
    exec("\n".join(lines), names_)
    return names_["made"]


class _Writer:
    """Writes nodes down as they are needed."""

    def __init__(self, tape: Tape, lines: list[str]) -> None:
        self._tape, self._lines = tape, lines
        self._names: dict[int, str] = {}

    def text(self, place: Place) -> str:
        node, offset = place
        if node == ZERO:
            return str(offset)
        if node not in self._names:
            self._names[node] = self._named(node)
        name = self._names[node]
        return name if not offset else f"{name} + {offset}" if offset > 0 else f"{name} - {-offset}"

    def _named(self, node: int) -> str:
        what, places = self._tape.nodes[node]
        if not places:
            if what.isalnum():
                return what
            source = what
        else:
            texts = [self.text(place) for place in places]
            if what in {"max", "min"}:
                one, other = texts
                source = f"{one} if {one} {'>' if what == 'max' else '<'} {other} else {other}"
            elif what in {"+", "-", "*", "//"}:
                source = f"({texts[0]}) {what} ({texts[1]})"
            else:
                source = f"{what}({', '.join(texts)})"
        name = f"v{node}"
        self._lines.append(f" {name} = {source}")
        return name
