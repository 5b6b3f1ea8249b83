"""``boardgauge demo``."""

from __future__ import annotations

from importlib.resources import as_file, files

import click
from attrs import evolve

from boardgauge.command.finding import find_board, find_trace, find_wiring, spec_path
from boardgauge.command.program import CAUTION
from boardgauge.command.report import report
from boardgauge.judging.judge import Judge

DEMO_BOARD = "quillmere"
DEMO_RECORDINGS = (
    ("quillmere_two_calls__good.vcd", "A good board, through two calls:"),
    ("quillmere_two_calls__restarts_too_soon.vcd", "A board of the same kind that restarts its compressor too soon:"),
)
NEXT = (
    ("boardgauge boards", "the boards of the library"),
    (f"boardgauge draw {DEMO_BOARD} -o overview.pdf", "its operating states on one page"),
    (f"boardgauge draw {DEMO_BOARD} --what all", "a diagram of every rule"),
    ("boardgauge new YOUR-BOARD", "a spec of your own, by being asked"),
    ("boardgauge vet YOUR-BOARD.toml", "what is wrong with it, and what is proved of it"),
    ("boardgauge look YOUR-RECORDING.csv", "what stands in a recording of your own"),
    (f"boardgauge judge {DEMO_BOARD} YOUR-RECORDING.csv", "the same held against a board"),
)


def demonstrate() -> None:
    """Judge the shipped recordings and say what to try next."""
    board = find_board(DEMO_BOARD)
    wiring = find_wiring(None, board, spec_path(DEMO_BOARD))
    judge = Judge.of(board)
    click.echo(f"{board.title}. Board and recordings are invented.\n")
    for name, words in DEMO_RECORDINGS:
        with as_file(files("boardgauge.cases").joinpath("demo", name)) as path:
            trace = find_trace(str(path), wiring, board)
        click.echo(words)
        click.echo(report(evolve(judge.judge(trace), file=name), board))
        click.echo()
    click.echo("What to try next:")
    width = max(len(command) for command, _ in NEXT)
    for command, words in NEXT:
        click.echo(f"  {command:<{width}}  {words}")
    click.echo(f"\n{CAUTION}")
