"""Moments of the calendar, as they are kept and as people are told them.

Law of this module: a moment has its zone. It is kept and exported as UTC, and told on the clock of this machine.
"""

from __future__ import annotations

from datetime import UTC, datetime


def utc(moment: datetime) -> str:
    """Give a moment as text for programs: ``2026-03-02T08:30:00Z``."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def local(moment: datetime) -> str:
    """Give a moment to the minute on the clock of this machine: ``2026-03-02 09:30``."""
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")


def without_zone(moment: datetime) -> datetime:
    """Give a moment as databases keep it, UTC without saying so."""
    return moment.astimezone(UTC).replace(tzinfo=None)
