"""Drafting a board spec by asking: which questions come, what stands against an answer, what file comes of it.

Law of this package: it asks nobody and writes nothing. Whoever asks, on a screen or out of a file, drives a
``Session``; what comes of it is text.
"""

from __future__ import annotations

from boardgauge.drafting.answers_file import read_answers, write_answers
from boardgauge.drafting.finished import board_of, commented, proposed_by_us
from boardgauge.drafting.interview import Interview
from boardgauge.drafting.likeness import variant_like
from boardgauge.drafting.question import Question
from boardgauge.drafting.session import Session

__all__ = [
    "Interview",
    "Question",
    "Session",
    "board_of",
    "commented",
    "proposed_by_us",
    "read_answers",
    "variant_like",
    "write_answers",
]
