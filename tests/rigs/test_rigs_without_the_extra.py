"""A rig whose library is not installed is told before anything else, with what to install: no rig has failed then."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from bench_plans import plan_text
from boardgauge.command.program import main

HEAD = 'language = 1\n[rig]\nkind = "{kind}"\nname = "bench"\n[{kind}]\n'
TCP, RTU = 'host = "192.0.2.20"\nwatchdog = "2 s"\n', 'serial = "/dev/none"\nwatchdog = "2 s"\n'


@pytest.mark.parametrize(
    ("kind", "own", "missing", "package"),
    [
        ("serial", 'port = "/dev/none"\n', "serial", "pyserial"),
        ("modbus", TCP, "pymodbus", "pymodbus"),
        ("modbus", RTU, "serial", "pyserial"),
    ],
)
def test_a_missing_library_is_told_before_the_cautions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, own: str, missing: str, package: str
) -> None:
    """Status 2, the command that brings it, and not a word of a rig that failed; nothing is begun."""
    for name in [name for name in sys.modules if name.partition(".")[0] == missing]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, missing, None)
    (tmp_path / "rig.toml").write_text(HEAD.format(kind=kind) + own + '[drives]\npower = "coil 0"\n[sees]\n')
    (tmp_path / "plan.toml").write_text(plan_text())
    rig, plan, run = (str(tmp_path / name) for name in ("rig.toml", "plan.toml", "run"))
    result = CliRunner().invoke(
        main, ["bench", "tarnbeck", "--rig", rig, "--plan", plan, "--serial", "7", "-o", run, "--yes"]
    )
    assert result.exit_code == 2, result.output
    assert result.stderr == f'boardgauge: {rig}: this rig needs {package}: in the clone, pip install ".[rigs]"\n'
    assert not (tmp_path / "run").exists()
