"""What a recording has and a file format cannot hold, kept beside the values for us to read again.

Law of this module: a note adds what the values of the file leave out and never contradicts them; a file without notes
is read as it stands, and one whose notes do not fit its values is refused.

A note is a JSON object. In a CSV file it stands in a comment line, ``# boardgauge {...}``; in a value change dump in a
line ``$comment boardgauge {...} $end``; in JSON lines in an object of its own, ``{"boardgauge": {...}}``; in Parquet
and Arrow in the metadata of the schema. All notes stand before the values. Their keys:

==============  ====================================================================================================
``rounded``     true: some time was finer than a microsecond and was taken down to it
``shift_us``    the times of the file are this many microseconds later than those of the recording
``rows``        ``"changes"``: the rows of this wide table are changes, not samples
``names``       for a channel whose name the format cannot hold: its name in the file, and its own
``paths``       full names of channels, and the channel of each
``samples``     when samples were taken: ``"0 1000*3 998"`` is at 0, then three times 1000 µs later, then 998 µs later
==============  ====================================================================================================
"""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
from attrs import evolve, field, frozen

from boardgauge.traces.errors import UnreadableRecording
from boardgauge.traces.recording import MOST_TIME, Recording, Times
from boardgauge.traces.source import Block

KEY = "boardgauge"
MOST_SAMPLES = 2**28
"""No note stands for more samples than this: a short note could else fill any memory."""
_PIECES = 6000
"""So many numbers of samples go into one note, that no line is too long for an editor."""
_LINE = re.compile(rb"(?:#|\$comment)\s+boardgauge (\{.*\})(?:\s+\$end)?\s*")


class Misfit(ValueError):
    """A note that does not fit the values of its file, or is none."""


@frozen(eq=False)
class Notes:
    """What the notes of one file say; see the top of this module."""

    rounded: bool = False
    shift: int = 0
    changes: bool = False
    names: dict[str, str] = field(factory=dict)
    paths: dict[str, str] = field(factory=dict)
    samples: Times | None = None

    def written(self) -> list[str]:
        """Give the notes as JSON objects, each in ASCII and on one line; none if there is nothing to say."""
        said: dict[str, object] = {}
        if self.rounded:
            said["rounded"] = True
        if self.shift:
            said["shift_us"] = self.shift
        if self.changes:
            said["rows"] = "changes"
        if self.names:
            said["names"] = self.names
        if self.paths:
            said["paths"] = self.paths
        objects = [said] if said else []
        if self.samples is not None:
            pieces = list(_runs(self.samples))
            groups = (pieces[at : at + _PIECES] for at in range(0, len(pieces), _PIECES))
            objects += [{"samples": " ".join(group)} for group in groups]
        # "$end" would end a comment of a value change dump.
        return [json.dumps(each).replace("$", "\\u0024") for each in objects]


def _runs(samples: Times) -> Iterator[str]:
    """Write times as the first one and then the steps, equal ones taken together."""
    yield str(int(samples[0])) if len(samples) else ""
    steps = np.diff(samples)
    if len(steps):
        begins = np.flatnonzero(np.concatenate(([True], steps[1:] != steps[:-1])))
        counts = np.diff(np.append(begins, len(steps)))
        for step, count in zip(steps[begins].tolist(), counts.tolist(), strict=True):
            yield f"{step}*{count}" if count > 1 else str(step)


def _samples(texts: list[str]) -> Times:
    steps: list[int] = []
    counts: list[int] = []
    for word in itertools.chain.from_iterable(text.split() for text in texts):
        found = re.fullmatch(r"(-?\d{1,18})(?:\*(\d{1,9}))?", word, re.ASCII)
        if not found:
            raise Misfit(f"{word[:30]!r} is no step between samples")
        steps.append(int(found[1]))
        counts.append(int(found[2] or 1))
    if sum(counts) > MOST_SAMPLES:
        raise Misfit(f"it stands for more than {MOST_SAMPLES:,} samples")
    if sum(abs(step) * count for step, count in zip(steps, counts, strict=True)) > 2 * MOST_TIME:
        raise Misfit("its samples reach beyond 2,283 years")
    if counts and (counts[0] != 1 or min(steps[1:], default=1) < 1):
        raise Misfit("its samples do not rise")
    return np.cumsum(np.repeat(np.array(steps, dtype=np.int64), counts))


