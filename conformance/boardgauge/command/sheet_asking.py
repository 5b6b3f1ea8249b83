"""Ask at the terminal for what a person wrote on the sheet of a plan, step by step.

Law of this module: it asks and takes; a time that cannot be is refused while its step is asked for, when it can still
be looked up. What was taken stands in the table that the caller gave, whatever ends the asking.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from boardgauge.language.model import Board
    from boardgauge.plans.entering import Written
    from boardgauge.plans.plan import Observe, Plan, Sitting

INTRODUCTION = """\
Type what the sheet says, each time as the running stopwatch showed it: 83.5 or 1:23.5; never where it did not come.
< goes back one step. Ctrl-C stops and keeps what was typed."""

_STOPWATCH = re.compile(r"(?:(?:([0-9]{1,4}):)?([0-9]{1,4}):)?([0-9]{1,7}(?:[.,][0-9]{1,6})?)\s*s?")
_LONGEST = 10_000_000


class _Back(Exception):
    """The person wants the step before."""


def ask_plan(plan: Plan, board: Board, off: int, written: dict[str, dict[int, Written]]) -> None:
    """Ask for all sittings of a plan, into ``written`` by sitting and number of the step (from 0).

    Raises KeyboardInterrupt and EOFError as they come; what was typed until then is in ``written``.
    """
    click.echo(INTRODUCTION)
    for sitting in plan.sittings:
        click.echo(f"\nSitting {sitting.id}.")
        _ask_sitting(sitting, board, off, written.setdefault(sitting.id, {}))


def _ask_sitting(sitting: Sitting, board: Board, off: int, written: dict[int, Written]) -> None:
    from boardgauge.plans.pace import asks_for_a_time

    asked = [number for number in range(len(sitting.steps)) if asks_for_a_time(sitting, number)]
    at = 0
    while at < len(asked):
        number = asked[at]
        try:
            latest = max((row.time for row in written.values() if row.time is not None), default=0)
            written[number] = _ask_step(sitting, number, board, latest - 2 * off)
            at += 1
        except _Back:
            if at == 0:
                click.echo("  this is the first step of the sitting")
            else:
                at -= 1
                del written[asked[at]]


def _ask_step(sitting: Sitting, number: int, board: Board, earliest: int) -> Written:
    from boardgauge.plans.entering import Written
    from boardgauge.plans.plan import Observe, WaitFor
    from boardgauge.plans.sheet import step_line

    step = sitting.steps[number]
    may_never = isinstance(step, WaitFor)
    while True:
        text = _line(f"{step_line(sitting, number, board)}  ")
        if may_never and text.lower() == "never":
            return Written(None)
        time = stopwatch(text)
        if time is None:
            click.echo(f"  a number of seconds, or minutes as in 1:23.5{', or never' if may_never else ''}")
        elif time < earliest:
            click.echo("  its time is before that of an earlier step; < goes back to that one")
        else:
            break
    if isinstance(step, Observe) and not _yes("   just so? [Y/n]: "):
        return Written(time, *_otherwise(step, board))
    return Written(time)


def stopwatch(text: str) -> int | None:
    """Read what a stopwatch shows, as microseconds: seconds, or minutes and hours parted by colons; None if it is none.

    >>> stopwatch("83.5"), stopwatch("1:23,5"), stopwatch("1:02:03"), stopwatch("soon")
    (83500000, 83500000, 3723000000, None)
    """
    shown = _STOPWATCH.fullmatch(text.strip())
    if shown is None:
        return None
    hours, minutes, seconds = shown.groups()
    part = Decimal(seconds.replace(",", "."))
    if (minutes is not None and part >= 60) or (hours is not None and int(minutes) >= 60):
        return None
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + part
    return int(whole * 1_000_000) if whole < _LONGEST else None


def _otherwise(step: Observe, board: Board) -> tuple[dict[str, bool], dict[str, str]]:
    """Ask what was seen in place of what a board in order shows."""
    from boardgauge.language.quantity_writer import write_pattern

    outputs = {}
    for name, level in step.outputs.items():
        outputs[name] = _one_of(f"   {name}", ["on", "off"], "on" if level else "off") == "on"
    lamps = {}
    for name, shows in step.lamps.items():
        lines = list(dict.fromkeys(write_pattern(line.shows) for line in board.lamps[name].lines))
        for number, line in enumerate(lines, 1):
            click.echo(f"     {number}  {line}")
        lamps[name] = _one_of(f"   {name}", lines, shows, numbered=True)
    return outputs, lamps


def _one_of(name: str, choices: list[str], default: str, numbered: bool = False) -> str:
    while True:
        text = _line(f"{name} [{default}]: ") or default
        if numbered and text.isascii() and text.isdigit() and 1 <= int(text) <= len(choices):
            return choices[int(text) - 1]
        if text.lower() in choices:
            return text.lower()
        click.echo(f"  one of: {', '.join(choices)}{', or its number' if numbered else ''}")


def _yes(question: str) -> bool:
    while True:
        text = _line(question).lower()
        if text in ("", "y", "yes", "n", "no"):
            return text in ("", "y", "yes")
        click.echo("  y or n")


def _line(prompt: str) -> str:
    text = input(prompt).strip()
    if text == "<":
        raise _Back
    return text
