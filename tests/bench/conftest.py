"""What the tests of the bench share beside the plans."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


@pytest.fixture(scope="module")
def no_waiting_for_the_disk() -> Iterator[None]:
    """Killed processes lose nothing of what was handed to the system; only a loss of power asks for more."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda descriptor: None)
        yield
