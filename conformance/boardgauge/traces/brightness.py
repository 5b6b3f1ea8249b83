"""A lamp's brightness, as a camera saw it, as lit and dark.

Law of this module: nothing is read into too little contrast. Lit and dark are told apart by the levels the lamp itself
shows close by, so the light around it may drift; a jump that may as well be the camera's exposure is not known; a frame
half way is neither, and the change lies somewhere between its neighbours.

How: around each frame, the least and the greatest brightness give the two levels if they are far enough apart and the
lamp changed between them more than once. Where it does not change, its state is carried on from where it was known, as
long as the brightness makes no jump. With levels given in the wiring, these hold throughout.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from boardgauge.traces.line_faults import few, runs_of
from boardgauge.traces.recording import Times, Values
from boardgauge.traces.remarks import Finding
from boardgauge.traces.wave import Booleans, Levels, Truths

LEAST_CONTRAST = 0.06
"""Of the full scale (1 or 255): with less between them, lit and dark are not told apart."""
NOISE = 7
"""So many times the noise of a frame lit and dark must be apart."""
DARK_BELOW, LIT_ABOVE = 0.4, 0.6
"""Between these parts of the way from dark to lit a frame is neither."""
LEVELS = 0.25
"""The levels beside a single change are those it flashed between if they are off by no more of the usual contrast."""
JUMP = 0.4
"""A change by this part of the usual contrast, in a few frames, is a jump."""
BLURRED = 2
"""So many frames in a row that are neither are one change on its way; more are not known."""
AROUND = 2_500_000
"""The levels are looked for so far around a frame (microseconds), or a little more than the lamp's longest part."""

Indices = npt.NDArray[np.intp]
_NEITHER, _HELD, _LOST = -2, -3, -1


