"""The check of links finds what leads nowhere, and nothing else."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

CLONE = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def links() -> ModuleType:
    spec = importlib.util.spec_from_file_location("documents_links", CLONE / "docs" / "links.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("link", "leads"),
    [
        ("two.html", True),
        ("two.html#here", True),
        ("#top", True),
        ("pictures/a%20b.svg", True),
        ("https://example.org/nowhere#x", True),
        ("mailto:nobody@example.org", True),
        ("three.html", False),
        ("two.html#there", False),
        ("#bottom", False),
        ("pictures/c.svg", False),
    ],
)
def test_links(links: ModuleType, tmp_path: Path, link: str, leads: bool) -> None:
    """A link to a page, a place in one or a file is broken exactly if that is not there."""
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "a b.svg").write_text("<svg/>", encoding="utf-8")
    (tmp_path / "one.html").write_text(f'<h1 id="top">One</h1><a href="{link}">x</a>', encoding="utf-8")
    (tmp_path / "two.html").write_text('<h1 id="here">Two</h1>', encoding="utf-8")
    assert list(links.broken(tmp_path)) == ([] if leads else [f"one.html: {link}"])
