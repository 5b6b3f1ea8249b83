"""What is due at one moment, and what each part of it would do alone.

Law of this module: who caused what is found by leaving the rest out. No times occur here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from attrs import define, field

from oracle.look import Facts, Key
from oracle.settling import Works
from oracle.standing import Cause, Outcome, Standing

POWER = "power"
NOW = "the moment itself"


@define(eq=False)
class Known:
    """A board, and every moment it has been through. ``at_power_up`` is what stood at its inputs then."""

    works: Works
    at_power_up: Mapping[str, bool] = field(factory=dict)
    outcomes: dict[object, Outcome] = field(factory=dict)

    def moment(
        self,
        standing: Standing,
        levels: Mapping[str, bool],
        ended: Iterable[Key] = (),
        at_power_up: Mapping[str, bool] | None = None,
    ) -> Outcome:
        """Settle, or remember having settled. ``at_power_up``: what stands at the inputs, if the supply comes."""
        facts = Facts(frozenset(ended), POWER in levels)
        given = levels if POWER not in levels else self.at_power_up if at_power_up is None else at_power_up
        key = (standing, tuple(sorted(given.items())), facts)
        if key not in self.outcomes:
            self.outcomes[key] = self.works.moment(standing, given, facts)
        return self.outcomes[key]


@define(eq=False)
class Due:
    """Input changes taken in and timings that end, at one moment. ``taken`` may be the supply alone."""

    known: Known
    standing: Standing
    taken: Mapping[str, bool]
    ended: list[Key]
    at_power_up: Mapping[str, bool] | None = None

    def of(self, names: Iterable[str], keys: Iterable[Key]) -> Outcome:
        """Give what these inputs and these timings do."""
        return self.known.moment(self.standing, {name: self.taken[name] for name in names}, keys, self.at_power_up)

    @property
    def outcome(self) -> Outcome:
        """Give what all of it does together."""
        return self.of(self.taken, self.ended)

    def causes_of_change(self, output: str, value: bool) -> list[str | Key]:
        """Give the inputs and timings that would each have changed an output so; all, where only together."""
        every: list[str | Key] = [*self.taken, *self.ended]
        if len(every) == 1:
            return every
        alone: list[str | Key] = [name for name in self.taken if (output, value) in self.of([name], []).commands]
        alone += [key for key in self.ended if (output, value) in self.of([], [key]).commands]
        return alone or every

    def causes_of(self, key: Key, cause: Cause) -> list[str]:
        """Give the inputs from whose change a timing that is set going now may count, ``NOW`` for this moment."""
        if POWER in self.taken:
            return [POWER]
        if cause.kind == "inputs":
            # One of several that would each have done it alone: which of them it was is open.
            return list(cause.which)
        if self.ended and key in self.of([], self.ended).begun:
            return [NOW]
        if self.taken and key in self.of(self.taken, []).begun:
            return list(self.taken)
        return [NOW, *self.taken]

    def stopped_by(self, key: Key) -> list[str]:
        """Give the inputs whose change alone stops a timing or starts it over."""
        return [name for name in self.taken if key not in self.of([name], []).was.values()]
