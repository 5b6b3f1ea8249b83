"""What came of taking two machines through everything side by side, as a value."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from attrs import frozen

from boardgauge.pairing.joint_way import JointWay

Progress = Callable[[int, int], None]
"""Told now and then how much was gone on from, and how much there is."""


@frozen
class Lockstep:
    """What came of it.

    ``by``: the timings whose lengths the proof hangs on. ``differ``: what showed differently at the end of ``way``;
    ``why`` it is open in other cases, in words.
    """

    verdict: Literal["held", "open"]
    explored: int
    differ: tuple[str, ...] = ()
    by: tuple[str, ...] = ()
    way: JointWay | None = None
    why: str = ""


TOO_MUCH = "not all that may happen at one moment was explored, there is too much of it"
