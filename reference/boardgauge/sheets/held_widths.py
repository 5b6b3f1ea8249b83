"""Hold the text of a drawing to the width it was laid out with, whatever face a screen has for it.

Law of this module: nothing moves and no text changes; each line of text is told how long it is. A face that is wider
than the one a drawing was made for would else run out of its boxes. Widths are those of Times Roman (Adobe's font
metrics for the standard PDF fonts), in thousandths of the type size; a letter not listed is taken for 500.
"""

from __future__ import annotations

import re
from html import unescape

_WIDTHS = {
    180: "'",
    200: "|",
    250: " ,.\u00a0",
    278: "/:;\\ijlt",
    333: "!()-I[]`fr",
    350: "•",
    389: "Js",
    400: "°",
    408: '"',
    444: "?acez“”",
    469: "^",
    480: "{}",
    541: "~",
    556: "FPS",
    564: "+<=>±×",
    611: "ELTZ",
    667: "BCR",
    722: "ADGHKNOQUVXYw",
    778: "&m",
    833: "%",
    889: "M",
    921: "@",
    944: "W",
    1000: "—…",
}
_OF = {letter: width for width, letters in _WIDTHS.items() for letter in letters}
_USUAL = 500
_BOLD = 1.06
_TEXT = re.compile(r"<text\b(?P<attributes>[^>]*)>(?P<words>[^<]*)</text>")
_SIZE = re.compile(r'font-size="([0-9.]+)"')


def width_in_times(words: str, size: float, bold: bool = False) -> float:
    """Give how wide a line of text is in Times Roman, in the unit of its size."""
    return sum(_OF.get(letter, _USUAL) for letter in words) * size / 1000 * (_BOLD if bold else 1.0)


def hold_widths(svg: str) -> str:
    """Give a drawing whose lines of text are as long as they were laid out to be."""

    def one(found: re.Match[str]) -> str:
        attributes, words = found["attributes"], found["words"]
        size = _SIZE.search(attributes)
        if size is None or "textLength" in attributes or not words.strip():
            return found[0]
        wide = width_in_times(unescape(words), float(size[1]), 'font-weight="bold"' in attributes)
        return f'<text{attributes} textLength="{wide:.2f}" lengthAdjust="spacingAndGlyphs">{words}</text>'

    return _TEXT.sub(one, svg)