def lit_and_dark(
    times: Times, values: Values, longest: int, dark: float | None, lit: float | None
) -> tuple[Levels, list[Finding]]:
    """Give the levels of a lamp from frames, and what to tell; ``longest`` is the longest part of its patterns."""
    seen = ~np.isnan(values)
    t, b = times[seen], values[seen]
    if not len(t):
        at = times[:1]
        return Levels(at, np.full(len(at), -1, dtype=np.int8), at, at), []
    if dark is not None and lit is not None:
        state = _by(b, np.full(len(b), dark), np.full(len(b), lit))
    else:
        state = _adapted(t, b, max(AROUND, longest + longest // 4))
    first, last = runs_of(state == _NEITHER, 1)
    before = np.where(first > 0, state[np.maximum(first - 1, 0)], _LOST)
    behind = np.where(last + 1 < len(state), state[np.minimum(last + 1, len(state) - 1)], _LOST)
    # Between dark and dark they may have been a flash.
    odd = (last - first + 1 > BLURRED) | (before == behind)
    for begin, end in zip(first[odd].tolist(), last[odd].tolist(), strict=True):
        state[begin : end + 1] = _LOST
    return _levels(t, state), _told(t, state)


def _by(b: Values, dark: Values, lit: Values) -> npt.NDArray[np.int8]:
    with np.errstate(divide="ignore", invalid="ignore"):
        part = (b - dark) / (lit - dark)
    return np.where(part > LIT_ABOVE, 1, np.where(part < DARK_BELOW, 0, _NEITHER)).astype(np.int8)


def _adapted(t: Times, b: Values, around: int) -> npt.NDArray[np.int8]:
    low = np.searchsorted(t, t - around)
    high = np.searchsorted(t, t + around, side="right")
    least, most = -_greatest(-b, low, high), _greatest(b, low, high)
    contrast = most - least
    full = 1.0 if np.abs(b).max() <= 1.5 else 255.0 if b.max() <= 256 else float(b.max())
    # Frames as dark or as bright as can be show no noise.
    within = (b > b.min()) & (b < min(full, b.max()))
    steps = np.abs(np.diff(b))[within[1:] & within[:-1]]
    # Of a lamp that flashes fast, few frames are like the one before: so the lower half counts. Of normal noise with
    # deviation s its mean is 0.459 s.
    noise = float(np.sort(steps)[: len(steps) // 2 + 1].mean()) / 0.459 if len(steps) else 0.0
    # The noise alone sets the greatest and the least some three deviations apart from their levels.
    enough = contrast - 6 * noise >= max(LEAST_CONTRAST * full, NOISE * noise)
    seen = _by(b, least, most)
    # Where lit follows dark or dark lit, leaving out frames that are neither or in which there is no contrast.
    plain = np.flatnonzero(enough & (seen >= 0))
    turned = np.zeros(len(b), dtype=bool)
    turned[plain[1:][seen[plain[1:]] != seen[plain[:-1]]]] = True
    turns = np.concatenate(([0], np.cumsum(turned)))
    number = turns[high] - turns[low]
    flashing = enough & (number >= 3)
    state = np.full(len(b), _HELD, dtype=np.int8)
    if not flashing.any():
        # A single change may as well be the camera's, or a hand's.
        return np.full(len(b), _LOST, dtype=np.int8)
    usual = float(np.median(contrast[flashing]))
    # Close to a single change both levels are seen as well; but those that the lamp had while it flashed, or it was the
    # camera, or a hand.
    clear = enough & (number >= 1) & _as_where_it_flashes(flashing, least, most, LEVELS * usual)
    known = flashing & (contrast >= 0.5 * usual) | clear
    state[known] = seen[known]
    _carry_on(state, b, JUMP * usual)
    return state


def _as_where_it_flashes(flashing: Booleans, least: Values, most: Values, within: float) -> Booleans:
    """Tell where both levels are those of the last frame so far, or the next one, at which the lamp was flashing."""
    places = np.flatnonzero(flashing)
    behind = np.searchsorted(places, np.arange(len(flashing)))
    near = np.zeros(len(flashing), dtype=bool)
    for index in (np.maximum(behind - 1, 0), np.minimum(behind, len(places) - 1)):
        other = places[index]
        near |= (np.abs(least - least[other]) < within) & (np.abs(most - most[other]) < within)
    return near


def _greatest(b: Values, low: Indices, high: Indices) -> Values:
    """Give the greatest value from place ``low[i]`` up to, and without, ``high[i]``."""
    size = np.maximum(high - low, 1)
    level = np.log2(size).astype(np.intp)
    found, row, width = np.empty(len(b)), b, 1
    for k in range(int(level.max()) + 1):
        mine = level == k
        found[mine] = np.maximum(row[low[mine]], row[high[mine] - width])
        if width * 2 > len(b):
            break
        row = np.maximum(row[:-width], row[width:])
        width *= 2
    return found


def _carry_on(state: npt.NDArray[np.int8], b: Values, jump: float) -> None:
    """Fill in the stretches in which the lamp was not seen to change, from either side, up to a jump."""
    first, last = runs_of(state == _HELD, 1)
    # A jump may take a few frames.
    jumps = np.zeros(len(b), dtype=bool)
    for frames in (1, 2, 3):
        wide = np.abs(b[frames:] - b[:-frames]) >= jump
        jumps[frames:] |= wide
    for begin, end in zip(first.tolist(), last.tolist(), strict=True):
        before = _clear(state, b, begin - 1, b[begin], jump)
        behind = _clear(state, b, end + 1, b[end], jump)
        places = np.flatnonzero(jumps[begin + 1 : end + 1]) + begin + 1
        if len(places):
            state[begin : end + 1] = _LOST
            state[begin : max(begin, places[0] - 3)] = before
            state[places[-1] : end + 1] = behind
        elif before < 0 or behind < 0:
            state[begin : end + 1] = max(before, behind)
        else:
            state[begin : end + 1] = before if before == behind else _LOST


def _clear(state: npt.NDArray[np.int8], b: Values, index: int, beside: float, jump: float) -> int:
    """Give the state of a frame beside a stretch if it goes on into it, -1 if it is not known."""
    if not 0 <= index < len(state) or state[index] < 0 or abs(b[index] - beside) >= jump:
        return _LOST
    return int(state[index])


def _levels(t: Times, state: npt.NDArray[np.int8]) -> Levels:
    """Make levels of states: a frame that is neither lit nor dark leaves the change open between its neighbours."""
    told: Booleans = state != _NEITHER
    times, truths = t[told], np.maximum(state[told], -1).astype(np.int8)
    news = np.concatenate(([True], truths[1:] != truths[:-1]))
    place = np.flatnonzero(news)
    lead = np.where(place > 0, times[np.maximum(place - 1, 0)] + 1, times[place])
    lost: Truths = truths[place]
    # What was lost counts as lost from the frame on in which it was missed.
    at = times[place]
    return Levels(at, lost, np.where(place > 0, lead, at), at)


def _told(t: Times, state: npt.NDArray[np.int8]) -> list[Finding]:
    first, last = runs_of(state == _LOST, 1)
    text = "lit and dark cannot be told apart"
    if (state == _LOST).all():
        text += "; dark_level and lit_level in the wiring would say what they are"
    found = [
        Finding("low contrast", int(t[a]), int(t[z]), text) for a, z in zip(first.tolist(), last.tolist(), strict=True)
    ]
    return few(found)
