"""The problems of a text, as a person reads them."""

from __future__ import annotations

import pytest

from boardgauge.language import UnusableSpec, read_board_text


def problems_of(text: str, file: str = "board.toml") -> list[str]:
    """Give the problems of a text as lines."""
    with pytest.raises(UnusableSpec) as caught:
        read_board_text(text, file)
    return [str(problem) for problem in caught.value.problems]


def place(text: str, words: str) -> tuple[int, int]:
    """Give line and column of some words in a text."""
    offset = text.index(words)
    return text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset)
