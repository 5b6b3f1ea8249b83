"""Strategies and a state machine by which Hypothesis looks for what a firmware does wrong, and shrinks what it finds.

Law of this package: what is drawn is drawn from the spec (its inputs, and waits at the limits of its times), and what
is shorter shrinks first. It needs the extra ``firmware`` (Hypothesis and pytest).
"""

from __future__ import annotations

from boardgauge.hypothesis.state_machine import firmware_machine
from boardgauge.hypothesis.strategies import changes, positions, scenarios, telling_waits, waits

__all__ = ["changes", "firmware_machine", "positions", "scenarios", "telling_waits", "waits"]
