"""The page is one file that asks nobody for anything, and comes with the wheel.

Law: no address is in it, nothing it holds breaks out of its place, the same board gives the same page, and every part
of it lies in the package.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from boardgauge.language import read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.page import engine_source, page_of, page_table
from boardgauge.page import joining as parts
from machine.small_boards import machine_of, tarnbeck
from page.test_engine_is_the_reference import LIBRARY, engine_of

NAMESPACE = "http://www.w3.org/2000/svg"


@pytest.mark.parametrize("path", LIBRARY, ids=lambda path: path.stem)
def test_a_page_refers_to_nothing_outside_itself(path: Path) -> None:
    """The only address in it names what SVG is; it is not fetched. No element has a source."""
    page = page_of(engine_of(path).machine)
    assert set(re.findall(r"[a-z]+://[^\"'\s<)]+", page)) <= {NAMESPACE}
    assert not re.search(r"<(link|img|iframe|script[^>]+src|base|object|embed)\b", page)
    assert "@import" not in page
    assert "url(" not in page.replace("url(#hatch)", "")
    assert set(re.findall(r'href="([^"]*)"', page)) == {"#inputs-part"}
    assert "default-src 'none'" in page


def test_the_same_board_gives_the_same_page() -> None:
    """Nothing of the day or the machine is in it."""
    assert page_of(tarnbeck().machine) == page_of(tarnbeck().machine)


def test_text_of_a_spec_stays_text() -> None:
    """A title with markup in it is shown, and does nothing."""
    nasty = "</script><script>alert(1)</script> & <b> @TABLE@ @STYLE@"
    text = (
        f"language = 1\n[board]\nid = \"n\"\ntitle = '{nasty}'\ntext = '{nasty}'\ntolerance = \"exactly\"\n"
        f'[inputs.a]\nkind = "call"\ntext = \'{nasty[:30]}\'\n[outputs.q]\non = "a"\n'
    )
    page = page_of(compile_board(read_board_text(text, "n.toml")))
    assert page.count("<script") == 2
    assert "alert(1)</script>" not in page
    table = re.search(r'<script type="application/json" id="table">(.*?)</script>', page, re.DOTALL)
    assert table is not None
    assert json.loads(table[1])["board"]["title"] == nasty


def test_the_cautions_stand_on_every_page() -> None:
    """What it is not, what can hurt, and whose word comes first."""
    page = page_of(machine_of('[inputs.a]\nkind = "call"\n[outputs.q]\non = "a"\n'))
    for words in (
        "not the real board",
        "line voltage",
        "capacitors",
        "Refrigerant",
        "licensed practice",
        "Local codes",
    ):
        assert words in page


def test_every_part_is_used_and_every_use_is_there() -> None:
    """The scripts that are joined are those that lie in the package."""
    folder = Path(parts.__file__).parent
    assert {path.name for path in (folder / "engine").iterdir()} == set(parts.ENGINE)
    assert {path.name for path in (folder / "view").iterdir()} == {*parts.VIEW, "style.css", "page.html"}
    assert len(set(parts.ENGINE)) == len(parts.ENGINE)


def test_the_engine_knows_no_page() -> None:
    """It can be run without a browser."""
    browsers = r"\b(document|window|navigator|performance)\.|\bMath\.random\b|\b(Date|fetch|eval|setTimeout)\b"
    assert not re.search(browsers, engine_source())


def test_the_table_is_plain_data() -> None:
    """Lists, names, text, whole numbers, true, false and nothing: what JSON gives back is what was put in."""
    for path in LIBRARY:
        table = page_table(engine_of(path).machine)
        assert json.loads(json.dumps(table)) == table
        assert not any(isinstance(value, float) for value in _leaves(table))


def _leaves(value: object) -> list[object]:
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in _leaves(part)]
    if isinstance(value, list):
        return [leaf for part in value for leaf in _leaves(part)]
    return [value]
