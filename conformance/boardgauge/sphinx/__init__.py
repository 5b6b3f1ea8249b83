"""A Sphinx extension: drawings, tables and cards of a board spec in documentation.

Put ``boardgauge.sphinx`` among the ``extensions`` of ``conf.py``. Each directive but the last takes a spec: a file
beside the document (or from the root of the documentation, with a leading slash), else a board of the library.

``boardgauge-drawing``
    A drawing; ``:what:`` is ``overview`` (the default) or the id of a rule or output.
``boardgauge-table``
    The tables of a sheet; ``:what:`` is ``timings`` (the default), ``settings``, ``terminals``, ``outputs`` or
    ``lamps``, ``:only:`` the id of one of its tables.
``boardgauge-card``
    The lamp card; ``:only:`` is the id of one lamp.
``boardgauge-sequence``
    The sequence of operation; ``:only:`` is the number of one sequence, from 1 on.
``boardgauge-cautions``
    What can hurt a person who works on the board.
``boardgauge-list``
    What boards are and how much there is of each, a row a board. It takes no argument: its content names the specs, a
    line each.

All but drawings and lists take ``:units:`` (``C`` or ``F``; ``boardgauge_units`` of ``conf.py`` says it for all). A
document is built again when the spec, or a spec that it is a variant of, changes. What cannot be read or drawn is an
error at its place in the document.

Law of this package: it asks the drawings and sheets and makes nothing itself. Sphinx is needed here and nowhere else.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sphinx.application import Sphinx

__all__ = ["setup"]


def setup(app: Sphinx) -> dict[str, Any]:
    """Add the directives (Sphinx calls this)."""
    from boardgauge.sphinx import directives, drawn

    app.add_config_value("boardgauge_units", None, "env", [str, type(None)])
    app.add_node(
        drawn.Drawn,
        html=(drawn.visit_html, None),
        latex=(drawn.visit_latex, None),
        text=(drawn.visit_words, None),
        man=(drawn.visit_words, None),
        texinfo=(drawn.visit_words, None),
    )
    for name, directive in directives.DIRECTIVES.items():
        app.add_directive(name, directive)
    try:
        ours = version("boardgauge")
    except PackageNotFoundError:
        ours = "unknown"
    return {"version": ours, "env_version": 1, "parallel_read_safe": True, "parallel_write_safe": True}
