"""``boardgauge boards``."""

from __future__ import annotations

import click

from boardgauge.boards import board_names, board_path, description_path, wirings_for
from boardgauge.command.finding import find_board, plan_beside, spec_path, wirings_beside


def list_boards() -> None:
    """Print the library, a board a line."""
    rows = [(name, find_board(name)) for name in board_names()]
    width = max((len(name) for name, _ in rows), default=0)
    for name, board in rows:
        click.echo(f"{name:<{width}}  {board.title}")
    click.echo("\nEvery board is invented. `boardgauge boards NAME` tells about one.")


def tell_board(name: str) -> None:
    """Print what there is of one board, of the library or of a file."""
    board = find_board(name)
    click.echo(f"{board.id}: {board.title}")
    if board.text:
        click.echo(board.text)
    path = spec_path(name)
    click.echo(f"spec:      {path}")
    # A file of one's own has no sheet in the library, whatever its id is.
    ours = board.id in board_names() and path.resolve() == board_path(board.id).resolve()
    sheet = description_path(board.id) if ours else None
    if sheet is not None:
        click.echo(f"described: {sheet}")
    for wiring in wirings_for(board.id) if ours else wirings_beside(board, path):
        click.echo(f"wiring:    {wiring}")
    if plan_beside(path).is_file():
        click.echo(f"plan:      {plan_beside(path)}")
    for title, table in (("inputs", board.inputs), ("rules", board.rules), ("outputs", board.outputs)):
        click.echo(f"{title + ':':<10} {', '.join(table)}")
    if board.requirements:
        click.echo(f"required:  {', '.join(board.requirements)}")
