"""What completes at the Tab key: boards, wirings, faults, settings, sheets and curves by their names, and files.

Law of this module: a parameter of one name is completed alike in every command. Completing never fails: where nothing
can be found out, there is nothing to offer. It starts with every press of a key, so what is slow to import is imported
for what needs it alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem, get_completion_class

if TYPE_CHECKING:
    from boardgauge.language.model import Board

PROGRAM = "boardgauge"
ASKED_BY = "_BOARDGAUGE_COMPLETE"
"""With this in the environment it is the shell that asks, at a press of the Tab key."""
Row = tuple[str, str | None]
"""A word, and what it means, for the shells that show it."""


def shell_script(shell: str) -> str:
    """Give the script by which a shell asks the program; it is click's own."""
    kind = get_completion_class(shell)
    assert kind is not None, shell
    return kind(click.Group(), {}, PROGRAM, ASKED_BY).source()


class Completed(click.types.StringParamType):
    """A text that is completed from a list; the list is asked for what was typed before it."""

    def __init__(self, rows: Callable[[click.Context], Iterable[Row]], files: bool = False) -> None:
        self.rows = rows
        self.files = files

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Give what begins as typed; a path where it can be nothing else."""
        try:
            found = [(word, told) for word, told in self.rows(ctx) if word.startswith(incomplete)]
        except Exception:  # whatever is wrong with a spec is told when the command runs
            found = []
        if self.files and (not found or "/" in incomplete):
            return [CompletionItem(incomplete, type="file")]
        if self.files:
            found += [(path.name, None) for path in sorted(Path().glob("*.toml")) if path.name.startswith(incomplete)]
        return [CompletionItem(word, help=told) for word, told in found]


def complete(command: click.Command) -> None:
    """Let the parameters of a command, and of those inside it, be completed."""
    for inner in getattr(command, "commands", {}).values():
        complete(inner)
    for param in command.params:
        how = _BY_COMMAND.get((command.name or "", param.name or "")) or _BY_NAME.get(param.name or "")
        if how is not None and param.type is click.STRING:
            param.type = how


# -- lists -------------------------------------------------------------------------------------------------------------
def _boards(ctx: click.Context) -> Iterable[Row]:
    from boardgauge.boards import board_names

    return [(name, None) for name in board_names()]


def _wirings(ctx: click.Context) -> Iterable[Row]:
    from boardgauge.boards import wiring_names

    return [(name, None) for name in wiring_names()]


def _board_of(ctx: click.Context) -> Board:
    from boardgauge.command.finding import spec_path
    from boardgauge.language import read_board

    # An option that still lacks its value leaves the arguments before it unparsed.
    given = ctx.params.get("board") or next(word for word in ctx.args if not word.startswith("-"))
    return read_board(spec_path(given))


def _faults(ctx: click.Context) -> Iterable[Row]:
    from boardgauge.faults import faults_of

    return [(fault.id, fault.name) for fault in faults_of(_board_of(ctx))]


def _settings(ctx: click.Context) -> Iterable[Row]:
    settings = _board_of(ctx).settings.values()
    return [
        (f"{setting.id}={position.name}", setting.note.text)
        for setting in settings
        for position in setting.positions
        if position.name is not None
    ]


def _sheets(ctx: click.Context) -> Iterable[Row]:
    from boardgauge.sheets.contents import KINDS

    return [(name, kind.tells) for name, kind in KINDS.items() if kind.form == "table"]


def _curves(ctx: click.Context) -> Iterable[Row]:
    from boardgauge.sensors.library import curve_names

    return [(name, None) for name in curve_names()]


_SPEC = Completed(_boards, files=True)
_BY_NAME = {
    "board": _SPEC,
    "first": _SPEC,
    "second": _SPEC,
    "specs": _SPEC,
    "like": Completed(_boards),
    "wiring": Completed(_wirings, files=True),
    "fault": Completed(_faults),
    "setting": Completed(_settings),
}
_BY_COMMAND = {
    ("boards", "name"): Completed(_boards),
    ("show", "what"): Completed(_sheets),
    ("sensor", "curve"): Completed(_curves, files=True),
}
