"""Checks of what tables say of other tables.

Law of this module: a check gives problems and changes nothing; each has a message of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from boardgauge.language.keys import END
from boardgauge.language.model import Board, Mode, Rule, Sequence, SettingRef, Together
from boardgauge.language.places import Places
from boardgauge.language.problems import Problem, nearest_of
from boardgauge.language.quantities import Duration
from boardgauge.language.scope import Declared, rule_times
from boardgauge.language.units import convertible

LONGEST_ID = 80
_BOARD_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")


class ReferenceChecks:
    """The checks of one board; ``scope`` knows also what could not be read."""

    def __init__(self, board: Board, scope: dict[str, Declared], places: Places) -> None:
        self.board = board
        self.scope = scope
        self.places = places

    def problems(self) -> Iterator[Problem]:
        """Give everything found wrong."""
        yield from self._board()
        yield from self._sensors()
        yield from self._settings()
        for id_, rule in self.board.rules.items():
            yield from self._times(id_, rule)
            if isinstance(rule, Sequence):
                yield from self._steps(id_, rule)
            if isinstance(rule, Mode):
                yield from self._stay(id_, rule)
        yield from self._requirements()
        yield from self._speed_ups()
        for index, stretch in enumerate(self.board.not_judged):
            key = f"not_judged[{index + 1}].signals"
            yield from self._names(key, stretch.signals, ("output", "lamp"), "an output or a lamp")

    def _problem(self, key: str, message: str, expected: str | None = None, nearest: str | None = None) -> Problem:
        return Problem(self.places.of(key), key, message, expected, nearest)

    def _board(self) -> Iterator[Problem]:
        id_ = self.board.id
        if id_ and (not _BOARD_ID.fullmatch(id_) or len(id_) > LONGEST_ID):
            expected = f"letters, digits, -, _ and ., {LONGEST_ID} at most"
            yield self._problem("board.id", "the id of a board is used in file names", expected)
        if not self.board.outputs and not any(item.section == "outputs" for item in self.scope.values()):
            yield self._problem("board", "the board has no outputs, so there is nothing it does")

    def _sensors(self) -> Iterator[Problem]:
        for id_, item in self.board.inputs.items():
            accuracy, unit = item.accuracy, item.unit
            if accuracy is not None and unit is not None and not convertible(accuracy.unit, unit):
                key = f"inputs.{id_}.accuracy"
                yield self._problem(
                    key, f"{accuracy.unit!r} does not go with the sensor's unit", f"an accuracy in {unit}"
                )

    def _settings(self) -> Iterator[Problem]:
        for id_, setting in self.board.settings.items():
            names = [position.name for position in setting.positions if position.name is not None]
            for index, name in enumerate(names):
                if name in names[:index]:
                    key = f"settings.{id_}.positions[{index + 1}].name"
                    yield self._problem(key, f"there are two positions {name!r}")
            if setting.factory is not None and setting.factory not in names:
                nearest = nearest_of(setting.factory, names)
                key = f"settings.{id_}.factory"
                yield self._problem(
                    key, f"there is no position {setting.factory!r}", "one of " + ", ".join(names), nearest
                )

    def _times(self, id_: str, rule: Rule) -> Iterator[Problem]:
        for name, lasting in rule_times(rule).items():
            if not isinstance(lasting, SettingRef):
                continue
            key = f"rules.{id_}.{name}"
            thing = self.scope.get(lasting.setting)
            if thing is None:
                settings = [item.name for item in self.scope.values() if item.kind == "setting"]
                nearest = nearest_of(lasting.setting, settings)
                yield self._problem(
                    key, f"there is no setting {lasting.setting!r}", 'a time, "90 s", or a setting', nearest
                )
            elif thing.kind != "setting":
                message = f"{lasting.setting!r} is no setting but stands at {thing.key}"
                yield self._problem(key, message, 'a time, "90 s", or a setting')

    def _steps(self, id_: str, rule: Sequence) -> Iterator[Problem]:
        declared = [item.name for item in self.scope.values() if item.key.startswith(f"rules.{id_}.steps[")]
        names = [*dict.fromkeys([*(step.name for step in rule.steps), *declared])]
        for index, step in enumerate(rule.steps):
            for word, target in (("then", step.then), ("if_not", step.if_not)):
                if target is not None and target != END and target not in names:
                    key = f"rules.{id_}.steps[{index + 1}].{word}"
                    expected = "one of " + ", ".join([*names, END])
                    nearest = nearest_of(target, [*names, END])
                    yield self._problem(key, f"the sequence has no step {target!r}", expected, nearest)

    def _stay(self, id_: str, rule: Mode) -> Iterator[Problem]:
        least, most = rule.at_least, rule.at_most
        if isinstance(least, Duration) and isinstance(most, Duration) and least.nominal > most.nominal:
            yield self._problem(f"rules.{id_}.at_least", "the least stay is longer than the greatest, at_most")

    def _requirements(self) -> Iterator[Problem]:
        for id_, requirement in self.board.requirements.items():
            if not isinstance(requirement.demand, Together):
                continue
            key, outputs = f"requirements.{id_}.together", requirement.demand.outputs
            yield from self._names(key, outputs, ("output",), "an output")
            if len(outputs) < 2:
                yield self._problem(key, "one output alone is always together with itself", "two outputs or more")

    def _speed_ups(self) -> Iterator[Problem]:
        kinds = ("delay", "lockout", "count", "accumulator", "mode", "sequence", "toggle")
        for id_, speed_up in self.board.speed_ups.items():
            key = f"speed_ups.{id_}.what"
            yield from self._names(key, speed_up.what, kinds, "a rule")
            for index, name in enumerate(speed_up.what):
                rule = self.board.rules.get(name)
                if rule is not None and not any(time is not None for time in rule_times(rule).values()):
                    yield self._problem(f"{key}[{index + 1}]", f"{name!r} has no time of its own that could run faster")

    def _names(self, key: str, names: tuple[str, ...], kinds: tuple[str, ...], what: str) -> Iterator[Problem]:
        fitting = [item.name for item in self.scope.values() if item.kind in kinds]
        for index, name in enumerate(names):
            thing = self.scope.get(name)
            at = f"{key}[{index + 1}]"
            if thing is None:
                yield self._problem(at, f"there is nothing called {name!r}", what, nearest_of(name, fitting))
            elif thing.kind is not None and thing.kind not in kinds:
                yield self._problem(at, f"{name!r} is not {what}", f"{what}", nearest_of(name, fitting))
