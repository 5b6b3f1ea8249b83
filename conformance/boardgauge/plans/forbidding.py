"""What must not be driven: inputs that would by themselves break a requirement of the spec.

Law of this module: a requirement that speaks of inputs alone is an order to whoever drives them. One that speaks of
what the board does is the board's to keep, whatever comes at its terminals.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from attrs import define, field

from boardgauge.language import expressions as ex
from boardgauge.language.model import Always, Never
from boardgauge.language.quantities import Quantity
from boardgauge.machine.input_ways import comes_out
from boardgauge.machine.run import Value
from boardgauge.machine.table import Machine


@define(eq=False)
class Forbidding:
    """The orders to whoever drives the inputs of one machine; ``more`` are those of the rig that will."""

    machine: Machine
    more: tuple[ex.Condition, ...] = ()
    never: tuple[ex.Condition, ...] = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.never = (*self._orders(), *self.more)

    def _orders(self) -> Iterator[ex.Condition]:
        for row in self.machine.board.requirements.values():
            match row.demand:
                case Never(what=what) if not ex.is_event(what) and self._of_inputs(what):
                    yield what  # type: ignore[misc]
                case Always(what=what) if self._of_inputs(what):
                    yield ex.Not(what)

    def _of_inputs(self, condition: ex.Expression) -> bool:
        board = self.machine.board
        for node in ex.walk(condition):
            match node:
                case ex.Name(name=name) | ex.InState(name=name) | ex.Reached(name=name) if name not in board.inputs:
                    if name not in board.conditions or not self._of_inputs(board.conditions[name].is_):
                        return False
                case ex.For():
                    return False
        return True

    def allows(self, values: Mapping[str, Value]) -> bool:
        """Tell whether inputs may stand so."""
        return not any(self._holds(condition, values) for condition in self.never)

    def _holds(self, node: ex.Condition, values: Mapping[str, Value]) -> bool:
        board = self.machine.board
        match node:
            case ex.Not(item=item):
                return not self._holds(item, values)
            case ex.And(items=items):
                return all(self._holds(item, values) for item in items)
            case ex.Or(items=items):
                return any(self._holds(item, values) for item in items)
            case ex.Comparison(name=name):
                return comes_out(node, False, Quantity(values[name], board.inputs[name].unit or ""))  # type: ignore[arg-type]
            case ex.Name(name=name) if name in board.conditions:
                return self._holds(board.conditions[name].is_, values)
            case ex.Name(name=name):
                return bool(values[name])
            case ex.InState(name=name, state=state):
                closed = state in ("on", "closed", "fitted", "pressed")
                return bool(values[name]) is closed
        return False
