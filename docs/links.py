"""Check the links inside built pages: python docs/links.py docs/_build.

Law of this file: it looks at what a reader would click on, so at the pages as built, files and places in them. Links to
elsewhere are not followed, as nothing here needs the network.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit


class _Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.links: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what can be linked to, and what is linked."""
        for name, value in attrs:
            if name in ("id", "name") and value:
                self.ids.add(value)
            elif (tag, name) in (("a", "href"), ("img", "src"), ("object", "data")) and value:
                self.links.append(value)


def broken(folder: Path) -> Iterator[str]:
    """Give every link of the pages in a folder that leads nowhere."""
    pages = {path: _Page(path.read_text(encoding="utf-8")) for path in sorted(folder.rglob("*.html"))}
    for path, page in pages.items():
        for link in page.links:
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                continue
            target = (path.parent / unquote(parts.path)).resolve() if parts.path else path.resolve()
            place = unquote(parts.fragment)
            there = next((each for each in pages if each.resolve() == target), None)
            if not target.exists() or (place and there is not None and place not in pages[there].ids):
                yield f"{path.relative_to(folder)}: {link}"


def main() -> int:
    """Print what is broken; give the exit status."""
    found = list(broken(Path(sys.argv[1])))
    print("\n".join(found) or "all links inside lead somewhere")
    return bool(found)


if __name__ == "__main__":
    sys.exit(main())
