"""Move the name of a frame along its upper side to where no arrow runs through it.

Law of this module: SVG in, SVG out, nothing moves but the names of frames, and none that is free already. Graphviz
keeps a band of room for such a name, but lets arrows into the frame cross that band anywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from boardgauge.drawings.frame import EDGE, POINT, TEXT, span_of

_FRAME = re.compile(r'<g id="clust\d+" class="cluster">.*?</g>', re.DOTALL)
_PATH = re.compile(r'<path [^>]*?d="([^"]+)"')
_STEPS = 16
_INSET = 8.0
_PAD = 3.0
_STEP = 2.0

Span = tuple[float, float]


def free_names(svg: str) -> str:
    """Give the SVG with the name of each frame where nothing crosses it; where there is no such place, as it was."""
    edges = [list(_along(path)) for path in EDGE.findall(svg)]
    labels = list(TEXT.finditer(svg))

    def one(frame: re.Match[str]) -> str:
        name, path = TEXT.search(frame[0]), _PATH.search(frame[0])
        if name is None or path is None:
            return frame[0]
        size, y = float(name[4]), float(name[3])
        band = (y - size, y + size / 3)
        taken = [span for edge in edges for span in _crossing(edge, band)]
        own = frame.start() + name.start()
        near = (band[0] - size / 3, band[1] + size)
        taken += [span_of(text) for text in labels if text.start() != own and near[0] < float(text[3]) < near[1]]
        xs = [float(x) for x, _ in POINT.findall(path[1])]
        start, end = span_of(name)
        moved = _place((start, end), (min(xs) + _INSET, max(xs) - _INSET), taken)
        if moved == start:
            return frame[0]
        x = float(name[2]) + moved - start
        placed = name[0].replace(f' x="{name[2]}"', f' x="{x:.2f}"', 1)
        return frame[0][: name.start()] + placed + frame[0][name.end() :]

    return _FRAME.sub(one, svg)


def _place(now: Span, frame: Span, taken: list[Span]) -> float:
    """Give where a name may start: as now if it is free, else the nearest place to its own corner that is."""
    width = now[1] - now[0]

    def free(start: float) -> bool:
        return all(b + _PAD <= start or a - _PAD >= start + width for a, b in taken)

    if free(now[0]):
        return now[0]
    places = [frame[0] + n * _STEP for n in range(int(max(0.0, frame[1] - width - frame[0]) / _STEP) + 1)]
    if now[0] - frame[0] > frame[1] - now[1]:
        places.reverse()
    return next((start for start in places if free(start)), now[0])


def _along(path: str) -> Iterator[tuple[float, float]]:
    """Give points along a path of cubic Bezier curves, as Graphviz writes them."""
    points = [(float(x), float(y)) for x, y in POINT.findall(path)]
    yield from points[:1]
    for at in range(0, len(points) - 3, 3):
        a, b, c, d = points[at : at + 4]
        for step in range(1, _STEPS + 1):
            t = step / _STEPS
            parts = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            yield (
                sum(part * point[0] for part, point in zip(parts, (a, b, c, d), strict=True)),
                sum(part * point[1] for part, point in zip(parts, (a, b, c, d), strict=True)),
            )


def _crossing(points: list[tuple[float, float]], band: Span) -> Iterator[Span]:
    """Give the stretches of x over which a line lies in a band of y."""
    for (x, y), (to_x, to_y) in pairwise(points):
        if min(y, to_y) < band[1] and max(y, to_y) > band[0]:
            yield min(x, to_x), max(x, to_x)
