"""``boardgauge convert``."""

from __future__ import annotations

from pathlib import Path

import click

from boardgauge.command.failing import Unusable
from boardgauge.traces import CannotWrite, Recording, UnreadableRecording, read_recording, target_of, write_recording
from boardgauge.traces.errors import NoRoom
from boardgauge.traces.shelf import Shelf
from boardgauge.traces.writing import FORMATS, Shape, Target

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}


def convert_recording(
    recording: str,
    output: str,
    format_: str | None,
    shape: Shape | None,
    delimiter: str | None,
    decimal_comma: bool,
) -> None:
    """Read a recording, write it into another file, and tell what was written and what only a note there tells."""
    with Shelf() as shelf:
        try:
            target = target_of(output, format_)
            read = read_recording(recording, shelf=shelf)
            told = write_recording(read, target, shape, DELIMITERS.get(delimiter or ""), decimal_comma)
        except (UnreadableRecording, NoRoom) as error:
            raise Unusable(str(error)) from None
        except CannotWrite as error:
            raise Unusable(str(error)) from None
    click.echo(f"{recording}: {contents(read)}")
    click.echo(f"written: {target.path} ({describe(target)})")
    if told:
        click.echo("Kept only in a note in the file, which Boardgauge reads and other programs leave out:")
        for line in told:
            click.echo(f"  - {line}")


def contents(recording: Recording) -> str:
    """Say in a line what a recording holds."""
    seconds = (recording.end - recording.start) / 1_000_000
    channels = len(recording.channels)
    what = f"{channels} channel{'s' if channels != 1 else ''}, {seconds:g} s"
    changes = sum(channel.changes for channel in recording.channels.values())
    samples = "" if recording.samples is None else f", {len(recording.samples):,} samples"
    return f"{recording.format}, {what}{samples}, {changes:,} changes"


def describe(target: Target) -> str:
    """Say in words what kind of file a target is."""
    size = Path(target.path).stat().st_size if Path(target.path).is_file() else 0
    packed = f", {target.packing}" if target.packing else ""
    return f"{FORMATS[target.format]}{packed}, {size:,} bytes"
