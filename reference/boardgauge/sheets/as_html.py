"""Write a handout as one HTML file: drawings inline, nothing loaded from elsewhere, no script.

Law of this module: every text is escaped; the page reads without colour, prints black on white, and no row
or drawing is cut by a page. Drawings have their description as text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape as escaped

from boardgauge.drawings.page import Paper
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
from boardgauge.sheets.figures import kept_together
from boardgauge.sheets.handout import Handout
from boardgauge.sheets.held_widths import hold_widths

_SIZES = {"letter": "letter", "a4": "A4"}
_STYLE = """
@page { size: %s; margin: 15mm; }
* { box-sizing: border-box; }
body { font: 16px/1.45 "Libertinus Serif", "Times New Roman", Times, serif; color: #000; background: #fff;
  max-width: 62rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0.5rem 0; }
h2 { font-size: 1.4rem; margin: 2.2rem 0 0.6rem; border-bottom: 2px solid #000; }
h3 { font-size: 1.1rem; margin: 1.4rem 0 0.4rem; }
h1, h2, h3 { break-after: avoid; }
nav ul { columns: 2; }
a { color: #000; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%%; font-size: 0.9rem; }
th, td { border: 1px solid #000; padding: 0.25rem 0.45rem; text-align: left; vertical-align: top; }
th { background: #e6e6e6; }
td.centre, th.centre { text-align: center; }
td.right, th.right { text-align: right; }
td svg { width: 100%%; min-width: 11rem; height: auto; }
thead { display: table-header-group; }
tr, figure, .caution { break-inside: avoid; }
figure { margin: 1rem 0; }
figure svg { max-width: 100%%; height: auto; }
figcaption, .small { font-size: 0.85rem; }
.caution { border: 3px solid #000; padding: 0.6rem 1rem; margin: 1.2rem 0; }
.caution h3 { margin-top: 0; }
footer { border-top: 1px solid #000; margin-top: 2rem; font-size: 0.8rem; overflow-wrap: anywhere; }
@media print {
  body { max-width: none; padding: 0; font-size: 10.5pt; }
  section.own { break-before: page; }
  nav { display: none; }
  a { text-decoration: none; }
}
"""
_IDS = re.compile(r'\bid="([^"]+)"')
_URLS = re.compile(r"url\(#([^)]+)\)")
_HREFS = re.compile(r'href="#([^"]+)"')


def escape(text: str) -> str:
    """Escape a text, a number and its unit on one line; what cannot be printed at all is replaced."""
    plain = "".join(letter if letter.isprintable() or letter in "\n\u00a0" else "\ufffd" for letter in text)
    return escaped(kept_together(plain))


def to_html(made: Handout, paper: Paper = "letter") -> str:
    """Give a handout as one HTML page; ``paper`` is what it is printed on."""
    parts = [
        "<!DOCTYPE html>",
        f'<html lang="{escape(made.language)}">',
        '<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(made.title)}</title>",
        f"<style>{_STYLE % _SIZES[paper]}</style></head>",
        "<body>",
        f"<header><h1>{escape(made.title)}</h1>",
    ]
    numbers = _Numbers()
    for block in made.cover:
        parts += block_html(block, numbers)
    parts.append("</header>")
    if len(made.sheets) > 1:
        links = "".join(f'<li><a href="#{escape(s.id)}">{escape(s.title)}</a></li>' for s in made.sheets)
        parts.append(f'<nav aria-label="Contents"><ul>{links}</ul></nav>')
    parts.append("<main>")
    for sheet in made.sheets:
        parts += sheet_html(sheet, numbers)
    parts += ["</main>", f"<footer><p>{escape(made.footer)}</p></footer>", "</body>", "</html>", ""]
    return "\n".join(parts)


class _Numbers:
    """Counts drawings, so that no two of one page share an id."""

    def __init__(self) -> None:
        self._last = 0

    def next(self) -> int:
        self._last += 1
        return self._last


def sheet_html(sheet: Sheet, numbers: _Numbers | None = None) -> Iterator[str]:
    """Give one sheet as a section."""
    numbers = numbers or _Numbers()
    kind = ' class="own"' if sheet.own_page else ""
    yield f'<section id="{escape(sheet.id)}"{kind}><h2>{escape(sheet.title)}</h2>'
    for block in sheet.blocks:
        yield from block_html(block, numbers)
    yield "</section>"


def block_html(block: Block, numbers: _Numbers) -> Iterator[str]:
    """Give one block."""
    match block:
        case Table():
            yield from _table(block, numbers)
        case Figure(drawing=drawing, caption=caption, title=title):
            if title:
                yield f"<h3>{escape(title)}</h3>"
            said = "".join(f"<p>{escape(line)}</p>" for line in caption)
            yield f"<figure>{_svg(drawing, numbers)}<figcaption>{said}</figcaption></figure>"
        case Heading(text=text):
            yield f"<h3>{escape(text)}</h3>"
        case Paragraph(text=text, small=small):
            yield f"<p{' class=small' if small else ''}>{escape(text)}</p>"
        case Steps(items=items, title=title) | Points(items=items, title=title):
            if title:
                yield f"<h3>{escape(title)}</h3>"
            tag = "ol" if isinstance(block, Steps) else "ul"
            yield f"<{tag}>{''.join(f'<li>{escape(item)}</li>' for item in items)}</{tag}>"
        case Caution(title=title, items=items):
            listed = "".join(f"<li>{escape(item)}</li>" for item in items)
            yield f'<aside class="caution"><h3>{escape(title)}</h3><ul>{listed}</ul></aside>'


def _table(table: Table, numbers: _Numbers) -> Iterator[str]:
    if table.title:
        yield f"<h3>{escape(table.title)}</h3>"
    total = sum(column.share for column in table.columns)
    widths = "".join(f'<col style="width:{100 * column.share / total:.1f}%">' for column in table.columns)
    kinds = ["" if column.align == "left" else f' class="{column.align}"' for column in table.columns]
    head = "".join(
        f'<th scope="col"{kind}>{escape(c.title)}</th>' for c, kind in zip(table.columns, kinds, strict=True)
    )
    yield f'<div class="wide"><table id="{escape(table.id)}-table"><colgroup>{widths}</colgroup>'
    yield f"<thead><tr>{head}</tr></thead><tbody>"
    for row in table.rows:
        cells = "".join(f"<td{kind}>{_cell(cell, numbers)}</td>" for cell, kind in zip(row, kinds, strict=True))
        yield f"<tr>{cells}</tr>"
    yield "</tbody></table></div>"
    for note in table.notes:
        yield f'<p class="small">{escape(note)}</p>'


def _cell(cell: Cell, numbers: _Numbers) -> str:
    return _svg(cell, numbers) if isinstance(cell, Drawing) else escape(cell)


def _svg(drawing: Drawing, numbers: _Numbers) -> str:
    """Give a drawing for a page that has others: its ids get a number of their own."""
    number = numbers.next()
    svg = hold_widths(drawing.svg[drawing.svg.index("<svg") :])
    svg = _IDS.sub(rf'id="d{number}-\1"', svg)
    svg = _URLS.sub(rf"url(#d{number}-\1)", svg)
    svg = _HREFS.sub(rf'href="#d{number}-\1"', svg)
    return svg if 'role="img"' in svg else svg.replace("<svg", '<svg role="img"', 1)
