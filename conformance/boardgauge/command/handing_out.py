"""``boardgauge handout`` and ``boardgauge show``."""

from __future__ import annotations

import json
import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board
from boardgauge.drawings.page import Paper
from boardgauge.sheets.contents import NoSuchSheet, make, printed
from boardgauge.sheets.reader_units import Degrees, in_degrees

if TYPE_CHECKING:
    from boardgauge.sheets.blocks import Sheet

_ENDINGS = (".pdf", ".html")
_TEXTS = (".txt", ".md", ".json")


def write_handout(
    given: str,
    output: str | None,
    paper: str,
    wanted: str | None,
    unwanted: str | None,
    degrees: str | None,
    title: str | None,
    scenarios: tuple[str, ...],
) -> Path:
    """Make a handout and write it; give the file written."""
    from boardgauge.sheets.handout import handout

    board = find_board(given)
    target = Path(output or f"{board.id}-handout.pdf")
    if target.suffix.lower() not in _ENDINGS:
        raise Unusable(f"{target}: the format is not plain from the name; end it in {' or '.join(_ENDINGS)}")
    try:
        made = handout(
            board,
            wanted=_names(wanted),
            unwanted=_names(unwanted),
            degrees=cast("Degrees | None", degrees),
            title=title,
            command=command_line(),
            more=[_scenario_sheet(given, path, degrees) for path in scenarios],
        )
    except NoSuchSheet as error:
        raise Unusable(str(error)) from None
    if target.suffix.lower() == ".html":
        from boardgauge.sheets.as_html import to_html

        target.write_text(to_html(made, cast(Paper, paper)), encoding="utf-8")
    else:
        from boardgauge.sheets.as_typst import to_pdf

        target.write_bytes(to_pdf(made, cast(Paper, paper)))
    return target


def _names(given: str | None) -> list[str]:
    return [name.strip() for name in (given or "").split(",") if name.strip()]


def command_line() -> str:
    """Give the command as it was typed, so that the sheet can be made again."""
    return shlex.join([Path(sys.argv[0]).stem or "boardgauge", *sys.argv[1:]])


def _scenario_sheet(given: str, path: str, degrees: str | None) -> Sheet:
    from boardgauge.language import UnusableSpec
    from boardgauge.machine.picture import CannotSettle
    from boardgauge.machine.scenario import ScenarioStuck
    from boardgauge.machine.scenario_reader import read_scenario
    from boardgauge.sheets.scenario_sheet import scenario_sheet

    board = find_board(given)
    try:
        return scenario_sheet(board, read_scenario(Path(path), board), cast("Degrees | None", degrees))
    except UnusableSpec as error:
        raise Unusable(f"{path} cannot be used:\n{error}") from None
    except (ScenarioStuck, CannotSettle) as error:
        raise Unusable(f"{path}: {error}") from None


def show(given: str, what: str, degrees: str | None, as_json: bool, output: str | None) -> None:
    """Print one sheet of a board, or write it to a file."""
    from boardgauge.sheets.as_text import to_data, to_markdown, to_text
    from boardgauge.sheets.study import Study

    board = in_degrees(find_board(given), cast("Degrees | None", degrees))
    try:
        sheet = make(Study(board), printed(what, given))
    except NoSuchSheet as error:
        raise Unusable(str(error)) from None
    ending = "" if output is None else Path(output).suffix.lower()
    if output is not None and ending not in _TEXTS:
        raise Unusable(f"{output}: the format is not plain from the name; end it in {', '.join(_TEXTS)}")
    if as_json or ending == ".json":
        data = {"board": board.id, "digest": board.digest, **to_data(sheet)}
        text = json.dumps(data, ensure_ascii=False, indent=2) + "\n"
    elif ending == ".md":
        text = to_markdown(sheet)
    else:
        text = to_text(sheet, shutil.get_terminal_size((100, 24)).columns)
    if output is None:
        click.echo(text, nl=False)
    else:
        Path(output).write_text(text, encoding="utf-8")
        click.echo(output)
