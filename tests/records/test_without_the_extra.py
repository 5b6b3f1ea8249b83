"""Who only judges and certifies needs none of the libraries behind the records; who asks for records is told which."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from many_recordings import GOOD

PROGRAM = """
import sys

for name in ("sqlalchemy", "alembic", "scipy"):
    sys.modules[name] = None
sys.argv[0] = "boardgauge"
from boardgauge.command import main

main()
"""


def typed(*arguments: object) -> subprocess.CompletedProcess[str]:
    """Run the program where the libraries of the extra cannot be loaded."""
    command = [sys.executable, "-c", PROGRAM, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_certificates_need_no_database(tmp_path: Path) -> None:
    """Every kind of report of files is made without the extra."""
    outputs = [word for kind in ("pdf", "html", "xml", "json") for word in ("-o", tmp_path / f"c.{kind}")]
    run = typed("certificate", "tarnbeck", GOOD, "--serial", "7", *outputs)
    assert run.returncode == 0, run.stderr
    assert len(list(tmp_path.iterdir())) == 4


def test_records_say_what_they_need(tmp_path: Path) -> None:
    """Judging into records, looking into them and certifying from them tell what to install, before anything else."""
    database = tmp_path / "a.db"
    for arguments in (
        ("judge", "tarnbeck", GOOD, "--record", database, "--serial", "7"),
        ("records", database),
        ("certificate", "tarnbeck", "--record", database, "--serial", "7", "-o", tmp_path / "c.xml"),
    ):
        run = typed(*arguments)
        assert (run.returncode, 'in the clone, pip install ".[records]"' in run.stderr) == (2, True), run.stderr
        assert run.stdout == ""