def notes_from(objects: Iterable[str | bytes | Mapping[str, object]]) -> Notes:
    """Read notes. Raises Misfit where one is none."""
    said: dict[str, object] = {}
    samples: list[str] = []
    for each in objects:
        try:
            note = each if isinstance(each, Mapping) else json.loads(each)
        except (ValueError, RecursionError):
            raise Misfit("it is not JSON") from None
        if not isinstance(note, Mapping):
            raise Misfit("it is not a JSON object")
        for key, value in note.items():
            if key == "samples" and isinstance(value, str):
                samples.append(value)
            elif key in said:
                raise Misfit(f"{key} is said twice")
            else:
                said[key] = value
    wanted: dict[str, type] = {"rounded": bool, "shift_us": int, "rows": str, "names": dict, "paths": dict}
    for key, value in said.items():
        if key not in wanted or not isinstance(value, wanted[key]) or (isinstance(value, bool) != (key == "rounded")):
            raise Misfit(f"{key} says nothing that is known here")
        if isinstance(value, dict) and not all(isinstance(name, str) for name in value.values()):
            raise Misfit(f"{key} says nothing that is known here")
    shift = int(str(said.get("shift_us", 0)))
    if abs(shift) > MOST_TIME or said.get("rows", "changes") != "changes":
        raise Misfit("shift_us or rows says nothing that is known here")
    return Notes(
        rounded=said.get("rounded") is True,
        shift=shift,
        changes="rows" in said,
        names=dict(said.get("names", {})),  # type: ignore[call-overload]  # seen to be one above
        paths=dict(said.get("paths", {})),  # type: ignore[call-overload]
        samples=_samples(samples) if samples else None,
    )


def noted(recording: Recording, notes: Notes) -> Recording:
    """Give the recording with what its notes add. Raises Misfit where they do not fit."""
    channels = {}
    for name, channel in recording.channels.items():
        own = notes.names.get(name, name)
        if own in channels:
            raise Misfit(f"two channels would be called {own!r}")
        channels[own] = evolve(channel, name=own, times=channel.times - notes.shift)
    if not set(notes.names) <= set(recording.channels):
        raise Misfit("it names a channel that the file does not have")
    samples = recording.samples if recording.samples is None else recording.samples - notes.shift
    start, end = recording.start - notes.shift, recording.end - notes.shift
    if max(abs(start), abs(end)) > MOST_TIME:
        raise Misfit("its times reach beyond 2,283 years")
    taken = notes.samples
    if taken is not None:
        if samples is not None and not notes.changes:
            raise Misfit("the file has samples of its own")
        if not len(taken) or (int(taken[0]), int(taken[-1])) != (start, end):
            raise Misfit("its samples do not begin and end with the recording")
        if not all(bool(np.all(np.isin(channel.times, taken))) for channel in channels.values()):
            raise Misfit("a change lies between its samples")
    paths = {path: notes.names.get(name, name) for path, name in recording.paths.items()}
    return evolve(
        recording,
        start=start,
        end=end,
        channels=channels,
        samples=taken if taken is not None else None if notes.changes else samples,
        rounded=recording.rounded or notes.rounded,
        paths={**paths, **notes.paths},
    )


def with_notes(notes: Notes, recording: Recording) -> Recording:
    """Do as ``noted``, with UnreadableRecording where the notes do not fit."""
    try:
        return noted(recording, notes)
    except Misfit as error:
        raise misfit(recording.file, error) from None


def misfit(file: str, error: Misfit, line: int | None = None) -> UnreadableRecording:
    """Give the error for a note that cannot be used."""
    return UnreadableRecording(
        file,
        f"a note of Boardgauge in it does not fit: {error}",
        line=line,
        expected="the note as it was written; without its notes the file reads as it stands",
    )


def taken_off(source: Iterator[Block], file: str) -> tuple[Notes | None, Iterator[Block]]:
    """Read the notes at the beginning of a CSV file or a value change dump; give them, and the blocks to read on.

    Raises UnreadableRecording where one is damaged.
    """
    objects: list[bytes] = []
    first: int | None = None
    for block in source:
        at = 0
        while at < len(block.data):
            cut = block.data.find(b"\n", at) + 1 or len(block.data)
            found = _LINE.fullmatch(block.data[at:cut])
            if not found:
                break
            first = block.line if first is None else first
            objects.append(found[1])
            at = cut
        if at < len(block.data):
            source = itertools.chain([block], source)
            break
    try:
        return (notes_from(objects) if objects else None), source
    except Misfit as error:
        raise misfit(file, error, first) from None
