"""Bytes come from the stream that was asked for, and from no other, to its end."""

from __future__ import annotations

import os

from boardgauge.rigs.pump import Pump


def test_a_stream_that_is_given_the_same_number_is_left_alone() -> None:
    """A program ends and another is started at once: what the second says is not taken by who reads the first.

    So a rig that was opened right after another one was closed waited in vain for its hello, once in some runs.
    """
    source, sink = os.pipe()
    pump = Pump(source)
    os.write(sink, b"one")
    assert pump.take(10) == b"one"
    os.close(source)
    other, to_other = os.pipe()
    assert other == source
    os.write(sink, b"two")
    assert pump.take(10) == b"two"
    os.write(to_other, b"not for the pump")
    assert pump.take(0.2) == b""
    assert os.read(other, 100) == b"not for the pump"
    os.close(sink)
    assert pump.take(10) is None
    assert pump.take(10) is None
    os.close(other)
    os.close(to_other)
