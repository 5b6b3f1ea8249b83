"""State diagrams for a sheet: laid out once, in the wrapping that prints largest on the paper at hand.

Law of this module: what is drawn is the drawings' own; here is only which of its wrappings is taken, and its size.
"""

from __future__ import annotations

from boardgauge.drawings.dot import FONT_SIZE
from boardgauge.drawings.gallery import pictures
from boardgauge.drawings.numbered import numbered_overview
from boardgauge.drawings.overview import overview_diagram
from boardgauge.drawings.page import FAMILY, Graph
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.rendering import to_svg
from boardgauge.drawings.state_diagram import drawable
from boardgauge.sheets.blocks import Block, Column, Drawing, Figure, Paragraph, Sheet, Table
from boardgauge.sheets.study import Study

OVERVIEW = "overview"
RULES = "rules"
_AREA = (495.0, 620.0)
"""Points that a drawing has on a page of letter or A4, upright."""
_BOTH_WAYS = (_AREA, (690.0, 430.0))
SMALLEST = 7.0
"""Points: no letter of a drawing is printed smaller where there is another way to draw it."""


def overview_sheet(study: Study) -> Sheet:
    """Give the drawing of all operating states, its arrows numbered where their words would be printed too small."""
    whole = figure_of(study, OVERVIEW)
    if _scale(whole.drawing) * FONT_SIZE >= SMALLEST:
        return Sheet(OVERVIEW, "Operating states", (whole,))
    picture, ways = numbered_overview(study.overview)
    drawing = _drawing(picture, _BOTH_WAYS)
    rows = tuple((str(way.number), way.source, way.target, way.words) for way in ways)
    columns = (Column("No.", 0.6), Column("From", 2.2), Column("To", 2.2), Column("What leads there", 5.0))
    table = Table("arrows", columns, rows, "What leads from state to state")
    figure = Figure(drawing, ("The arrows are numbered; the table has their words.", *picture.caption), whole_page=True)
    return Sheet(OVERVIEW, "Operating states", (figure, table))


def rules_sheet(study: Study) -> Sheet:
    """Give the diagram of each rule, and of each output that is remembered."""
    blocks: list[Block] = [figure_of(study, rule) for rule in drawable(study.machine)]
    if not blocks:
        blocks.append(Paragraph("No rule of this board has places to draw."))
    return Sheet(RULES, "Rule by rule", tuple(blocks))


def figure_of(study: Study, what: str) -> Figure:
    """Give one drawing: ``overview``, or the diagram of a rule or output. Raises NothingToDraw."""
    if what == OVERVIEW:
        picture = overview_diagram(study.overview)
        return Figure(_drawing(picture, _BOTH_WAYS), picture.caption, whole_page=True)
    picture = next(pictures(study.machine, what))
    title = picture.title.removeprefix(f"{study.board.title}: ")
    return Figure(_drawing(picture, (_AREA,)), picture.caption, title[0].upper() + title[1:])


def _scale(drawing: Drawing) -> float:
    return max(min(1.0, w / drawing.width, h / drawing.height) for w, h in _BOTH_WAYS)


def _drawing(picture: Picture, areas: tuple[tuple[float, float], ...]) -> Drawing:
    graphs = [Graph.of(to_svg(dot)) for dot in (picture.dot, *picture.wrapped_otherwise)]
    graph = max(graphs, key=lambda one: max(min(1.0, w / one.width, h / one.height) for w, h in areas))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{graph.width:.2f}pt" height="{graph.height:.2f}pt"'
        f' viewBox="0 0 {graph.width:.2f} {graph.height:.2f}" font-family="{FAMILY}">\n{graph.body}\n</svg>\n'
    )
    return Drawing(svg, graph.width, graph.height, f"State diagram: {picture.title}")
