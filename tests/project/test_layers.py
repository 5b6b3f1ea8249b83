"""The house stands as DEVELOPERS.md says: three roots, one namespace, imports in one direction."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

CLONE = Path(__file__).resolve().parents[2]
ROOTS = ("spec", "reference", "conformance")
MODULES = sorted(path for root in ROOTS for path in (CLONE / root).rglob("*.py"))
PACKAGES = sorted(path for root in ROOTS for path in (CLONE / root / "boardgauge").iterdir() if path.is_dir())


def test_imports_keep_to_the_contract() -> None:
    """Every contract of import-linter in pyproject.toml is kept."""
    from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

    assert lint_imports(config_filename=str(CLONE / "pyproject.toml"), no_logo=True) == EXIT_STATUS_SUCCESS


def test_every_package_is_in_the_contract() -> None:
    """No package stands beside the layers, where the contract would not see it."""
    contract = (CLONE / "pyproject.toml").read_text(encoding="utf-8").split("[tool.importlinter]")[1]
    names = {path.name for path in PACKAGES if (path / "__init__.py").exists()}
    assert names
    assert {name for name in names if f"boardgauge.{name}" not in contract} == set()


@pytest.mark.parametrize("root", ROOTS)
def test_the_namespace_has_no_init(root: str) -> None:
    """A root holds the folder boardgauge and no module: an __init__.py there would hide the other roots."""
    assert not list((CLONE / root).glob("*.py"))
    assert not list((CLONE / root / "boardgauge").glob("*.py"))


def test_the_language_needs_no_machine() -> None:
    """With spec/ alone on the path the language reads a board, and there is no machine."""
    program = (
        "import sys; sys.path.insert(0, 'spec')\n"
        "import importlib.util, pathlib\n"
        "import boardgauge.language as language\n"
        "language.read_board(pathlib.Path('spec/boardgauge/boards/tarnbeck.toml'))\n"
        "sys.exit(any(name.startswith('boardgauge.machine') for name in sys.modules))\n"
    )
    assert subprocess.run([sys.executable, "-c", program], cwd=CLONE, check=False).returncode == 0


@pytest.mark.parametrize("package", [path for path in PACKAGES if path.name != "__pycache__"], ids=lambda p: p.name)
def test_packages_are_typed(package: Path) -> None:
    """Each package has an __init__.py and a py.typed of its own, as a namespace has none for all."""
    assert (package / "__init__.py").is_file()
    assert (package / "py.typed").is_file()


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(CLONE)))
def test_modules_say_what_they_are_for(module: Path) -> None:
    """Each module has a docstring, and a real one."""
    words = ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))) or ""
    assert len(words) > len("To be written.")
