"""A handout has its cautions, its footer and its sheets in every form, and no text of a spec is taken for markup."""

from __future__ import annotations

import re
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree
from xml.sax.saxutils import escape

import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.drawings.page import PAPERS
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.sensors import find_curve
from boardgauge.sensors.chart_rows import ohms_in_words
from boardgauge.sheets.as_html import to_html
from boardgauge.sheets.as_text import to_data, to_markdown, to_text
from boardgauge.sheets.as_typst import MARGIN, TABLE, literal, to_pages, to_pdf
from boardgauge.sheets.blocks import Column, Drawing, Figure, Points, Table
from boardgauge.sheets.cautions import GOVERNS, cautions
from boardgauge.sheets.column_widths import column_widths
from boardgauge.sheets.contents import KINDS, NoSuchSheet, chosen, make
from boardgauge.sheets.handout import Handout, handout
from boardgauge.sheets.held_widths import hold_widths, width_in_times
from boardgauge.sheets.reader_units import in_degrees
from boardgauge.sheets.study import Study
from sheets.sheet_helpers import BOARDS, board_of, path_of, study_of

NASTY = '<b>"&\\ #panic() *x* `y` [z] | ${} 漢'


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.words: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in {"meta", "col", "br", "img"}:
            self.open.append(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        self.links += [value or "" for name, value in attrs if name in {"href", "src", "xlink:href"}]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.ids += [value or "" for name, value in attrs if name == "id"]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def _read(html: str) -> _Page:
    page = _Page()
    page.feed(html)
    page.close()
    assert page.open == []
    return page


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate", "fan"])
def test_html_is_one_well_formed_file(name: str) -> None:
    """Every tag is closed, no two things share an id, nothing is loaded from elsewhere, and no script runs."""
    made = handout(board_of(name), command="boardgauge handout x")
    page = _read(to_html(made))
    assert len(page.ids) == len(set(page.ids))
    assert all(link.startswith("#") and link[1:] in page.ids for link in page.links)
    assert "script" not in to_html(made).replace("description", "")
    assert "@import" not in to_html(made)
    text = " ".join(page.words).replace("\u00a0", " ")
    for sheet in made.sheets:
        assert sheet.title in text
    assert GOVERNS in text
    assert made.footer in text


def test_the_footer_says_how_it_was_made() -> None:
    """The footer has the board, the digest of its spec, the version, and the command as it was typed."""
    board = board_of("fan")
    made = handout(board, wanted=["timings"], command="boardgauge handout fan.toml --with timings")
    assert made.footer.startswith(f"fan · spec {board.digest[:12]} · Boardgauge ")
    assert made.footer.endswith(" · boardgauge handout fan.toml --with timings")


def test_pdf_is_the_same_every_time() -> None:
    """The same handout gives the same bytes; on each paper it is a PDF with at least a page a sheet that begins one."""
    made = handout(board_of("fan"), wanted=["lamps", "timings"])
    for paper in PAPERS:
        one, other = to_pdf(made, paper), to_pdf(made, paper)  # type: ignore[arg-type]  # a name of a paper
        assert one == other
        assert one.startswith(b"%PDF")
    assert len(to_pages(made, "a4", 30)) == 3


def test_a_long_list_goes_on_on_the_next_page() -> None:
    """A list longer than a page is not kept in one piece, or it would run off the foot of the page."""

    def pages(number: int) -> int:
        listed = Points(tuple(f"item {index}" for index in range(number)), "Items")
        return len(to_pages(Handout("A list", (listed,), (), ""), "letter", 30))

    assert pages(20) == 1
    assert pages(400) >= 7


def test_texts_are_never_markup() -> None:
    """A title full of marks is printed as it is, by every renderer."""
    spec = """language = 1
[board]
id = "b"
title = 'TITLE'
text = 'TITLE'
tolerance = "± 10 %"
[inputs.a]
kind = "call"
text = 'TITLE'
[outputs.q]
on = "a"
[lamps.led]
lines = [ { when = "a", shows = "steady", means = 'TITLE', do = 'TITLE' }, { when = "otherwise", shows = "dark" } ]
""".replace("TITLE", NASTY)
    made = handout(read_board_text(spec, "b.toml"), command=NASTY)
    words = "".join(_read(to_html(made)).words).replace("\u00a0", " ")
    assert words.count(NASTY) >= 4
    assert to_pdf(made).startswith(b"%PDF")
    for sheet in made.sheets:
        assert to_text(sheet)
        assert "<b>" not in to_markdown(sheet).replace("\\<b\\>", "")
        assert to_data(sheet)["title"] == sheet.title
    assert literal('a"b\\c\nd\x07') == '"a\\"b\\\\c\\nd\ufffd"'


@pytest.mark.parametrize("name", BOARDS)
def test_every_board_can_be_handed_out(name: str) -> None:
    """Each sheet of each board can be made, its tables are full, and its drawings are XML of the size they say."""
    for kind in KINDS:
        sheet = make(study_of(name), kind)
        assert sheet.id == kind
        assert sheet.blocks
        drawings = [block.drawing for block in sheet.blocks if isinstance(block, Figure)]
        drawings += [c for table in sheet.tables() for row in table.rows for c in row if isinstance(c, Drawing)]
        for drawing in drawings:
            root = ElementTree.fromstring(drawing.svg)
            assert root.attrib["width"] == f"{drawing.width:.2f}pt"
            assert drawing.text


@pytest.mark.parametrize("name", BOARDS)
def test_nothing_but_an_overview_is_printed_smaller_than_seven_points(name: str) -> None:
    """Charts, rule diagrams and lamp strips keep their smallest letters at 7 points or more on letter and A4."""
    study = study_of(name)
    for kind in ("rules", "charts", "lamps"):
        sheet = make(study, kind)
        for short, long in PAPERS.values():
            wide, high = (long, short) if sheet.sideways else (short, long)
            for block in sheet.blocks:
                if isinstance(block, Figure):
                    room = high - MARGIN - 54 - 34 - 28 - 24 - 20 * len(block.caption)
                    scale = min(1.0, (wide - 2 * MARGIN) / block.drawing.width, room / block.drawing.height)
                    assert _smallest(block.drawing) * scale >= 7, (kind, block.title, scale)
            for table in sheet.tables():
                total = sum(column.share for column in table.columns)
                for row in table.rows:
                    for column, cell in zip(table.columns, row, strict=True):
                        if isinstance(cell, Drawing):
                            width = (wide - 2 * MARGIN) * column.share / total - 8
                            assert _smallest(cell) * min(1.0, width / cell.width) >= 7


def _smallest(drawing: Drawing) -> float:
    return min((float(size) for size in re.findall(r'font-size="([0-9.]+)"', drawing.svg)), default=99.0)


def test_cautions_are_by_what_is_on_the_board() -> None:
    """Live circuits, stored charge and codes are always warned of; gas, refrigerant and speed-ups where they are."""
    text = {
        name: " ".join(cautions(board_of(name)).items) for name in ("tarnbeck", "hearthgate", "sump-pumps", "iec-ton")
    }
    for said in text.values():
        assert "Live circuits" in said
        assert "Stored charge" in said
        assert "Defeated safety switches" in said
        assert said.endswith(GOVERNS)
    assert "Gas:" in text["hearthgate"]
    assert "Gas:" not in text["tarnbeck"]
    assert "Refrigerant" in text["tarnbeck"]
    assert "Refrigerant" not in text["hearthgate"]
    assert "Speed-up (SPEED-UP pins fitted)" in text["tarnbeck"]
    assert "Speed-up" not in text["hearthgate"]
    assert "Moving parts" in text["sump-pumps"]
    assert "low-pressure switch and high-pressure switch" in text["tarnbeck"]


def test_sheets_are_chosen_by_name() -> None:
    """Without a choice all sheets come, in order; a name that is none is told with the nearest."""
    assert chosen([], []) == tuple(name for name, kind in KINDS.items() if not kind.asked_only)
    assert chosen(["timings", "lamps"], []) == ("lamps", "timings")
    assert "rules" not in chosen([], ["rules"])
    with pytest.raises(NoSuchSheet, match="did you mean 'timings'"):
        chosen(["timing"], [])


def test_a_table_is_whole() -> None:
    """A row without a cell for each column is no table; a column is found by its title."""
    columns = (Column("a"), Column("b"))
    assert Table("t", columns, (("1", "2"),)).column("b") == ("2",)
    with pytest.raises(ValueError, match="cell for each column"):
        Table("t", columns, (("1",),))
    with pytest.raises(KeyError):
        Table("t", columns, ()).column("c")


def test_text_keeps_to_its_width() -> None:
    """No line of a sheet of sentences is wider than the terminal; a number stays with its unit."""
    text = to_text(make(study_of("fan"), "sequence"), 60)
    assert max(map(len, text.splitlines())) <= 60
    assert not re.search(r"\d$\n\s+(?:s|min)\b", text, re.MULTILINE)


def test_markdown_tables_have_all_cells() -> None:
    """Each row of a table is a row of Markdown with as many cells."""
    sheet = make(study_of("tarnbeck"), "timings")
    rows = [line for line in to_markdown(sheet).splitlines() if line.startswith("|")]
    assert len(rows) == sum(len(table.rows) + 2 for table in sheet.tables())
    assert to_markdown(evolve(sheet, blocks=())) == "## Timing table\n"


def test_sheets_that_say_nothing_are_left_out_unless_asked_for() -> None:
    """A board without lamp, settings and curves has no such sheets in its handout, but has those asked for by name."""
    board = board_of("sump-pumps")
    ids = {sheet.id for sheet in handout(board).sheets}
    assert ids == set(KINDS) - {"lamps", "settings", "sensors", "identify"}
    assert [sheet.id for sheet in handout(board, wanted=["lamps"]).sheets] == ["lamps"]


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate", "extract-fan"])
def test_an_overview_is_legible_with_words_or_with_numbers(name: str) -> None:
    """Where words would be smaller than 7 points each arrow has a number, in the drawing and in the table."""
    study = study_of(name)
    figure, *tables = make(study, "overview").blocks
    assert isinstance(figure, Figure)
    sizes = ((612.0, 792.0), (595.28, 841.89))
    for short, long in sizes:
        scales = [
            min(1.0, (wide - 2 * MARGIN) / figure.drawing.width, (high - 170) / figure.drawing.height)
            for wide, high in ((short, long), (long, short))
        ]
        assert _smallest(figure.drawing) * max(scales) >= 7
    ways = [way for edge in study.overview.edges for way in edge.ways]
    if tables:
        (table,) = tables
        assert isinstance(table, Table)
        assert table.column("No.") == tuple(str(number) for number in range(1, len(table.rows) + 1))
        assert len(table.rows) <= len(ways)
        shown = re.findall(r">\s*(\d+)(?:–(\d+))?\s*<", figure.drawing.svg)
        numbers = {n for a, b in shown for n in range(int(a), int(b or a) + 1)}
        assert numbers >= set(range(1, len(table.rows) + 1))


def test_a_sensor_with_a_curve_has_its_chart(tmp_path: Path) -> None:
    """The chart has the curve's own resistances in the reader's degrees, and those at the board's limits."""
    base = path_of("tarnbeck").read_text(encoding="utf-8")
    variant = path_of("tarnbeck-thermistor").read_text(encoding="utf-8")
    (tmp_path / "tarnbeck.toml").write_text(base, encoding="utf-8")
    spec = tmp_path / "thermistor.toml"
    spec.write_text(variant.replace('unit = "°C"', 'unit = "°C"\ncurve = "ntc-10k"'), encoding="utf-8")
    board = read_board(spec)
    limits, chart = make(Study(in_degrees(board, "F")), "sensors").tables()
    curve = find_curve("ntc-10k")
    assert limits.column("Limit") == ("28.4 °F", "32 °F", "57.2 °F", "53.6 °F")
    assert limits.column("Resistance there")[1] == ohms_in_words(curve.ohms(Fraction(0)))
    temperatures = dict(zip(chart.column("Temperature"), chart.column("Resistance"), strict=True))
    assert temperatures["50 °F"] == ohms_in_words(curve.ohms(Fraction(10)))
    assert "sensors" in {sheet.id for sheet in handout(board).sheets}


@given(st.text(alphabet=st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30))
def test_held_text_is_the_same_text(words: str) -> None:
    """Holding the widths of a drawing changes no word of it, and gives each line that has words a length above 0."""
    svg = f'<svg><text x="1" font-size="10.0">{escape(words)}</text><text>no size</text></svg>'
    held = hold_widths(svg)
    assert "".join(ElementTree.fromstring(held).itertext()) == "".join(ElementTree.fromstring(svg).itertext())
    assert ("textLength" in held) == bool(words.strip())
    assert hold_widths(held) == held


def test_widths_are_those_of_times() -> None:
    """A line is as wide as its letters are in Times Roman, a bold one a little wider."""
    assert width_in_times("Mi", 10) == pytest.approx(8.89 + 2.78)
    assert width_in_times("Mi", 10, bold=True) > width_in_times("Mi", 10)


@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much], deadline=None)
@given(boards())
def test_any_board_can_be_handed_out(board: Board) -> None:
    """Whatever a board is called and does, its sheets can be made, set and written; its page is well formed."""
    study = Study(board, most_configs=200)
    made = Handout(board.title, (cautions(board),), tuple(make(study, kind) for kind in KINDS), "made in a test")
    assert to_pdf(made).startswith(b"%PDF")
    _read(to_html(made))
    for sheet in made.sheets:
        assert to_text(sheet, 40)
        assert to_markdown(sheet)


