"""How the documentation is built: python -m sphinx -W docs docs/_build.

Law of this file: the build needs no network and fetches nothing.
"""

from __future__ import annotations

from importlib.metadata import version as installed_version
from typing import Any

from pygments.lexers.special import TextLexer

project = "Boardgauge"
author = "The Boardgauge authors"
copyright = "The Boardgauge authors, Apache-2.0"
version = release = installed_version("boardgauge")

extensions = ["myst_parser", "sphinx.ext.autodoc"]
exclude_patterns = ["_build", "examples"]
html_theme = "furo"
html_title = f"Boardgauge {release}"
html_show_sphinx = False
# furo and Sphinx bring their own scripts and styles; nothing is loaded from elsewhere.
myst_enable_extensions = ["colon_fence", "deflist"]
myst_heading_anchors = 3

autodoc_member_order = "bysource"
autodoc_typehints = "signature"
autodoc_default_options = {"members": True}

# The blocks of the clauses are named for what is in them.
EXPRESSIONS = ("condition", "event", "trigger", "requirement", "time", "refused")


def setup(app: Any) -> None:
    """Let Sphinx show the language's own blocks as they stand."""
    for name in EXPRESSIONS:
        app.add_lexer(name, TextLexer)
