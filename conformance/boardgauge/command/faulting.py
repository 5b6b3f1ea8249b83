"""``boardgauge faults``."""

from __future__ import annotations

import json
from itertools import groupby

import click

from boardgauge.command.diagnosing import fault_data
from boardgauge.command.finding import find_board
from boardgauge.faults.fault import GROUPS
from boardgauge.faults.listing import faults_of


def list_faults(given: str, as_json: bool) -> None:
    """Print the single faults of a board, by kind."""
    board = find_board(given)
    faults = faults_of(board)
    if as_json:
        click.echo(json.dumps({"board": board.id, "faults": [fault_data(f) for f in faults]}, ensure_ascii=False))
        return
    click.echo(f"{board.title}: {len(faults)} single faults")
    order = {key: number for number, key in enumerate(GROUPS)}
    width = min(44, max((len(fault.id) for fault in faults), default=0))
    for group, rows in groupby(sorted(faults, key=lambda f: order[f.group]), key=lambda f: f.group):
        click.echo(f"\n{GROUPS[group].title} ({GROUPS[group].cause})")
        for fault in rows:
            clause = f" (clause {fault.clause})" if fault.clause else ""
            click.echo(f"  {fault.id:<{width}}  {fault.name}{clause}")
