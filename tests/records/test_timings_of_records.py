"""``records timings``: the figures of the times that were kept, lots that are off, and histograms."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from records.kept_boards import DAY, made_up, small_entry, with_time
from records.records_typed import three_lots, typed


def test_a_lot_that_is_off_is_told(tmp_path: Path) -> None:
    """Lots alike leave with 0; one that is off with 1, named with its mean."""
    three_lots(tmp_path / "alike.db")
    status, output = typed("records", tmp_path / "alike.db", "timings")
    assert status == 0, output
    assert "lots: no drift found" in output
    assert "Cp " in output
    three_lots(tmp_path / "off.db", off=1.0)
    status, output = typed("records", tmp_path / "off.db", "timings", "restart_delay")
    assert status == 1
    assert "lots: DRIFT, lot" in output
    assert "to lot C" in output


def test_figures_are_those_of_the_times(tmp_path: Path) -> None:
    """Count, mean and Cpk in the JSON are those of the middles of the times that were kept."""
    three_lots(tmp_path / "a.db", deviating=2)
    (data,) = json.loads(typed("records", tmp_path / "a.db", "timings", "--json")[1])
    middles = [(time["least"] + time["greatest"]) / 2 for time in data["times"]]
    assert len(middles) == 36
    assert data["spread"]["mean"] == pytest.approx(np.mean(middles))
    s = float(np.std(middles, ddof=1))
    assert data["capability"]["cpk"]["value"] == pytest.approx(
        min(47.1 - np.mean(middles), np.mean(middles) - 42.9) / (3 * s)
    )
    assert data["deviated"] == 2
    assert "2 boards deviated in this rule and gave no time" in typed("records", tmp_path / "a.db", "timings")[1]


def test_a_board_counts_with_its_last_time(tmp_path: Path) -> None:
    """Of a board that was measured again, the last time counts; if it deviated without a time, that counts."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        add_run(records, with_time("1", 44.0, 44.1))
        add_run(records, with_time("1", 45.0, 45.1, measured=DAY + timedelta(days=1)))
        add_run(records, with_time("2", 44.0, 44.1))
        bad = made_up("deviates", deviations=["restart_delay"])
        add_run(records, small_entry("2", judgement=bad, measured=DAY + timedelta(days=1)))
    (data,) = json.loads(typed("records", path, "timings", "--json")[1])
    assert [(time["serial"], time["least"]) for time in data["times"]] == [("1", 45.0)]
    assert data["deviated"] == 1
    assert data["capability"] is None


def test_a_histogram_is_drawn_of_one_timing(tmp_path: Path) -> None:
    """SVG, PNG and PDF; without a name only where there is one timing; another ending is told."""
    three_lots(tmp_path / "a.db")
    for kind, head in (("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
        target = tmp_path / f"h.{kind}"
        assert typed("records", tmp_path / "a.db", "timings", "-o", target)[0] == 0
        assert target.read_bytes().startswith(head)
    assert typed("records", tmp_path / "a.db", "timings", "-o", tmp_path / "h.gif")[0] == 2
    status, output = typed("records", tmp_path / "a.db", "timings", "restart_dely")
    assert (status, "did you mean 'restart_delay'" in output) == (2, True)
