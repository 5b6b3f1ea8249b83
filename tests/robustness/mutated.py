"""Recordings as a bad day leaves them: real ones with bytes, lines and times changed, and what judging them may do.

Law of this module: a change is drawn, never random, so that a failure shrinks and repeats; nothing here judges.
"""

from __future__ import annotations

import gzip
import lzma
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

RECORDINGS = Path(__file__).resolve().parents[1] / "recordings"
LONGEST = 20_000
"""A longer recording is cut at a line end: what is hard to read is hard at any length."""

HOSTILE = [
    b"\0", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n\n", b"#", b"#-1\n", b"#99999999999999999999\n", b"#0\n", b"$end\n",
    b"$dumpoff\n", b"$comment ", b"$enddefinitions $end\n", b"b1x0 !\n", b"r1e999 !\n", b"rnan !\n", b"x!\n", b"z\"\n",
    b"1!\n", b"0#\n", b",", b";", b"\t", b'"', b"nan", b"-", b"1e9", b"1e999", b"-5", b"0.0000000000001", b",,,,",
    b"$var wire 1 ! y $end\n", b"$timescale 1 fs $end\n", b"$timescale 100 s $end\n",
]  # fmt: skip


@cache
def originals() -> dict[str, bytes]:
    """Give the recordings of the tests, unpacked and cut to a length that is quick to judge."""
    found = {}
    for path in sorted(path for path in RECORDINGS.iterdir() if path.is_file()):
        data = path.read_bytes()
        if path.suffix == ".gz":
            data = gzip.decompress(data)
        elif path.suffix == ".xz":
            data = lzma.decompress(data)
        elif path.suffix != ".vcd":
            continue
        if len(data) > LONGEST:
            data = data[: data.rfind(b"\n", 0, LONGEST) + 1]
        found[path.name] = data
    return found


@st.composite
def scrawled(draw: Any) -> bytes:
    """Give a recording with bytes put in, left out or changed anywhere, or cut off."""
    data = bytearray(originals()[draw(st.sampled_from(sorted(originals())))])
    for _ in range(draw(st.integers(1, 4))):
        # Half of the changes near the beginning, where the declarations are.
        span = len(data) if draw(st.booleans()) else min(len(data), 800)
        at = draw(st.integers(0, span))
        match draw(st.sampled_from(["put in", "leave out", "instead", "flip", "cut", "double"])):
            case "put in":
                data[at:at] = draw(st.sampled_from(HOSTILE) | st.binary(max_size=6))
            case "leave out":
                del data[at : at + draw(st.integers(1, 400))]
            case "instead":
                scrap = draw(st.sampled_from(HOSTILE) | st.binary(max_size=6))
                data[at : at + len(scrap)] = scrap
            case "flip" if at < len(data):
                data[at] ^= 1 << draw(st.integers(0, 7))
            case "cut":
                del data[at:]
            case _:
                data[at:at] = data[at : at + draw(st.integers(1, 200))]
    return bytes(data)


@st.composite
def still_read(draw: Any) -> bytes:
    """Give a recording with whole lines after the declarations left out, doubled or their values changed.

    Most of these can still be read, so that the judge gets to see them.
    """
    name = draw(st.sampled_from(sorted(originals())))
    lines = originals()[name].split(b"\n")
    vcd = lines[0].startswith(b"$")
    head = next(i for i, line in enumerate(lines) if line.startswith(b"$enddefinitions")) + 1 if vcd else 1
    for _ in range(draw(st.integers(1, 5))):
        if len(lines) <= head + 2:
            break
        at = draw(st.integers(head, len(lines) - 1))
        match draw(st.sampled_from(["leave out", "double", "value", "unknown", "leap", "end"])):
            case "leave out":
                del lines[at : at + draw(st.integers(1, 30))]
            case "double":
                lines.insert(at, lines[at])
            case "value":
                lines[at] = lines[at].translate(bytes.maketrans(b"01", b"10")) if _is_value(lines[at], vcd) else b""
            case "unknown":
                if vcd and lines[at][:1] in (b"0", b"1"):
                    lines[at] = b"x" + lines[at][1:]
                elif not vcd:
                    lines[at] = lines[at].rpartition(b",")[0] + b","
            case "leap":
                far = draw(st.sampled_from([10**3, 10**6, 10**9, 3600 * 10**6, 10**15]))
                lines.append(b"#%d" % (10**10 + far) if vcd else b"")
            case _:
                del lines[at:]
    return b"\n".join(lines)


def _is_value(line: bytes, vcd: bool) -> bool:
    return vcd and line[:1] in (b"0", b"1")
