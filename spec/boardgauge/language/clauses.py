"""The clauses of the language, by their slugs.

Law of this module: ``clauses.md`` is the only text; a slug is found in it or it does not exist.
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from boardgauge.language.problems import nearest_of

_HEADING = re.compile(r"^### `([a-z0-9]+(?:[.-][a-z0-9]+)*)`$", re.MULTILINE)
_END = re.compile(r"^##? ", re.MULTILINE)


@cache
def _clauses() -> MappingProxyType[str, str]:
    text = files("boardgauge.language").joinpath("clauses.md").read_text(encoding="utf-8")
    headings = list(_HEADING.finditer(text))
    found: dict[str, str] = {}
    for heading, following in zip(headings, [*headings[1:], None], strict=True):
        body = text[heading.end() : following.start() if following else len(text)]
        found[heading.group(1)] = _END.split(body, maxsplit=1)[0].strip()
    return MappingProxyType(found)


def slugs() -> tuple[str, ...]:
    """Give the slugs of all clauses, in the order of the text."""
    return tuple(_clauses())


def clause(slug: str) -> str:
    """Give the text of a clause, in Markdown. Raises KeyError with the nearest slug where there is none."""
    clauses = _clauses()
    if slug not in clauses:
        nearest = nearest_of(slug, clauses)
        raise KeyError(f"there is no clause {slug!r}" + (f"; did you mean {nearest!r}?" if nearest else ""))
    return clauses[slug]
