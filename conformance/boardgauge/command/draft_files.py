"""The files of ``boardgauge new``: where a draft goes, and where answers are kept.

Law of this module: no file is written over unless that was said, and what was answered is never lost.
"""

from __future__ import annotations

import shlex
from pathlib import Path

import click
from attrs import frozen

from boardgauge.boards import UnknownBoard
from boardgauge.command.failing import Unusable
from boardgauge.drafting import Session, variant_like, write_answers


@frozen
class Wanted:
    """What was asked for on the command line."""

    name: str | None
    output: str | None
    like: str | None
    answers: str | None
    answer: tuple[str, ...]
    asking: bool
    every_key: bool
    overwrite: bool


def target_of(wanted: Wanted, name: str) -> Path:
    """Give the file to write. Raises Unusable where it is there, or its folder is not."""
    path = Path(wanted.output or f"{name}.toml")
    if path.is_dir():
        raise Unusable(f"{path}: is a folder, not a file to write")
    if not path.parent.is_dir():
        raise Unusable(f"{path}: there is no folder {path.parent}")
    if path.exists() and not wanted.overwrite:
        raise Unusable(f"{path} is there already; -o writes to another file, --overwrite over this one")
    return path


def write_new(path: Path, raw: bytes, overwrite: bool) -> None:
    """Write a file. Raises Unusable where it is there and may not be written over."""
    try:
        with path.open("wb" if overwrite else "xb") as file:
            file.write(raw)
    except FileExistsError:
        raise Unusable(f"{path} is there already; it was not written over") from None


def keep_answers(session: Session, wanted: Wanted) -> None:
    """Write what was answered to a file that was not there."""
    told = session.all_told()
    if not told:
        click.echo("nothing was answered, so nothing is kept", err=True)
        return
    target = Path(wanted.output or f"{told.get('board.id', 'board')}.toml")
    number, path = 1, target.with_suffix(".answers.toml")
    while True:
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(write_answers(told))
            break
        except FileExistsError:
            number += 1
            path = target.with_suffix(f".answers-{number}.toml")
    words = ["--answers", str(path)]
    words += ["-o", wanted.output] if wanted.output else []
    words += ["--every-key"] if wanted.every_key else []
    words += ["--overwrite"] if wanted.overwrite else []
    click.echo(f"the answers are kept; go on with: boardgauge new {shlex.join(words)}", err=True)


def write_like(wanted: Wanted, like: str, name: str, title: str) -> Path:
    """Write a variant of a library's board, and beside it each board that it stands on. Raises Unusable."""
    path = target_of(wanted, name)
    try:
        text, bases = variant_like(like, name, title)
    except UnknownBoard as error:
        raise Unusable(f"--like {like}: {error}") from None
    if path.name in bases:
        raise Unusable(f"{path.name} is the name of a board that it stands on; choose another")
    missing = [base for base in bases if not path.with_name(base).exists()]
    for base in bases:
        beside = path.with_name(base)
        if base not in missing and beside.read_bytes() != bases[base]:
            raise Unusable(f"{beside} is there already and is not the library's; -o writes to another folder")
    for base in missing:
        write_new(path.with_name(base), bases[base], overwrite=False)
        click.echo(f"written: {path.with_name(base)}, as the library has it")
    write_new(path, text.encode(), wanted.overwrite)
    click.echo(f"written: {path}")
    return path
