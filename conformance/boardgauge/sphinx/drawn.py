"""A drawing as a node of a document, and how each builder writes it.

Law of this module: HTML gets the SVG as a file, LaTeX a PDF made from it, everything else the words. The same drawing
is written once, under a name made from what it shows.
"""

from __future__ import annotations

from hashlib import sha256
from html import escape
from pathlib import Path
from typing import Any

from docutils import nodes

from boardgauge.sheets.blocks import Drawing
from boardgauge.sheets.held_widths import hold_widths


class Drawn(nodes.General, nodes.Inline, nodes.Element):
    """A drawing. Attributes: ``svg``, ``width`` and ``height`` (points), ``alt`` (what it shows, in words)."""


def drawn(drawing: Drawing) -> Drawn:
    """Give the node of a drawing."""
    return Drawn(svg=drawing.svg, width=drawing.width, height=drawing.height, alt=drawing.text)


def _name(node: Drawn, ending: str) -> str:
    return f"boardgauge-{sha256(node['svg'].encode()).hexdigest()[:20]}.{ending}"


def visit_html(self: Any, node: Drawn) -> None:
    """Write the SVG beside the page's other pictures, and refer to it."""
    name = _name(node, "svg")
    folder = Path(self.builder.outdir, self.builder.imagedir)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(hold_widths(node["svg"]), encoding="utf-8")
    source = f"{self.builder.imgpath}/{name}"
    # An SVG is as wide in points on a screen as on paper; a narrow page makes it smaller.
    style = f"width:{node['width']:.0f}pt;max-width:100%;background:white"
    self.body.append(f'<img class="boardgauge" src="{source}" alt="{escape(node["alt"])}" style="{style}">')
    raise nodes.SkipNode


def visit_latex(self: Any, node: Drawn) -> None:
    """Write a PDF of the drawing beside the LaTeX source, and include it."""
    from boardgauge.drawings.rendering import typeset

    name = _name(node, "pdf")
    target = Path(self.builder.outdir, name)
    if not target.is_file():
        target.write_bytes(typeset(node["svg"], "pdf", node["alt"]))
    # Sphinx's own macro makes smaller what is larger than the line or the page.
    self.body.append(f"\\noindent\\sphinxincludegraphics{{{name}}}")
    raise nodes.SkipNode


def visit_words(self: Any, node: Drawn) -> None:
    """Give the drawing in words, where nothing can be drawn."""
    if hasattr(self, "add_text"):
        self.add_text(f"[{node['alt']}]")
    else:
        self.body.append(f"[{node['alt']}]")
    raise nodes.SkipNode
