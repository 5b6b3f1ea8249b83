"""How a board stands between instants, and what a moment did to it, as values.

Law of this module: values only, and no times: an outcome says which timings were set going, go on or are gone, and by
what; when they count from is the business of ``grid`` and ``smt``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from attrs import field, frozen

from boardgauge.language import expressions as ex
from oracle.look import Atom, Facts, Key, Place


@frozen
class Cause:
    """What set a timing going: these inputs, these outputs, or the causes of the instant themselves."""

    kind: Literal["inputs", "outputs", "instant"]
    which: tuple[str, ...] = ()


@frozen
class Standing:
    """A board between instants; ``held`` is the settled picture, which the next instant calls *before*.

    ``read`` are the positions of settings read at power-up, ``took`` those that running timings took as they started.
    """

    held: frozenset[Atom]
    places: tuple[tuple[str, Place], ...]
    running: frozenset[Key] = frozenset()
    full: frozenset[ex.For] = frozenset()
    over: frozenset[str] = frozenset()
    adding: frozenset[str] = frozenset()
    read: tuple[tuple[str, int], ...] = ()
    took: tuple[tuple[Key, int], ...] = ()


@frozen
class Outcome:
    """What one moment did. ``begun`` timings are new; of those that go on, ``was`` gives their key before.

    ``paused`` and ``resumed`` are accumulators that went on standing or running, ``emptied`` those now at zero.
    ``pictures`` are the settled ones, each with the one before it and the facts of its instant.
    """

    standing: Standing
    commands: tuple[tuple[str, bool], ...]
    begun: Mapping[Key, Cause] = field(factory=dict)
    was: Mapping[Key, Key] = field(factory=dict)
    paused: Mapping[str, Cause] = field(factory=dict)
    resumed: Mapping[str, Cause] = field(factory=dict)
    emptied: frozenset[str] = frozenset()
    pictures: tuple[tuple[frozenset[Atom], frozenset[Atom], Facts], ...] = ()


def joined(first: Outcome, then: Outcome) -> Outcome:
    """Give what two instants of one moment did."""
    begun = {**then.begun, **{k: first.begun[w] for k, w in then.was.items() if w in first.begun}}
    was = {k: first.was[w] for k, w in then.was.items() if w in first.was}
    return Outcome(
        then.standing,
        (*first.commands, *then.commands),
        begun,
        was,
        {**first.paused, **then.paused},
        {**first.resumed, **then.resumed},
        first.emptied | then.emptied,
        (*first.pictures, *then.pictures),
    )
