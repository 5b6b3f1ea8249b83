"""The Sphinx extension puts sheets into documents, anew when the spec changes, and tells errors at their place."""

from __future__ import annotations

import re
from io import StringIO
from pathlib import Path

import pytest

from sheets.sheet_helpers import path_of

pytest.importorskip("sphinx", reason="the extension is for those who have Sphinx")

INDEX = """Fan
===

.. boardgauge-drawing:: fan.toml

.. boardgauge-drawing:: fan.toml
   :what: overheat

.. boardgauge-card:: fan.toml

.. boardgauge-table:: fan.toml
   :only: timings

.. boardgauge-table:: tarnbeck-thermistor
   :what: terminals
   :units: F

.. boardgauge-sequence:: fan.toml
   :only: 3

.. boardgauge-cautions:: fan.toml
"""


def _build(folder: Path, builder: str = "html") -> tuple[str, str]:
    """Build what is in a folder; give what the page is, and the warnings."""
    from sphinx.application import Sphinx
    from sphinx.util.docutils import docutils_namespace

    (folder / "conf.py").write_text('project = "t"\nextensions = ["boardgauge.sphinx"]\n', encoding="utf-8")
    out = folder / "_build" / builder
    warnings = StringIO()
    with docutils_namespace():
        app = Sphinx(folder, folder, out, folder / "_build" / "doctrees", builder, status=None, warning=warnings)
        app.build()
    name = {"html": "index.html", "text": "index.txt", "latex": "t.tex"}[builder]
    page = (out / name).read_text(encoding="utf-8") if (out / name).is_file() else ""
    return page, re.sub(r"\x1b\[[0-9;]*m", "", warnings.getvalue())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "fan.toml").write_text(path_of("fan").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "index.rst").write_text(INDEX, encoding="utf-8")
    return tmp_path


def test_html_has_drawings_tables_and_words(folder: Path) -> None:
    """Each directive is in the page; drawings are files that exist, with their words; nothing is warned of."""
    page, warnings = _build(folder)
    assert warnings == ""
    sources = re.findall(r'<img class="boardgauge" src="([^"]+)" alt="([^"]+)"', page)
    assert len(sources) == 6  # two diagrams, and a strip for each line of the lamp
    for source, words in sources:
        assert (folder / "_build" / "html" / source).read_text(encoding="utf-8").startswith("<svg")
        assert words
    for said in ("winding thermostat", "28.4 °F", "These look alike", "The fan call comes on", "Stored charge", "27 s"):
        assert said in page


def test_latex_has_pdf_drawings(folder: Path) -> None:
    """The LaTeX builder writes each drawing as PDF beside its source and includes it."""
    source, warnings = _build(folder, "latex")
    assert warnings == ""
    names = re.findall(r"\\sphinxincludegraphics\{(boardgauge-\w+\.pdf)\}", source)
    assert len(names) == 6
    for name in names:
        assert (folder / "_build" / "latex" / name).read_bytes().startswith(b"%PDF")


def test_text_has_the_words_of_drawings(folder: Path) -> None:
    """Where nothing can be drawn the words of a drawing stand."""
    page, warnings = _build(folder, "text")
    assert warnings == ""
    assert "[State diagram: " in page
    assert "▁" in page


def test_a_changed_spec_builds_the_page_again(folder: Path) -> None:
    """Only the spec changes, a base of it even, and the page shows the new time."""
    variant = 'language = 1\nbase = "fan.toml"\n[board]\nid = "fan-2"\ntitle = "Another fan (invented)"\n'
    (folder / "variant.toml").write_text(variant, encoding="utf-8")
    (folder / "index.rst").write_text("T\n=\n\n.. boardgauge-table:: variant.toml\n", encoding="utf-8")
    first, warnings = _build(folder)
    assert warnings == ""
    assert ">27 s<" in first
    spec = folder / "fan.toml"
    text = spec.read_text(encoding="utf-8")
    assert text.count('"30 s"') == 1
    spec.write_text(text.replace('"30 s"', '"40 s"'), encoding="utf-8")
    second, warnings = _build(folder)
    assert warnings == ""
    assert ">27 s<" not in second
    assert ">36 s<" in second


@pytest.mark.parametrize(
    ("directive", "said"),
    [
        (".. boardgauge-card:: nowhere.toml", "there is no spec 'nowhere.toml' beside this document"),
        (".. boardgauge-card:: tarnbek", "did you mean 'tarnbeck'"),
        (".. boardgauge-table:: fan.toml\n   :what: timing", "did you mean 'timings'"),
        (".. boardgauge-table:: fan.toml\n   :only: timing", "did you mean 'timings'"),
        (".. boardgauge-table:: fan.toml\n   :units: X", "expected C or F"),
        (".. boardgauge-drawing:: fan.toml\n   :what: overheatt", 'did you mean "overheat"'),
        (".. boardgauge-card:: fan.toml\n   :only: lamp", "there is no lamp 'lamp'"),
        (".. boardgauge-sequence:: fan.toml\n   :only: 99", "no number 99"),
        (".. boardgauge-card:: broken.toml", "broken.toml:1:"),
    ],
)
def test_errors_are_at_their_place(folder: Path, directive: str, said: str) -> None:
    """What is wrong is told with the document, the line of the directive, and the nearest right word."""
    (folder / "broken.toml").write_text("language = 2\n", encoding="utf-8")
    (folder / "index.rst").write_text(f"T\n=\n\n{directive}\n", encoding="utf-8")
    _, warnings = _build(folder)
    assert "index.rst:4: ERROR" in warnings
    assert said in warnings


def test_a_list_counts_what_there_is_of_each_board(folder: Path) -> None:
    """A row a board, a spec beside the page or of the library, with what its spec and its machine have."""
    (folder / "index.rst").write_text("Boards\n======\n\n.. boardgauge-list::\n\n   fan.toml\n   iec-ton\n", "utf-8")
    page, warnings = _build(folder, "text")
    assert warnings == ""
    rows = [re.findall(r"\w[\w, ()-]*\w|\d", line) for line in page.splitlines() if re.search(r"\biec-ton\b", line)]
    assert rows == [["iec-ton", "TON, on-delay timer", "1", "1", "0", "3", "0"]]
    assert "Cooling-fan control (invented)" in page


def test_a_list_needs_names_that_there_are(folder: Path) -> None:
    """An empty list, and one that names what is not there, are told at their place."""
    for content, said in (("", "a list of boards names them"), ("\n   tarnbek", "did you mean 'tarnbeck'")):
        (folder / "index.rst").write_text(f"Boards\n======\n\n.. boardgauge-list::\n{content}\n", "utf-8")
        _, warnings = _build(folder, "text")
        assert "index.rst:4" in warnings
        assert said in warnings
