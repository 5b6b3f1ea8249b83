"""How the documentation is built: python -m sphinx -W docs docs/_build.

Law of this file: the build needs no network and fetches nothing.
"""

from __future__ import annotations

import re
from importlib.metadata import version as installed_version
from typing import Any

from pygments.lexers.special import TextLexer

project = "Boardgauge"
author = "The Boardgauge authors"
copyright = "The Boardgauge authors, Apache-2.0"
version = release = installed_version("boardgauge")

extensions = ["myst_parser", "sphinx.ext.autodoc", "boardgauge.sphinx"]
exclude_patterns = ["_build", "examples"]
html_theme = "furo"
html_title = f"Boardgauge {release}"
html_show_sphinx = False
# furo and Sphinx bring their own scripts and styles; nothing is loaded from elsewhere.
myst_enable_extensions = ["colon_fence", "deflist"]
myst_heading_anchors = 3

autodoc_member_order = "bysource"
autodoc_typehints = "signature"
autodoc_type_aliases = {name: name for name in ("Condition", "Event", "Trigger", "Expression", "Rule")}
maximum_signature_line_length = 100
autodoc_default_options = {"members": True}

# The blocks of the clauses are named for what is in them.
EXPRESSIONS = ("condition", "event", "trigger", "requirement", "time", "refused")


# What signatures say at length where a name says it better.
SHORTER = (
    (re.compile(r"TypeAliasForwardRef\('(\w+)'\)"), r"\1"),
    (re.compile(r"Spot\(file='<made in memory>', line=1, column=1\)"), "NOWHERE"),
    (re.compile(r"Note\(title=None, text=None, why=None, clause=None\)"), "Note()"),
    (re.compile(r"Fraction\((-?\d+), 1\)"), r"\1"),
)


def shorten(*arguments: Any) -> tuple[str | None, str | None]:
    """Write a signature shorter (for autodoc, which gives it with its return as the last two arguments)."""
    signature, returned = arguments[-2:]
    for pattern, by in SHORTER:
        signature = pattern.sub(by, signature) if signature else signature
        returned = pattern.sub(by, returned) if returned else returned
    return signature, returned


def setup(app: Any) -> None:
    """Let Sphinx show the language's own blocks as they stand, and signatures shorter."""
    for name in EXPRESSIONS:
        app.add_lexer(name, TextLexer)
    app.connect("autodoc-process-signature", shorten)
