"""The file in which is kept what a person typed of the sheet of a plan.

Law of this module: it is a file of times as ``plan --times`` reads it, to be completed by hand where something is still
open; no file is written over, since it may be what was written of another board.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from boardgauge.language.model import Board
    from boardgauge.plans.entering import Written
    from boardgauge.plans.plan import Plan, Sitting


def keep_times(
    given: str, plan_file: str, plan: Plan, board: Board, off: int, written: Mapping[str, Mapping[int, Written]]
) -> tuple[str, str]:
    """Write what was typed to a file that was not there, and tell how to judge it; give the file's name and text."""
    if not any(written.values()):
        click.echo("nothing was typed, so nothing is kept", err=True)
        return "", ""
    number, path = 1, Path(f"{Path(plan_file).stem}-times.toml")
    while True:
        again = ["boardgauge", "plan", given, "--enter", plan_file, "--times", str(path)]
        text = _text(plan, board, off, written, shlex.join(again))
        try:
            with path.open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
            break
        except FileExistsError:
            number += 1
            path = path.with_name(f"{Path(plan_file).stem}-times-{number}.toml")
        except OSError as error:
            click.echo(f"{path}: what was typed cannot be kept: {error.strerror or error}", err=True)
            return str(path), text
    open_ = sum(len(_asked(sitting)) - len(written.get(sitting.id, {})) for sitting in plan.sittings)
    if open_:
        click.echo(
            f"what was typed is kept in {path}, with the {open_} steps that are open as lines to complete", err=True
        )
    click.echo(f"{'then judge it' if open_ else 'judge again'}: {shlex.join(again)}", err=True)
    return str(path), text


def _text(plan: Plan, board: Board, off: int, written: Mapping[str, Mapping[int, Written]], again: str) -> str:
    from boardgauge.language.quantity_writer import write_plain_time
    from boardgauge.language.toml_writer import quoted
    from boardgauge.plans.sheet import step_line

    lines = [
        "# What was written on the sheet of a plan. A line that begins with # { is open: put in its time, and take the",
        "# first # away. Of a sitting of which nothing was seen, leave all away. Then",
        "#",
        f"#   {again}",
        "",
        "language = 1",
        f"board = {quoted(board.id)}",
        f"reaction = {quoted(write_plain_time(off))}",
    ]
    for sitting in plan.sittings:
        rows = written.get(sitting.id, {})
        mark = "" if rows else "# "
        lines += ["", f"{mark}[[sittings]]", f"{mark}id = {quoted(sitting.id)}", f"{mark}steps = ["]
        for number in _asked(sitting):
            told = step_line(sitting, number, board)
            if number in rows:
                lines.append(f"  {_row(number, rows[number])},  # {told}")
            else:
                lines.append(f'  # {{ step = {number + 1}, at = "" }},  # {told}')
        lines.append(f"{mark}]")
    return "\n".join(lines) + "\n"


def _asked(sitting: Sitting) -> list[int]:
    from boardgauge.plans.pace import asks_for_a_time

    return [number for number in range(len(sitting.steps)) if asks_for_a_time(sitting, number)]


def _row(number: int, row: Written) -> str:
    from boardgauge.language.quantity_writer import write_plain_time
    from boardgauge.language.toml_writer import key, quoted

    keys = [f"step = {number + 1}"]
    keys.append("never = true" if row.time is None else f"at = {quoted(write_plain_time(row.time))}")
    saw = {name: "on" if level else "off" for name, level in row.outputs.items()} | dict(row.lamps)
    if saw:
        keys.append("saw = { " + ", ".join(f"{key(name)} = {quoted(shown)}" for name, shown in saw.items()) + " }")
    return "{ " + ", ".join(keys) + " }"
