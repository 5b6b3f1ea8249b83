"""Write sheets as text: for a terminal, as Markdown, or as data.

Law of this module: the same cells in the same order as on paper; a drawing stands there by what it shows in words or
blocks. Nothing here knows how wide a terminal is until it is told.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

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

_NARROWEST = 6
_BETWEEN = "  "


def to_text(sheet: Sheet, width: int = 100) -> str:
    """Give a sheet as text for a terminal of a width."""
    lines: list[str] = [sheet.title, "=" * len(sheet.title), ""]
    for block in sheet.blocks:
        lines += [*_text(block, width), ""]
    return "\n".join(lines).rstrip() + "\n"


def _text(block: Block, width: int) -> Iterator[str]:
    match block:
        case Table(title=title, notes=notes):
            yield from _heading(title)
            yield from _columns(block, width)
            for note in notes:
                yield ""
                yield from _wrapped(note, width)
        case Figure(drawing=drawing, caption=caption, title=title):
            yield from _heading(title)
            yield f"[{drawing.text}]"
            for line in caption:
                yield from _wrapped(line, width)
        case Heading(text=text):
            yield from _heading(text)
        case Paragraph(text=text):
            yield from _wrapped(text, width)
        case Steps(items=items, title=title):
            yield from _heading(title)
            for number, item in enumerate(items, start=1):
                yield from _wrapped(item, width, f"{number:>3}. ")
        case Points(items=items, title=title):
            yield from _heading(title)
            for item in items:
                yield from _wrapped(item, width, "  - ")
        case Caution(title=title, items=items):
            yield from _heading(title.upper())
            for item in items:
                yield from _wrapped(item, width, "  ! ")


def _heading(title: str) -> Iterator[str]:
    if title:
        yield title
        yield "-" * len(title)


def _wrapped(text: str, width: int, lead: str = "") -> Iterator[str]:
    indent = " " * len(lead)
    lines = textwrap.wrap(
        kept_together(text), max(width, 20), initial_indent=lead, subsequent_indent=indent, break_on_hyphens=False
    )
    yield from (line.replace("\u00a0", " ") for line in lines or [lead])


def _columns(table: Table, width: int) -> Iterator[str]:
    texts = [[_plain(cell) for cell in row] for row in table.rows]
    titles = [column.title for column in table.columns]
    drawn = {i for row in table.rows for i, cell in enumerate(row) if isinstance(cell, Drawing)}
    widths = _widths(titles, texts, width - len(_BETWEEN) * (len(titles) - 1), drawn)
    yield from _row(titles, widths)
    yield _BETWEEN.join("-" * wide for wide in widths)
    tall = any(len(list(_row(row, widths))) > 1 for row in texts)
    for number, row in enumerate(texts):
        if number and tall:
            yield ""
        yield from _row(row, widths)


def _widths(titles: Sequence[str], texts: Sequence[Sequence[str]], room: int, drawn: set[int]) -> list[int]:
    """Share out the room: each column gets what it needs, and the widest give way first, but for what is drawn."""
    wanted = [max(map(len, [title, *(row[i] for row in texts)])) for i, title in enumerate(titles)]
    least = [
        max([_NARROWEST, *(len(word) for text in [title, *(row[i] for row in texts)] for word in text.split())])
        for i, title in enumerate(titles)
    ]
    widths = list(wanted)
    while sum(widths) > room:
        loose = [i for i, wide in enumerate(widths) if wide > (least[i] if i in drawn else min(least[i], 24))]
        if not loose:
            break
        widths[max(loose, key=lambda i: widths[i])] -= 1
    return [max(1, wide) for wide in widths]


def _row(cells: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    parts = [
        textwrap.wrap(kept_together(cell), wide, break_on_hyphens=False) or [""]
        for cell, wide in zip(cells, widths, strict=True)
    ]
    for line in range(max(map(len, parts))):
        texts = [part[line] if line < len(part) else "" for part in parts]
        said = _BETWEEN.join(text.ljust(wide) for text, wide in zip(texts, widths, strict=True)).rstrip()
        yield said.replace("\u00a0", " ")


def _plain(cell: Cell) -> str:
    return cell.text if isinstance(cell, Drawing) else cell


# -- Markdown ---------------------------------------------------------------------------------------------------------


def to_markdown(sheet: Sheet, level: int = 2) -> str:
    """Give a sheet as Markdown, its title a heading of a level."""
    lines = [f"{'#' * level} {_inline(sheet.title)}", ""]
    for block in sheet.blocks:
        lines += [*_markdown(block, level + 1), ""]
    return "\n".join(lines).rstrip() + "\n"


def _markdown(block: Block, level: int) -> Iterator[str]:
    title = getattr(block, "title", "")
    if isinstance(block, Heading):
        title = block.text
    if title:
        yield f"{'#' * level} {_inline(title)}"
        yield ""
    match block:
        case Table(columns=columns, rows=rows, notes=notes):
            marks = {"left": "---", "centre": ":-:", "right": "--:"}
            yield f"| {' | '.join(_inline(column.title) for column in columns)} |"
            yield f"|{'|'.join(marks[column.align] for column in columns)}|"
            for row in rows:
                yield f"| {' | '.join(_inline(_plain(cell)) for cell in row)} |"
            for note in notes:
                yield ""
                yield _inline(note)
        case Figure(drawing=drawing, caption=caption):
            for line in (f"({drawing.text})", *caption):
                yield _inline(line)
                yield ""
        case Paragraph(text=text):
            yield _inline(text)
        case Steps(items=items):
            for number, item in enumerate(items, start=1):
                yield f"{number}. {_inline(item)}"
        case Points(items=items) | Caution(items=items):
            for item in items:
                yield f"- {_inline(item)}"


def _inline(text: str) -> str:
    """Keep what a spec says from being taken for markup."""
    for mark in "\\`*_[]<>|#":
        text = text.replace(mark, "\\" + mark)
    return text.replace("\n", " ")


# -- data -----------------------------------------------------------------------------------------------------------


def to_data(sheet: Sheet) -> dict[str, object]:
    """Give a sheet as plain data: each block by its kind, the rows of a table by the titles of its columns."""
    return {"sheet": sheet.id, "title": sheet.title, "blocks": [_data(block) for block in sheet.blocks]}


def _data(block: Block) -> dict[str, object]:
    match block:
        case Table(id=name, columns=columns, rows=rows, title=title, notes=notes):
            told = [{c.title: _plain(cell) for c, cell in zip(columns, row, strict=True)} for row in rows]
            return {"kind": "table", "id": name, "title": title, "rows": told, "notes": list(notes)}
        case Figure(drawing=drawing, caption=caption, title=title):
            return {"kind": "drawing", "title": title, "shows": drawing.text, "caption": list(caption)}
        case Heading(text=text):
            return {"kind": "heading", "text": text}
        case Paragraph(text=text):
            return {"kind": "paragraph", "text": text}
        case Steps(items=items, title=title):
            return {"kind": "steps", "title": title, "items": list(items)}
        case Points(items=items, title=title):
            return {"kind": "points", "title": title, "items": list(items)}
        case Caution(title=title, items=items):
            return {"kind": "caution", "title": title, "items": list(items)}
