"""docs/messages.md has every message that the code can tell, each with its cause and its cure."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

CLONE = Path(__file__).resolve().parents[2]


def _load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, CLONE / "docs" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def catalogue() -> ModuleType:
    _load("source_code")
    _load("message_sites")
    return _load("catalogue")


@pytest.fixture(scope="module")
def sites(catalogue: ModuleType) -> object:
    return catalogue.Sites()


def test_every_message_has_a_group(catalogue: ModuleType, sites: object) -> None:
    """A message that the code can tell belongs to a group of docs/messages.toml, which has its cause and its cure."""
    _, homeless = catalogue.sorted_in(sites.messages)  # type: ignore[attr-defined]
    assert homeless == []


def test_every_message_is_on_the_page(catalogue: ModuleType, sites: object) -> None:
    """No message of the code is missing from the page; python docs/catalogue.py --write puts it there."""
    page = (CLONE / "docs" / "messages.md").read_text(encoding="utf-8")
    missing = [each.words for each in sites.messages if each.words not in page]  # type: ignore[attr-defined]
    assert missing == []


def test_the_way_back_is_lost_nowhere(sites: object) -> None:
    """Wherever an exception of ours is raised or a problem made, its words were found."""
    assert sites.lost == {}  # type: ignore[attr-defined]
    assert sites.unseen == []  # type: ignore[attr-defined]


def test_no_entry_is_left_over(catalogue: ModuleType, sites: object) -> None:
    """Each entry of docs/messages.toml is about a message that there is."""
    found, _ = catalogue.sorted_in(sites.messages)  # type: ignore[attr-defined]
    assert [entry.words for group in found for entry in group.entries if not entry.found] == []
    assert [group.slug for group in found if not group.messages] == []


def test_messages_of_every_sort_are_found(sites: object) -> None:
    """Some that are known, made in all the ways there are: by a helper, a table, a tuple, a choice."""
    words = {each.words for each in sites.messages}  # type: ignore[attr-defined]
    for known in (
        "the key is missing; it is required",
        "there is nothing called …",
        'a switch rests "normally open" or "normally closed"',
        "a … is not on or off",
        "the expression ends too early",
        "the bases go in a circle: …",
        "the line can never show: …",
        "no such file",
    ):
        assert any(known in each for each in words), known


def test_a_new_message_would_be_missed(catalogue: ModuleType) -> None:
    """A message in a place that no group knows is told as one that belongs to none."""
    stray = catalogue.Message("something new is wrong", "elsewhere/new.py")
    _, homeless = catalogue.sorted_in([stray])
    assert homeless == [stray]
