"""What a board's indications do not tell: different lockouts or steps behind the same lamp and the same outputs.

Law of this module: it speaks only of a machine that was explored in full, and says of each what does tell, if anything.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.drawings import words
from boardgauge.identifying.experiments import next_experiment
from boardgauge.identifying.knowledge import Candidate, Knowledge, Look, Situation
from boardgauge.language.model import Lamp

_MOST_NAMED = 3


@frozen
class Likeness:
    """One line of a lamp (its number) behind which several situations look the same, and the candidates in them."""

    lamp: Lamp
    line: int
    situations: tuple[Situation, ...]
    left: frozenset[Candidate]


def likenesses(known: Knowledge) -> tuple[Likeness, ...]:
    """Give one for each line of a lamp that has any, in order; nothing where not every configuration is known."""
    if not known.found.complete:
        return ()
    by_look: dict[Look, set[Candidate]] = {}
    for config, look in enumerate(known.looks):
        if look.powered:
            by_look.setdefault(look, set()).add((known.situation_of[config], config))
    found: list[Likeness] = []
    for number, lamp in enumerate(known.machine.board.lamps.values()):
        best: dict[int, Likeness] = {}
        for look, candidates in by_look.items():
            situations = tuple(known.situations[s] for s in sorted({origin for origin, _ in candidates}))
            # Of several such looks the one with the most in it stands for the line.
            line = look.lines[number]
            more = line not in best or len(situations) > len(best[line].situations)
            if len({one.on for one in situations}) > 1 and more:
                best[line] = Likeness(lamp, line, situations, frozenset(candidates))
        found += [best[line] for line in sorted(best)]
    return tuple(found)


def likeness_words(known: Knowledge, one: Likeness) -> str:
    """Say what looks the same, and what tells it apart."""
    names = [situation.name for situation in one.situations]
    listed = "; ".join(names[:_MOST_NAMED])
    if len(names) > _MOST_NAMED:
        listed += f"; and {len(names) - _MOST_NAMED} more"
    shows = words.pattern(one.lamp.lines[one.line].shows)
    then = next_experiment(known, one.left)
    if then is None:
        tells = "nothing from outside tells them apart"
    elif then.kind in {"look", "measure"}:
        text = then.text.split(":")[0]
        tells = f"{text[0].lower()}{text[1:]} to tell more"
    else:
        does = {"wait": "waiting", "change an input": "changing an input"}
        tells = f"nothing but {does.get(then.kind, 'switching the supply off and on')} tells more"
    return f"{shows} and the same outputs in {len(names)} states: {listed}: {tells}"
