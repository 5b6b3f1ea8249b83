"""Options that several commands have, said once.

Law of this module: an option of one name means the same wherever it stands.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from boardgauge.command.failing import Unusable

wiring_option = click.option(
    "--wiring", help="What the channels mean: the id of a wiring or a file. By default the board's own."
)
start_option = click.option(
    "--start",
    type=click.Choice(["power-up", "unknown"]),
    help="What is known of the board before the recording: that it was fresh, or nothing. By default read from it.",
)
setting_option = click.option(
    "--setting", multiple=True, metavar="NAME=POSITION", help="The position of a setting; may be repeated."
)

_RECORD = (
    click.option(
        "--record",
        metavar="DATABASE",
        help="Keep what came of it in these records: a file (SQLite), or the SQLAlchemy URL of a database.",
    ),
    click.option("--serial", metavar="NO", help="The serial number of the board, for --record."),
    click.option(
        "--serials-from-names",
        is_flag=True,
        help="Each recording is of a board of its own, and its file is called by the serial number, for --record.",
    ),
    click.option("--lot", metavar="NAME", help="The lot that the board is of, for --record."),
    click.option("--operator", metavar="NAME", help="Who measured, for --record."),
    click.option(
        "--measured",
        metavar="WHEN",
        help="When the recording was made, for --record: 2026-03-02 or 2026-03-02T09:30. By default now.",
    ),
    click.option("--note", default="", metavar="TEXT", help="What else is to be known of it, for --record."),
)


def record_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that say what is kept of it, and where."""
    for option in reversed(_RECORD):
        command = option(command)
    return command


def once(_context: click.Context, option: click.Parameter, given: tuple[str, ...]) -> str | None:
    """Give the one value of an option; asked for twice, one of the two would be left out without a word."""
    if len(given) > 1:
        raise click.UsageError(
            f"{option.opts[0]} is given {len(given)} times, and one is drawn at a time: {', '.join(given)}"
        )
    return given[0] if given else None


def time_given(option: str, text: str) -> int:
    """Give a time that an option has, in microseconds."""
    from boardgauge.language.problems import Unreadable
    from boardgauge.language.quantity_reader import read_plain_time

    try:
        return read_plain_time(text)
    except Unreadable as error:
        raise Unusable(f"{option} {text}: {error.message}; write it like 30 min") from None
