"""What was asked for comes in the order asked, each file once, and what is left out is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from boardgauge.many.listing import ENDINGS, PACKED, is_recording, list_recordings


@pytest.fixture(autouse=True)
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Recordings and other files, in folders."""
    for name in ("b.vcd", "a.csv.gz", "notes.txt", "sub/d.parquet", "sub/deep/c.VCD", "none/readme.md", "odd[1].vcd"):
        path = tmp_path / "logs" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    monkeypatch.chdir(tmp_path)


def test_a_folder_gives_all_its_recordings() -> None:
    """A folder gives the recordings in it and below, by name, and tells what else there was."""
    listing = list_recordings(["logs"])
    assert listing.files == [
        "logs/a.csv.gz",
        "logs/b.vcd",
        "logs/odd[1].vcd",
        "logs/sub/d.parquet",
        "logs/sub/deep/c.VCD",
    ]
    assert listing.skipped == {"logs": ["notes.txt", "none/readme.md"]}
    assert listing.empty == []


def test_the_order_is_that_asked_for() -> None:
    """Files and folders come in the order given, and a file that was there already does not come again."""
    listing = list_recordings(["logs/sub", "logs/b.vcd", "logs", "./logs/b.vcd"])
    assert listing.files[:3] == ["logs/sub/d.parquet", "logs/sub/deep/c.VCD", "logs/b.vcd"]
    assert len(listing.files) == len(set(listing.files)) == 5


def test_patterns_are_expanded() -> None:
    """A quoted pattern gives what the shell would have made of it; ** goes down into folders."""
    assert list_recordings(["logs/*.vcd"]).files == ["logs/b.vcd", "logs/odd[1].vcd"]
    assert list_recordings(["logs/*.txt"]).files == ["logs/notes.txt"]
    assert list_recordings(["logs/s*"]).files == ["logs/sub/d.parquet", "logs/sub/deep/c.VCD"]
    below = list_recordings(["logs/**"])
    assert sorted(below.files) == list_recordings(["logs"]).files
    assert below.skipped == {"logs/**": ["logs/none/readme.md", "logs/notes.txt"]}


def test_a_file_wins_over_a_pattern() -> None:
    """A file whose name looks like a pattern is taken by its name."""
    assert list_recordings(["logs/odd[1].vcd"]).files == ["logs/odd[1].vcd"]


def test_nothing_found_is_told() -> None:
    """A folder without recordings and a pattern that nothing matches are told, with what was expected."""
    listing = list_recordings(["logs/none", "x*.vcd", "logs/b.vcd"])
    assert listing.files == ["logs/b.vcd"]
    folder, pattern = listing.empty
    assert folder.startswith("logs/none: no recordings in this folder; expected files ending in .vcd")
    assert pattern == "x*.vcd: no file matches this pattern"


def test_what_was_named_is_taken() -> None:
    """A file that was named comes whatever its ending, and even if it is not there: reading it tells."""
    assert list_recordings(["logs/notes.txt", "nowhere.vcd"]).files == ["logs/notes.txt", "nowhere.vcd"]


def test_endings() -> None:
    """Every ending is known in any case, alone and packed; a packing alone says nothing."""
    for ending in ENDINGS:
        assert is_recording(f"run.7{ending.upper()}")
        for packing in PACKED:
            assert is_recording(f"run{ending}{packing}")
    for name in ("run", "run.gz", "run.txt", "run.txt.gz", ".vcd", "vcd"):
        assert not is_recording(name)
