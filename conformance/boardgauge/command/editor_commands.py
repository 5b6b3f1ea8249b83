"""What the program does for shells and editors: complete what is typed.

Law of this module: a command parses, calls one function and prints; what takes long to import is imported where it is
used.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from boardgauge.command.failing import explained

FILE_KINDS = ("spec", "wiring", "scenario", "plan", "rig")
SHELLS = ("bash", "zsh", "fish")


@click.command()
@click.argument("kind", type=click.Choice(FILE_KINDS), default="spec")
@click.option("-o", "--output", type=click.Path(dir_okay=False), help="File to write; by default it is printed.")
@explained
def schema(kind: str, output: str | None) -> None:
    """Print the JSON Schema of a KIND of file, for an editor to complete and check by.

    Many editors read it where the first line of a file names it: `#:schema board.schema.json`.
    """
    from boardgauge.command.describing import schema_of

    text = schema_of(kind)
    if output is None:
        click.echo(text)
    else:
        Path(output).write_text(text + "\n", encoding="utf-8")
        click.echo(f"written: {output}")


@click.command()
@click.argument("shell", type=click.Choice(SHELLS))
@explained
def completion(shell: str) -> None:
    """Print what lets a SHELL complete commands, options, boards, wirings and faults at the Tab key.

    In bash or zsh: eval "$(boardgauge completion bash)" in the start file. In fish: boardgauge completion fish | source
    """
    from boardgauge.command.completing import shell_script

    click.echo(shell_script(shell))
    sys.exit(0)
