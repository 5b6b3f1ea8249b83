"""How wide the columns of a table are set.

Law of this module: columns have the shares that their table gives them; one is wider than that only where a word of its
heading would else be parted, and never by much.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from boardgauge.sheets.blocks import Table
from boardgauge.sheets.held_widths import width_in_times

_BOLD_FACE = 1.2
"""How much wider the bold face of tables is than Times."""
_SPARE = 1.15
"""How much of its share a column may lose to others that are made wider, and still be said to hold a word."""
_MOST_WIDER = 1.6
"""How much wider than its share a column may be made for a word of its heading."""


def column_widths(table: Table, width: float, size: float, inset: float) -> Iterator[tuple[str, bool]]:
    """Give each column its width, as Typst takes it, and whether the words of its heading stand whole in it.

    ``width`` of the table, ``size`` of its type and ``inset`` at either side of a cell are in points.
    """
    shares = sum(column.share for column in table.columns)
    for column in table.columns:
        wide = column.share / shares * width
        words = re.split(r"[\s/-]+", column.title)
        need = max(width_in_times(word, size, bold=True) for word in words) * _BOLD_FACE + 2 * inset
        wider = wide < need <= wide * _MOST_WIDER
        yield (f"{need:.1f}pt" if wider else f"{column.share:g}fr"), wider or need * _SPARE <= wide