@given(st.text(max_size=200))
def test_long_words_can_be_parted_and_say_the_same(text: str) -> None:
    """A word that no line may hold gets places to part it, at most 24 letters apart, and nothing else is changed."""
    set_ = literal(text)
    assert set_.replace("\u200b", "") == literal(text.replace("\u200b", "")).replace("\u200b", "")
    for word in re.split(r"[\s\u200b]", literal("w" + "W" * len(text))):
        assert len(word) <= 24 + 2


def test_many_drawings_keep_their_names() -> None:
    """The eleventh drawing and those after it are found by the typesetter like the first."""
    svg = '<svg xmlns="http://www.w3.org/2000/svg" width="9pt" height="9pt"><rect width="{}" height="5"/></svg>'
    drawings = tuple(Figure(Drawing(svg.format(number), 9, 9, "a bar")) for number in range(1, 13))
    assert to_pdf(Handout("t", drawings, (), "f")).startswith(b"%PDF")


@pytest.mark.parametrize("width", [PAPERS[paper][0] - 2 * MARGIN for paper in PAPERS])
def test_no_word_of_a_heading_is_parted_for_want_of_a_little_room(width: float) -> None:
    """A column is made a little wider for a word of its heading; what is far too long for it is still parted."""
    columns = (Column("Timing", 2.9), Column("Nominal"), Column("Least"), Column("Most"), Column("Counts", 6.1))
    found = list(column_widths(Table("t", columns, ()), width, TABLE, 4.0))
    assert [each for each, _ in found if each.endswith("fr")] == ["2.9fr", "1fr", "1fr", "6.1fr"]
    need = width_in_times("Nominal", TABLE, bold=True) * 1.2 + 8
    assert width / 12 < need <= float(found[1][0].removesuffix("pt")) + 0.05
    assert all(whole for _, whole in found)
    (long, _) = column_widths(Table("t", (Column("x" * 200), Column("y", 9)), ()), width, TABLE, 4.0)
    assert long == ("1fr", False)
