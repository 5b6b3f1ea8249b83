"""What a judge of one board asks of each channel, so that a reader need not keep the rest.

Law of this module: a trace conditioned from what was kept is the trace conditioned from everything. A value may go
only if it answers every question as the value before it does.

A measured channel with a threshold is asked on which side of it a value lies; a sensor, how it compares with each limit
that the board has for it, by the very comparisons that are made later. A channel that is not wired is asked nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from typing import cast

import attrs
import numpy as np
import numpy.typing as npt

from boardgauge.language.expressions import Comparator, Comparison
from boardgauge.language.model import Board, Input
from boardgauge.language.units import difference_in_unit, in_unit
from boardgauge.traces.pickup import compared_only, sides
from boardgauge.traces.recording import Values, channel_of
from boardgauge.traces.sensor_pickup import by_sensor, is_sensor, reading_of, sensor_misfits
from boardgauge.traces.sensor_scale import beyond_ends
from boardgauge.traces.spread import EXACT
from boardgauge.traces.wave import NONE
from boardgauge.traces.wiring import Wire, Wiring, default_wiring, signals_of

Answers = npt.NDArray[np.uint8]
"""A row of answers for each value."""

Ask = Callable[[Values], Answers]


class Reduction:
    """What a board, wired so, asks of the channels of a recording."""

    def __init__(self, wiring: Wiring | None, board: Board) -> None:
        wiring = wiring or default_wiring(board)
        self._board = board
        signals = signals_of(board)
        self._wires: dict[str, Wire] = {wire.channel: wire for wire in wiring.wires if wire.signal in signals}

    def of(self, names: Iterable[str]) -> Ask | None:
        """Give what is asked of a channel that goes by these names; None if each of its values matters."""
        asked: list[Ask] = []
        for name in names:
            if name in self._wires:
                own = self._asked(self._wires[name])
                if own is None:
                    return None
                asked.append(own)

        def ask(values: Values) -> Answers:
            return np.concatenate([np.zeros((len(values), 1), np.uint8), *(each(values) for each in asked)], axis=1)

        return ask

    def _asked(self, wire: Wire) -> Ask | None:
        if not is_sensor(wire, self._board):
            return _side_of(wire) if compared_only(wire) else None
        # What is wrong with a wire is told when the recording is conditioned.
        return None if any(sensor_misfits(wire, self._board)) else _sensed(wire, self._board)


def _side_of(wire: Wire) -> Ask:
    threshold, differential = float(wire.threshold or 0), float(wire.differential)
    return lambda values: np.stack(sides(values, threshold, differential), axis=1).view(np.uint8)


def _sensed(wire: Wire, board: Board) -> Ask | None:
    row = board.inputs[wire.signal]
    by = by_sensor(wire, row)
    limits = list(dict.fromkeys(_limits(board, row)))
    measured = reading_of(wire, channel_of(wire.channel, NONE, np.empty(0)), row, 0, 0, EXACT)

    def ask(values: Values) -> Answers:
        kinds = np.zeros(len(values), np.int8) if by is None else beyond_ends(values, wire.scale, wire.offset, by)
        raw = np.where(kinds > 0, np.nan, values)
        answers = [kinds.view(np.uint8), np.isnan(raw).view(np.uint8)]
        for reading in (measured, measured.nominal()):
            for op, limit, accuracy in limits:
                answers += [a.view(np.uint8) for a in attrs.evolve(reading, raw=raw).beyond(op, limit, accuracy)]
        return np.stack(answers, axis=1)

    return ask


def _limits(board: Board, row: Input) -> Iterator[tuple[Comparator, Fraction, Fraction]]:
    """Give each limit the board has for a sensor: the comparison, the limit in the sensor's unit, the accuracy."""
    if row.unit is None:
        return
    accuracy = Fraction(0) if row.accuracy is None else difference_in_unit(row.accuracy, row.unit).number
    for found in _comparisons(board):
        if found.name == row.id:
            yield found.op, in_unit(found.limit, row.unit).number, accuracy
            if found.until_op is not None and found.until is not None:
                yield found.until_op, in_unit(found.until, row.unit).number, accuracy


def _comparisons(part: object) -> Iterator[Comparison]:
    """Give every comparison with a limit in a board, or in a part of one, wherever it stands."""
    if isinstance(part, Comparison):
        yield part
    elif isinstance(part, Mapping):
        for item in part.values():
            yield from _comparisons(item)
    elif isinstance(part, (tuple, list)):
        for item in part:
            yield from _comparisons(item)
    elif attrs.has(type(part)):
        for each in attrs.fields(cast(type[attrs.AttrsInstance], type(part))):
            yield from _comparisons(getattr(part, each.name))
