"""What the tests of the page share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from page.script import Script


@pytest.fixture(scope="session")
def script() -> Iterator[Script]:
    """Give the page's engine in an embedded interpreter."""
    made = Script()
    yield made
    made.close()
