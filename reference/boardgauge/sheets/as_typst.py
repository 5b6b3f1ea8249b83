"""Set a handout as PDF (or page by page as PNG).

Law of this module: text goes to the typesetter as string literals only, so no text of a spec is taken for markup. The
faces are those that come with the typesetter; everything is black on white. No row and no drawing is cut by a page;
nothing is printed smaller than 7 points where the drawing leaves a choice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Literal

from attrs import define, field

from boardgauge.drawings.page import PAPERS, Paper
from boardgauge.sheets.blocks import (
    Block,
    Caution,
    Cell,
    Drawing,
    Figure,
    Heading,
    Paragraph,
    Points,
    Sheet,
    Steps,
    Table,
)
from boardgauge.sheets.column_widths import column_widths
from boardgauge.sheets.figures import kept_together
from boardgauge.sheets.handout import Handout

MARGIN = 50.0
TEXT, TABLE, SMALL, FOOTER = 10.0, 8.8, 8.5, 7.2
"""Type sizes in points; nothing is printed smaller than 7."""
_HEAD = 34.0
"""Points that the heading of a sheet takes."""
_LETTERS = 2.1
"""Letters in a line one type size wide, times the size."""
_SHORT = 8
"""Tables of no more rows than this stand on one page."""
_LINE, _MANY_LINES = 90, 20
"""Letters in a line of a list, about; a list of more lines may go on on the next page."""
_INSET = 4.0
_LONG = re.compile(r"\S{14,}")
_PARTS = re.compile(r"[^_/.]{0,23}[_/.]+|[^_/.]{24}")
_NAMES: dict[Paper, str] = {"letter": "us-letter", "a4": "a4"}

_PREAMBLE = """#set document(title: sys.inputs.title, date: none)
#set text(font: "Libertinus Serif", size: {text}pt, lang: "en", hyphenate: true)
#set par(leading: 0.55em, spacing: 0.8em)
#set page(paper: "{paper}", margin: (x: {margin}pt, top: {margin}pt, bottom: 54pt), footer: context [
  #set text(size: {footer}pt)
  #line(length: 100%, stroke: 0.4pt)
  #v(-4pt)
  #grid(columns: (1fr, auto), column-gutter: 12pt, sys.inputs.footer,
    [#counter(page).display() / #counter(page).final().at(0)])
])
#set table(stroke: 0.5pt, inset: (x: {inset}pt, y: 3pt), fill: (x, y) => if y == 0 {{ luma(90%) }})
#set table.cell(breakable: false)
#show table: set text(size: {table}pt)
#show table: set par(leading: 0.45em)
#show heading.where(level: 1): it => block(above: 0pt, below: 9pt, sticky: true, text(size: 15pt, it.body))
#show heading.where(level: 2): it => block(above: 12pt, below: 6pt, sticky: true, text(size: 11pt, it.body))
#show heading: set text(hyphenate: false)
#set enum(spacing: 0.6em, numbering: "1.")
#set list(spacing: 0.6em)
"""


def to_pdf(made: Handout, paper: Paper = "letter") -> bytes:
    """Set a handout as PDF on paper."""
    return _set(made, paper, "pdf", None)


def to_pages(made: Handout, paper: Paper = "letter", per_inch: float = 100.0) -> tuple[bytes, ...]:
    """Give the pages of a handout as PNG pictures, ``per_inch`` points an inch."""
    pages: Any = _set(made, paper, "png", per_inch)
    return (pages,) if isinstance(pages, bytes) else tuple(pages)


def _set(made: Handout, paper: Paper, format: Literal["pdf", "png"], per_inch: float | None) -> bytes:
    import typst

    source = _Source(paper)
    source.handout(made)
    files: Any = {"main": "\n".join(source.lines).encode(), **source.files}
    set_: bytes = typst.compile(
        files,
        format=format,
        ppi=per_inch,
        ignore_system_fonts=True,
        sys_inputs={"title": made.title, "footer": made.footer},
        timestamp=0,
    )
    return set_


@define
class _Source:
    """The source of one handout, and the drawings that it asks for by name."""

    paper: Paper
    lines: list[str] = field(factory=list)
    files: dict[str, bytes] = field(factory=dict)
    _names: dict[str, str] = field(factory=dict)
    _sideways: bool = False
    _under_heading: bool = False

    def handout(self, made: Handout) -> None:
        self.lines.append(
            _PREAMBLE.format(
                text=TEXT, table=TABLE, footer=FOOTER, margin=MARGIN, inset=_INSET, paper=_NAMES[self.paper]
            )
        )
        if made.sheets and made.sheets[0].sideways and all(isinstance(block, Paragraph) for block in made.cover):
            # A few lines are no page of their own: they stand on the first of the sheets.
            self.lines.append("#set page(flipped: true)")
            self._sideways = True
        self.lines.append(f'#text(size: 20pt, weight: "bold", hyphenate: false, {literal(made.title)})')
        self.lines.append("#v(4pt)")
        for block in made.cover:
            self.block(block)
        for sheet in made.sheets:
            self.sheet(sheet)

    def sheet(self, sheet: Sheet) -> None:
        first = sheet.blocks[0] if sheet.blocks else None
        if isinstance(first, Figure) and first.whole_page:
            for number, block in enumerate(sheet.blocks):
                if isinstance(block, Figure) and block.whole_page:
                    self._whole_page(block, sheet.title if number == 0 else "")
                else:
                    self.block(block)
            return
        if sheet.sideways and not self._sideways:
            self.lines.append("#set page(flipped: true)")
        elif sheet.own_page:
            self.lines.append("#pagebreak(weak: true)")
        else:
            self.lines.append("#v(14pt, weak: true)")
        self._sideways = sheet.sideways
        self.lines.append(f"#heading(level: 1, {literal(sheet.title)})")
        for number, block in enumerate(sheet.blocks):
            self._under_heading = number == 0
            self.block(block)
        if sheet.sideways:
            self.lines.append("#set page(flipped: false)")
            self._sideways = False

    # -- blocks ------------------------------------------------------------------------------------------------------

    def block(self, block: Block) -> None:
        match block:
            case Table():
                self._table(block)
            case Figure():
                self._figure(block)
            case Heading(text=text, keeps=keeps):
                if keeps:
                    # An empty block this high goes to the next page where it has no room; then the room is taken back.
                    room = min(keeps, self._area(self._sideways)[1] - _HEAD)
                    self.lines.append(f"#block(height: {room:.0f}pt, breakable: false, above: 0pt, below: 0pt)[]")
                    self.lines.append(f"#v(-{room:.0f}pt)")
                self.lines.append(f"#heading(level: 2, {literal(text)})")
            case Paragraph(text=text, small=small, stays=stays):
                said = f"par(text({f'size: {SMALL}pt, ' if small else ''}{literal(text)}))"
                self.lines.append(f"#block(sticky: true, {said})" if stays else f"#{said}")
            case Steps(items=items, title=title):
                self._titled(title)
                self.lines.append(f"#enum({', '.join(f'[#{literal(item)}]' for item in items)})")
            case Points(items=items, title=title):
                self._titled(title)
                listed = f"#list({', '.join(f'[#{literal(item)}]' for item in items)})"
                if sum(1 + len(item) // _LINE for item in items) > _MANY_LINES:
                    # In one piece it might run off the page.
                    self.lines.append(listed)
                else:
                    # What a rule says stays with what it leads to.
                    self.lines.append(f"#block(sticky: true, breakable: false)[{listed}]")
            case Caution(title=title, items=items):
                inside = f'#text(weight: "bold", size: 11pt, {literal(title)})\n'
                inside += f"#list({', '.join(f'[#{literal(item)}]' for item in items)})"
                frame = "stroke: 1.4pt, inset: 9pt, width: 100%, above: 12pt, below: 12pt, breakable: false"
                self.lines.append(f"#block({frame})[{inside}]")

    def _titled(self, title: str) -> None:
        if title:
            self.lines.append(f"#heading(level: 2, {literal(title)})")

    def _table(self, table: Table) -> None:
        """Set a table; a short one keeps together with its title and its notes."""
        widths = tuple(column_widths(table, self._area(self._sideways)[0], TABLE, _INSET))
        columns = ", ".join(width for width, _ in widths)
        aligned = ", ".join({"left": "left", "centre": "center", "right": "right"}[c.align] for c in table.columns)
        head = ", ".join(
            f"[#text(hyphenate: {'false' if whole else 'true'}, strong({literal(column.title)}))]"
            for column, (_, whole) in zip(table.columns, widths, strict=True)
        )
        cells = [self._cell(cell) for row in table.rows for cell in row]
        short = table.stays or len(table.rows) <= _SHORT
        if short:
            sticky = str(table.stays).lower()
            self.lines.append(f"#block(breakable: false, sticky: {sticky}, width: 100%)[")
        self._titled(table.title)
        self.lines.append(
            f"#table(columns: ({columns},), align: ({aligned},), table.header({head}),\n  " + ",\n  ".join(cells) + ")"
        )
        for note in table.notes:
            self.lines.append(f"#par(text(size: {SMALL}pt, {literal(note)}))")
        if short:
            self.lines.append("]")

    def _cell(self, cell: Cell) -> str:
        if isinstance(cell, Drawing):
            return f"[#image({self._quoted(cell)}, width: 100%)]"
        return f"[#{literal(cell)}]"

    def _figure(self, figure: Figure) -> None:
        drawing = figure.drawing
        width, height = self._area(self._sideways)
        room = height - _caption_height(figure.caption, width) - (24 if figure.title else 0) - 28
        room -= _HEAD if self._under_heading else 0
        scale = min(1.0, width / drawing.width, room / drawing.height)
        parts = [f"#block(sticky: true, below: 5pt, strong({literal(figure.title)}))"] if figure.title else []
        parts.append(f"#align(center, image({self._quoted(drawing)}, width: {drawing.width * scale:.1f}pt))")
        parts += [f"#par(text(size: {SMALL}pt, {literal(line)}))" for line in figure.caption]
        self.lines.append(f"#block(breakable: false, width: 100%, above: 12pt, below: 14pt)[{' '.join(parts)}]")

    def _whole_page(self, figure: Figure, title: str) -> None:
        """Give a drawing a page of its own, on its side where it prints larger so."""
        drawing = figure.drawing
        scales = []
        for flipped in (False, True):
            width, height = self._area(flipped)
            room = height - _caption_height(figure.caption, width) - (32 if title else 4)
            scales.append(min(1.0, width / drawing.width, room / drawing.height))
        flipped = scales[1] > scales[0] + 0.01
        scale = max(scales) if flipped else scales[0]
        inside = [f"#heading(level: 1, {literal(title)})"] if title else []
        inside.append(f"#align(center, image({self._quoted(drawing)}, width: {drawing.width * scale:.1f}pt))")
        inside += [f"#par(text(size: {SMALL}pt, {literal(line)}))" for line in figure.caption]
        self.lines.append(f"#page(flipped: {str(flipped).lower()})[\n" + "\n".join(inside) + "\n]")

    def _area(self, flipped: bool) -> tuple[float, float]:
        short, long = PAPERS[self.paper]
        width, height = (long, short) if flipped else (short, long)
        return width - 2 * MARGIN, height - MARGIN - 54.0

    def _quoted(self, drawing: Drawing) -> str:
        """Give the name of a drawing's file as the typesetter takes it; a name is never parted as text is."""
        return f'"{self._file(drawing)}"'

    def _file(self, drawing: Drawing) -> str:
        if drawing.svg not in self._names:
            name = f"drawing-{len(self._names)}.svg"
            self._names[drawing.svg] = name
            self.files[name] = drawing.svg.encode()
        return self._names[drawing.svg]


def _caption_height(caption: tuple[str, ...], width: float) -> float:
    """Give about how high a caption is set."""
    lines = sum(-(-len(line) // int(width / SMALL * _LETTERS)) for line in caption)
    return lines * SMALL * 1.25 + len(caption) * 8.0


def literal(text: str) -> str:
    """Give a text as a string literal of the typesetter; a number stays on one line with its unit.

    A word that no line may be able to hold (a file's name, a digest) gets places where it can be parted.
    """
    return '"' + "".join(_escaped(_LONG.sub(_parted, kept_together(text)))) + '"'


def _parted(long: re.Match[str]) -> str:
    return _PARTS.sub("\\g<0>\u200b", long[0])


def _escaped(text: str) -> Iterator[str]:
    for letter in text:
        if letter in '"\\':
            yield "\\" + letter
        elif letter == "\n":
            yield "\\n"
        elif letter.isprintable() or letter in "\u00a0\u200b":
            yield letter
        else:
            yield "\ufffd"
