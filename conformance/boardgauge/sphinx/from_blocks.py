"""Turn the blocks of a sheet into nodes of a document.

Law of this module: nothing is left out and nothing added; every builder knows the nodes used here.
"""

from __future__ import annotations

from collections.abc import Iterator

from docutils import nodes

from boardgauge.sheets.blocks import (
    Block,
    Caution,
    Cell,
    Drawing,
    Figure,
    Heading,
    Paragraph,
    Points,
    Steps,
    Table,
)
from boardgauge.sphinx.drawn import drawn


def from_block(block: Block) -> Iterator[nodes.Node]:
    """Give the nodes of one block."""
    match block:
        case Table():
            yield _table(block)
            for note in block.notes:
                yield nodes.paragraph("", note)
        case Figure():
            yield from _figure(block)
        case Heading(text=text):
            yield nodes.rubric("", text)
        case Paragraph(text=text):
            yield nodes.paragraph("", text)
        case Steps(items=items, title=title):
            yield from _title(title)
            listed = nodes.enumerated_list(enumtype="arabic", prefix="", suffix=".")
            listed += [nodes.list_item("", nodes.paragraph("", item)) for item in items]
            yield listed
        case Points(items=items, title=title):
            yield from _title(title)
            yield _bullets(items)
        case Caution(title=title, items=items):
            yield nodes.caution("", nodes.paragraph("", "", nodes.strong("", title)), _bullets(items))


def _title(title: str) -> Iterator[nodes.Node]:
    if title:
        yield nodes.rubric("", title)


def _bullets(items: tuple[str, ...]) -> nodes.bullet_list:
    listed = nodes.bullet_list(bullet="-")
    listed += [nodes.list_item("", nodes.paragraph("", item)) for item in items]
    return listed


def _figure(block: Figure) -> Iterator[nodes.Node]:
    yield from _title(block.title)
    yield nodes.paragraph("", "", drawn(block.drawing))
    for line in block.caption:
        yield nodes.paragraph("", "", nodes.emphasis("", line))


def _table(block: Table) -> nodes.table:
    total = sum(column.share for column in block.columns)
    table = nodes.table(classes=["boardgauge", "colwidths-given"])
    if block.title:
        table += nodes.title("", block.title)
    group = nodes.tgroup(cols=len(block.columns))
    group += [nodes.colspec(colwidth=round(100 * column.share / total)) for column in block.columns]
    head = nodes.thead()
    head += _row([column.title for column in block.columns])
    body = nodes.tbody()
    body += [_row(row) for row in block.rows]
    group += [head, body]
    table += group
    return table


def _row(cells: tuple[Cell, ...] | list[str]) -> nodes.row:
    row = nodes.row()
    for cell in cells:
        entry = nodes.entry()
        entry += nodes.paragraph("", "", drawn(cell)) if isinstance(cell, Drawing) else nodes.paragraph("", cell)
        row += entry
    return row
