"""What a camera makes of a lamp: a column of brightness, a row a frame.

Law of this module: a frame is the mean of what the lamp did while the shutter was open, with the light around it, the
exposure and the noise of the camera on top. All of it is seeded.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import frozen

SHUTTER = 12_000


@frozen
class Camera:
    """``drift`` is what the light gains a second; ``exposures`` are times (us) with the factor of all from there on."""

    rate: float = 30.0
    dark: float = 25.0
    lit: float = 170.0
    noise: float = 2.0
    drift: float = 0.0
    exposures: tuple[tuple[int, float], ...] = ()
    dropped: float = 0.03
    jitter: int = 3_000
    seed: int = 0

    def film(self, edges: Sequence[tuple[int, float]], end: int) -> tuple[np.ndarray, np.ndarray]:
        """Give the times of the frames and what was seen in each."""
        chance = np.random.default_rng(self.seed)
        times = np.arange(10_000, end - SHUTTER, round(1_000_000 / self.rate))
        times = times + (chance.integers(-self.jitter, self.jitter + 1, len(times)) if self.jitter else 0)
        times = np.unique(times[chance.random(len(times)) >= self.dropped])
        at, levels = np.array([t for t, _ in edges]), np.array([v for _, v in edges])
        open_for = times[:, None] + np.linspace(0, SHUTTER, 8)
        on = levels[np.searchsorted(at, open_for, side="right") - 1].mean(axis=1)
        seen = self.dark + (self.lit - self.dark) * on + self.drift * times / 1_000_000
        for since, factor in self.exposures:
            seen = np.where(times >= since, seen * factor, seen)
        return times, np.round(np.clip(seen + chance.normal(0, self.noise, len(times)), 0, 255))
