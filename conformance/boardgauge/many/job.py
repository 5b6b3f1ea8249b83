"""What is to be judged, by what, and what came of it, as values that can be sent to another process.

Law of this module: nothing here judges. A job is the same for all recordings of a run and is sent packed, so that a
worker makes its judge of it once.
"""

from __future__ import annotations

import pickle
import zlib
from typing import Literal

from attrs import field, frozen

from boardgauge.judging.judgement import Judgement
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.traces.wiring import Wiring

Picture = Literal["svg", "png", "pdf"]


@frozen
class Job:
    """Against what recordings are judged, and how.

    ``given`` is what the board was called; ``charts`` is the kind of picture to draw of each deviation, or None.
    """

    given: str
    board: Board
    wiring: Wiring
    start: Start | None = None
    settings: dict[str, str] = field(factory=dict)
    charts: Picture | None = None

    def packed(self) -> bytes:
        """Give the job in a form to send, and to know it by."""
        return zlib.compress(pickle.dumps(self))

    @staticmethod
    def unpacked(packed: bytes) -> Job:
        """Give the job that was packed; only ever one of our own making, handed to us by the process we serve."""
        job = pickle.loads(zlib.decompress(packed))
        assert isinstance(job, Job)
        return job


@frozen
class Item:
    """A recording to judge: its place in the order, and the file, or the files that are its parts."""

    number: int
    parts: tuple[str, ...]

    @property
    def name(self) -> str:
        """What the recording is called."""
        return ", ".join(self.parts)


@frozen
class Outcome:
    """What came of a recording: a judgement, or why there is none. ``charts`` are pictures of its deviations."""

    number: int
    name: str
    judgement: Judgement | None = None
    error: str | None = None
    sha256: str = ""
    charts: tuple[bytes, ...] = ()
