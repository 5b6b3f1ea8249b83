"""The program as it is typed, and the records it is typed for.

Law of this file: it says nothing of what ought to come of them.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from boardgauge.command.program import main
from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from records.kept_boards import DAY, made_up, small_entry, with_time


def typed(*arguments: object, keys: str | None = None) -> tuple[int, str]:
    """Run the program, with ``keys`` typed while it runs; give status and output."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], input=keys)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def three_lots(path: Path, off: float = 0.0, deviating: int = 0) -> None:
    """Fill records with three lots of twelve boards, the last of them off by so many seconds."""
    chance = np.random.default_rng(3)
    with open_records(str(path), make=True) as records:
        for number, middle in enumerate(chance.normal(45.0, 0.3, 36)):
            lot = number // 12
            low = middle + off * (lot == 2)
            more = {"lot": "ABC"[lot], "measured": DAY + timedelta(days=number % 12)}
            add_run(records, with_time(f"{number:03}", low, low + 0.1, **more))
        for number in range(deviating):
            bad = made_up("deviates", deviations=["restart_delay"])
            add_run(records, small_entry(f"b{number}", 20, judgement=bad, lot="A"))
