"""What the library says may replace what: proved one way, and refused the other.

Law: a board may replace another if it does nothing that the other may not; a wider range does not pass.
"""

from __future__ import annotations

from pathlib import Path

from boardgauge.boards import board_path
from boardgauge.comparing.comparison import Comparer, Comparison
from boardgauge.comparing.terminals import not_comparable
from boardgauge.language import Board, read_board, read_board_text
from boardgauge.pairing.differences import differences
from boardgauge.pairing.mapping_file import read_renaming_text
from boardgauge.pairing.renaming import Renaming

_MAPPING = Path(__file__).parents[2] / "docs" / "examples" / "tarnbeck-renewed-terminals.toml"


def _board(name: str) -> Board:
    return read_board(board_path(name))


def _mapping() -> Renaming:
    return read_renaming_text(_MAPPING.read_text(encoding="utf-8"), str(_MAPPING), _board("tarnbeck"), _renewed())


def _renewed(*changes: tuple[str, str]) -> Board:
    text = board_path("tarnbeck-renewed").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    library = {"tarnbeck.toml": board_path("tarnbeck").read_text(encoding="utf-8")}
    return read_board_text(text, "tarnbeck-renewed.toml", library=library.get)


def _compared(second: Board) -> Comparison:
    held = {name: value for name, value in _mapping().second_only["inputs"].items() if value is not None}
    return Comparer(_board("tarnbeck"), second, True, held).compare()


def test_the_replacement_may_replace_the_board() -> None:
    """Its delays are tighter, and with the terminal that is new left without a wire it does nothing else."""
    assert _compared(_renewed()).verdict == "same"


def test_without_a_mapping_the_new_terminal_is_in_the_way() -> None:
    """Somebody has to say how it stands."""
    (reason,) = not_comparable(_board("tarnbeck"), _renewed(), Renaming())
    assert "hold" in reason


def test_with_a_wider_delay_it_would_reach_beyond_the_board() -> None:
    """45 s within 12 % is beyond 45 s within 4 % and 0.3 s; within 1 % and 0.1 s it is inside."""
    for range_, lies in (("± 12 %", "around"), ("± (1 % + 0.1 s)", "inside")):
        other = _renewed(("45 s ± (1 % + 0.1 s)", f"45 s {range_}"))
        (row,) = [row for row in differences(_board("tarnbeck"), other) if row.name == "restart_delay"]
        assert [time.lies for time in row.times] == [lies]
