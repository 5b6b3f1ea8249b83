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
from boardgauge.traces.samples import GrowingSamples, Samples
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
    samples: Samples | None = None

    def written(self) -> Iterator[str]:
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
        # "$end" would end a comment of a value change dump.
        if said:
            yield json.dumps(said).replace("$", "\\u0024")
        if self.samples is not None:
            words = _runs(self.samples)
            while some := list(itertools.islice(words, _PIECES)):
                yield json.dumps({"samples": " ".join(some)})


def _runs(samples: Samples) -> Iterator[str]:
    """Write times as the first one and then the steps, equal ones taken together."""
    step = count = 0
    last: int | None = None
    for times in samples.pieces():
        if last is None:
            yield str(int(times[0]))
        steps = np.diff(times) if last is None else np.diff(times, prepend=last)
        last = int(times[-1])
        begins = np.flatnonzero(np.diff(steps, prepend=0))
        for each, more in zip(steps[begins].tolist(), np.diff(np.append(begins, len(steps))).tolist(), strict=True):
            if count and each != step:
                yield f"{step}*{count}" if count > 1 else str(step)
                count = 0
            step, count = each, count + more
    if last is None or count:
        yield "" if last is None else f"{step}*{count}" if count > 1 else str(step)


_STEP = re.compile(r"(-?\d{1,18})(?:\*(\d{1,9}))?", re.ASCII)
_EVENLY = 1 << 14
"""So many samples one step apart are not written out."""


class _Told:
    """The samples that notes have told so far."""

    def __init__(self) -> None:
        self._samples = GrowingSamples()
        self._last: int | None = None
        self._reach = 0

    def add(self, text: str) -> None:
        """Take in the steps of one note. Raises Misfit."""
        words: list[tuple[int, int]] = []
        for word in text.split():
            found = _STEP.fullmatch(word)
            if not found:
                raise Misfit(f"{word[:30]!r} is no step between samples")
            words.append((int(found[1]), int(found[2] or 1)))
        if len(self._samples) + sum(count for _, count in words) > MOST_SAMPLES:
            raise Misfit(f"it stands for more than {MOST_SAMPLES:,} samples")
        self._reach += sum(abs(step) * count for step, count in words)
        if self._reach > 2 * MOST_TIME:
            raise Misfit("its samples reach beyond 2,283 years")
        begins = self._last is None and bool(words)
        if any(step < 1 or count < 1 for step, count in words[begins:]) or (begins and words[0][1] != 1):
            raise Misfit("its samples do not rise")
        if begins:
            self._last = words.pop(0)[0]
            self._samples.add(np.array([self._last], dtype=np.int64))
        # Long runs stay folded; of the others, some are written out at once.
        some: list[tuple[int, int]] = []
        for step, count in words:
            if count >= _EVENLY:
                self._rise(some)
                self._last = self._samples.add_evenly(step, count)
                continue
            some.append((step, count))
            if len(some) >= 64:
                self._rise(some)
        self._rise(some)

    def _rise(self, some: list[tuple[int, int]]) -> None:
        if some and self._last is not None:
            steps, counts = np.array(some, dtype=np.int64).T
            times = self._last + np.cumsum(np.repeat(steps, counts))
            self._samples.add(times)
            self._last = int(times[-1])
            some.clear()

    def samples(self) -> Samples:
        """Give them all."""
        return self._samples.samples()


class NoteReader:
    """The notes of one file, one after the other."""

    def __init__(self) -> None:
        self._said: dict[str, object] = {}
        self._samples: _Told | None = None
        self.found = 0
        """How many there were."""

    def take(self, each: str | bytes | Mapping[str, object]) -> None:
        """Take in one. Raises Misfit where it is none."""
        self.found += 1
        try:
            note = each if isinstance(each, Mapping) else json.loads(each)
        except (ValueError, RecursionError):
            raise Misfit("it is not JSON") from None
        if not isinstance(note, Mapping):
            raise Misfit("it is not a JSON object")
        for key, value in note.items():
            if key == "samples" and isinstance(value, str):
                self._samples = self._samples or _Told()
                self._samples.add(value)
            elif key in self._said:
                raise Misfit(f"{key} is said twice")
            else:
                self._said[key] = value

    def notes(self) -> Notes:
        """Give what they say together. Raises Misfit where that is nothing known."""
        said = self._said
        wanted: dict[str, type] = {"rounded": bool, "shift_us": int, "rows": str, "names": dict, "paths": dict}
        for key, value in said.items():
            if (
                key not in wanted
                or not isinstance(value, wanted[key])
                or (isinstance(value, bool) != (key == "rounded"))
            ):
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
            samples=None if self._samples is None else self._samples.samples(),
        )


def notes_from(objects: Iterable[str | bytes | Mapping[str, object]]) -> Notes:
    """Read notes. Raises Misfit where one is none."""
    reader = NoteReader()
    for each in objects:
        reader.take(each)
    return reader.notes()


def noted(recording: Recording, notes: Notes) -> Recording:
    """Give the recording with what its notes add. Raises Misfit where they do not fit."""
    channels = {}
    for name, channel in recording.channels.items():
        own = notes.names.get(name, name)
        if own in channels:
            raise Misfit(f"two channels would be called {own!r}")
        channels[own] = channel.named(own).moved(-notes.shift)
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
        if not all(_among(times, taken) for channel in channels.values() for times, _ in channel.pieces()):
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


def _among(times: Times, samples: Samples) -> bool:
    index = samples.searchsorted(times)
    return bool((index < len(samples)).all()) and np.array_equal(samples.take(index), times)


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
    reader = NoteReader()
    first: int | None = None
    try:
        for block in source:
            at = 0
            while at < len(block.data):
                cut = block.data.find(b"\n", at) + 1 or len(block.data)
                found = _LINE.fullmatch(block.data[at:cut])
                if not found:
                    break
                first = block.line if first is None else first
                reader.take(found[1])
                at = cut
            if at < len(block.data):
                source = itertools.chain([block], source)
                break
        return (reader.notes() if reader.found else None), source
    except Misfit as error:
        raise misfit(file, error, first) from None
