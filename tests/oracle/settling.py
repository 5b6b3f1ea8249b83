"""The oracle's own instants: what a board does when something is due, from the clauses "The instant" and "Timings".

Law of this module: slow and plain, and apart from the package's machine. Times do not occur here.
"""

from __future__ import annotations

from collections.abc import Mapping

from attrs import define, evolve, field

from boardgauge.language import expressions as ex
from boardgauge.language.model import (
    Accumulator,
    Board,
    Count,
    Delay,
    Lasting,
    Lockout,
    Mode,
    Sequence,
    SettingRef,
    Step,
)
from boardgauge.language.quantities import Duration
from oracle.look import (
    Atom,
    Facts,
    Key,
    Look,
    Place,
    Refused,
    all_atoms,
    all_fors,
    at_rest,
    delay_circles,
    is_kept,
    nothing,
)
from oracle.moving import Mover
from oracle.standing import Cause, Outcome, Standing, joined

MOST_INSTANTS = 6


@define
class Works:
    """A board, ready to settle."""

    board: Board
    atoms: tuple[Atom, ...]
    circles: dict[str, frozenset[str]]
    steps: dict[str, tuple[str, Step]]
    inputs: frozenset[Atom]
    chosen: Mapping[str, str] = field(factory=dict)

    @classmethod
    def of(cls, board: Board, chosen: Mapping[str, str] | None = None) -> Works:
        """Take a board, with the positions that a person chose of its settings.

        Raises NotImplementedError for what the oracle does not cover.
        """
        steps = {s.name: (n, s) for n, r in board.rules.items() if isinstance(r, Sequence) for s in r.steps}
        atoms = all_atoms(board, all_fors(board))
        return cls(board, atoms, delay_circles(board), steps, frozenset(board.inputs), chosen or {})

    # -- times ----------------------------------------------------------------------------------------------------

    def lasting(self, key: Key) -> Lasting:
        """Give how long a timing lasts, as it is written."""
        sort, name, _ = key
        if isinstance(name, ex.For):
            return name.lasts
        lasting: Lasting | None
        if sort == "step":
            lasting = self.steps[name][1].lasts
        else:
            part = {"delay": "lasts", "window": "within"}.get(sort, sort)
            lasting = getattr(self.board.rules[name], part)
        assert lasting is not None
        return lasting

    def duration(self, key: Key, standing: Standing | None = None) -> Duration:
        """Give how long a timing lasts; where a setting says so, that of a standing board."""
        lasting = self.lasting(key)
        if isinstance(lasting, Duration):
            return lasting
        setting = self.board.settings[lasting.setting]
        if setting.factory is not None:
            name = self.chosen.get(setting.id, setting.factory)
            (position,) = (p for p in setting.positions if p.name == name)
            return position.is_
        if standing is None:
            raise NotImplementedError("a setting")
        index = dict(standing.read)[setting.id] if setting.read == "at power-up" else dict(standing.took)[key]
        return setting.positions[index].is_

    def _position(self, setting: str, look: Look, held: frozenset[Atom]) -> int:
        positions = self.board.settings[setting].positions
        (index,) = (i for i, p in enumerate(positions) if p.when is not None and look.holds(p.when, held))
        return index

    def off(self, last: Standing | None = None) -> Standing:
        """Give a board without power: before the first instant every input is at rest, all else off.

        Of how it stood last, what is kept without power stays.
        """
        places = {n: nothing(r) for n, r in self.board.rules.items() if is_kept(r)}
        places |= {n: False for n, o in self.board.outputs.items() if o.on is None}
        if last is None:
            return Standing(at_rest(self.board), tuple(places.items()))
        kept = {name for name, rule in self.board.rules.items() if rule.kept_without_power}
        places |= {name: place for name, place in last.places if name in kept}
        running = frozenset(key for key in last.running if self.owner(key) in kept)
        took = tuple(row for row in last.took if row[0] in running)
        return Standing(at_rest(self.board), tuple(places.items()), running, over=last.over & kept, took=took)

    def owner(self, key: Key) -> str:
        """Give the rule that a timing is of; that of a ``for`` is of none."""
        if isinstance(key[1], ex.For):
            return ""
        return self.steps[key[1]][0] if key[0] == "step" else key[1]

    # -- one moment -----------------------------------------------------------------------------------------------

    def moment(self, standing: Standing, levels: Mapping[str, bool], facts: Facts) -> Outcome:
        """Settle all that is due at one moment. Raises Refused where the spec does not come to rest."""
        at = {n for n in self.inputs if levels.get(str(n), n in standing.held)}
        outcome = self._instant(standing, frozenset(at), facts)
        changed: dict[str, int] = dict.fromkeys((name for name, _ in outcome.commands), 1)
        for _ in range(MOST_INSTANTS):
            if not self._moves_further(outcome.standing):
                return outcome
            following = self._instant(outcome.standing, frozenset(at), Facts())
            for name, _ in following.commands:
                if name in changed:
                    raise Refused(f"{name} changes and changes back in no time")
                changed[name] = 1
            outcome = joined(outcome, following)
        raise Refused("no end of instants")

    def glance(self, atoms: frozenset[Atom]) -> Look:
        """Give a look at a picture that is known."""
        return Look(self.board, atoms, {}, atoms, Facts(), frozenset(), frozenset(), self.circles, atoms)

    def _look(self, standing: Standing, at: frozenset[Atom], places: Mapping[str, Place], facts: Facts) -> Look:
        held, running, full = standing.held, standing.running, standing.full
        return Look(self.board, at, places, held, facts, running, full, self.circles)

    def _moves_further(self, standing: Standing) -> bool:
        """With the events gone, look once more: does anything kept move?"""
        at, places = standing.held & self.inputs, dict(standing.places)
        mover = Mover(self.board, self.steps, standing.running, standing.over, Facts(), places)
        look = self._look(standing, at, places, Facts())
        if any(look.atom(name) != (name in standing.held) for name in self.board.outputs):
            raise Refused("an output follows a fact of the instant and falls back at once")
        return bool(mover.moves(look))

    def _instant(self, standing: Standing, at: frozenset[Atom], facts: Facts) -> Outcome:
        places = dict(standing.places)
        for sort, name, place in facts.ended:
            if sort == "window":
                events = places[str(name)]
                assert isinstance(events, tuple)
                places[str(name)] = tuple(inside and index != place for index, inside in enumerate(events))
        mover = Mover(self.board, self.steps, standing.running, standing.over, facts, places)
        while True:
            look = self._look(standing, at, mover.places, facts)
            moves = mover.moves(look)
            if not moves:
                break
            mover.take(moves, look)
        for name, trigger in mover.on_an_event.items():
            if mover.places[name] != dict(standing.places)[name] and not look.triggers(trigger):
                raise Refused(f"{name} moved on an event that did not last")
        return self._settled(standing, look, mover)

    # -- what it set going ----------------------------------------------------------------------------------------

    def _settled(self, standing: Standing, look: Look, mover: Mover) -> Outcome:
        facts, old, new = look.facts, dict(standing.places), mover.places
        held = look.atoms(self.atoms)
        ended_fors = {k[1] for k in facts.ended if k[0] == "for"}
        full = frozenset(
            a for a in self.atoms
            if isinstance(a, ex.For) and (a in standing.full or a in ended_fors) and look.holds(a.condition)
        )  # fmt: skip
        begun: dict[Key, Cause] = {}
        was: dict[Key, Key] = {}
        over = set()

        def entered(key: Key, stays: bool, trigger: ex.Trigger | None) -> None:
            if stays and key in standing.running and key not in facts.ended:
                was[key] = key
            elif not stays:
                begun[key] = self.cause(trigger, look, held)

        for name, rule in self.board.rules.items():
            stays = bool(old.get(name))
            match rule:
                case Delay() if name in held:
                    key: Key = ("delay", name, 0)
                    runs = key in standing.running and key not in facts.ended
                    anew = look.happens(rule.begins) and (not runs or rule.if_begun_again != "runs on")
                    entered(key, not anew, rule.begins)
                case Lockout(lasts=lasts) if lasts is not None and name in held:
                    key = ("lasts", name, 0)
                    entered(key, stays, rule.trips)
                    if stays and (name in standing.over or key in facts.ended):
                        over.add(name)
                case Mode() if name in held:
                    for sort in ("at_least", "at_most"):
                        if getattr(rule, sort) is not None:
                            entered((sort, name, 0), stays, rule.begins)
                case Sequence() if new[name] is not None:
                    step = str(new[name])
                    if self.steps[step][1].lasts is not None:
                        entered(("step", step, 0), old[name] == step, mover.led_by.get(name))
                case Count(within=within) if within is not None:
                    events, counted = new[name], name in mover.counted
                    assert isinstance(events, tuple)
                    for place, inside in enumerate(events):
                        if counted and place == 0:
                            begun[("window", name, 0)] = self.cause(rule.counts, look, held)
                        elif inside:
                            was[("window", name, place)] = ("window", name, place - counted)
        for atom in self.atoms:
            if isinstance(atom, ex.For) and atom not in full and look.holds(atom.condition):
                # At power-up the condition may have held before, in the picture at rest; its time starts all the same.
                goes_on = ("for", atom, 0) in standing.running and ("for", atom, 0) not in facts.ended
                entered(("for", atom, 0), goes_on and look.holds(atom.condition, standing.held), atom.condition)
        commands = tuple((n, n in held) for n in self.board.outputs if (n in held) != (n in standing.held))
        read = standing.read
        if facts.power_up:
            inputs = {n: s for n, s in self.board.settings.items() if s.factory is None and s.read == "at power-up"}
            read = tuple((n, self._position(n, look, held)) for n in inputs)
        took = self._took(standing, begun, was, look, held)
        after = Standing(
            held, tuple(new.items()), frozenset({*begun, *was}), full, frozenset(over), read=read, took=took
        )
        pictures = ((standing.held, held, facts),)
        return self._added(Outcome(after, commands, begun, was, pictures=pictures), standing, look, held)

    def _took(
        self,
        standing: Standing,
        begun: Mapping[Key, Cause],
        was: Mapping[Key, Key],
        look: Look,
        held: frozenset[Atom],
    ) -> tuple[tuple[Key, int], ...]:
        """Give the positions that timings took of settings that are always read."""
        before, found = dict(standing.took), {}
        for key in (*begun, *was):
            lasting = self.lasting(key)
            if isinstance(lasting, SettingRef):
                setting = self.board.settings[lasting.setting]
                if setting.factory is None and setting.read == "always":
                    found[key] = before[was[key]] if key in was else self._position(setting.id, look, held)
        return tuple(found.items())

    def _added(self, outcome: Outcome, standing: Standing, look: Look, held: frozenset[Atom]) -> Outcome:
        adding, emptied = set(), set()
        paused, resumed, was = {}, {}, dict(outcome.was)
        for name, rule in self.board.rules.items():
            if isinstance(rule, Accumulator):
                zero = rule.resets is not None and look.triggers(rule.resets)
                if zero:
                    emptied.add(name)
                # An event resets it and is gone: it adds anew from that moment. A condition goes on holding it at zero.
                stays_at_zero = rule.resets is not None and self.glance(held).triggers(rule.resets)
                adds = look.holds(rule.adds_while) and not stays_at_zero and name not in held
                if adds:
                    adding.add(name)
                if adds and (zero or name not in standing.adding):
                    resumed[name] = self.cause(rule.resets if zero else rule.adds_while, look, held)
                elif adds:
                    was["target", name, 0] = ("target", name, 0)
                elif name in standing.adding:
                    paused[name] = self.cause(ex.Not(rule.adds_while), look, held)
        after = evolve(outcome.standing, adding=frozenset(adding))
        return evolve(outcome, standing=after, was=was, paused=paused, resumed=resumed, emptied=frozenset(emptied))

    def cause(self, trigger: ex.Trigger | None, look: Look, held: frozenset[Atom]) -> Cause:
        """Find what set something going: an input whose change alone would have, or an output's, or the instant."""
        if trigger is None:
            return Cause("instant")
        changed = sorted(str(n) for n in self.inputs if (n in held) != (n in look.before))
        outputs = sorted(n for n in self.board.outputs if (n in held) != (n in look.before))
        inputs_new = look.before ^ frozenset(changed)
        for kind, base, names in (("inputs", look.before, changed), ("outputs", inputs_new, outputs)):
            alone = tuple(n for n in names if self._would(trigger, look, base ^ {n}))
            if alone:
                return Cause(kind, alone)  # type: ignore[arg-type]
            if len(names) > 1 and self._would(trigger, look, base ^ frozenset(names)):
                return Cause(kind, tuple(names))  # type: ignore[arg-type]
        return Cause("instant")

    def _would(self, trigger: ex.Trigger, look: Look, atoms: frozenset[Atom]) -> bool:
        mixed = Look(look.board, look.levels, look.places, look.before, Facts(), look.running, look.full, look.circles)
        mixed.frozen_atoms = atoms
        return mixed.triggers(trigger)
