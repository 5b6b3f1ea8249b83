"""The text of a file that people write: a spec, a scenario, a wiring, a curve, a mapping.

Law of this module: a file is bounded in size before it is read, and whatever is wrong with it is told in words.
"""

from __future__ import annotations

from os import PathLike
from pathlib import Path

from boardgauge.language.model import Spot
from boardgauge.language.nodes import LARGEST_FILE
from boardgauge.language.problems import Problem, UnusableSpec


def text_of(path: str | PathLike[str]) -> str:
    """Give the text of a file. Raises UnusableSpec, with the place where there is one."""
    path = Path(path)
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise UnusableSpec([Problem(Spot(str(path)), "", f"the file cannot be read: {reason}")]) from None
    except ValueError:
        raise UnusableSpec([Problem(Spot(str(path)), "", "the file cannot be read: this is no file name")]) from None
    if len(raw) > LARGEST_FILE:
        raise UnusableSpec([Problem(Spot(str(path)), "", f"the file is larger than {LARGEST_FILE // 1024} KiB")])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - raw.rfind(b"\n", 0, error.start)
        message = f"byte {raw[error.start]:#04x} is not UTF-8; save the file in that encoding"
        raise UnusableSpec([Problem(Spot(str(path), line, column), "", message)]) from None
