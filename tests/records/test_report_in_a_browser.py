"""The chart of a report in a real browser: zoomed, moved, pointed at, by mouse and by keys, with nothing fetched.

Law: what the page tells of a moment is what the recording shows there. Without a browser these are skipped: say where
one is with BOARDGAUGE_BROWSER, or install Chromium.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from boardgauge.command.program import main
from many_recordings import SLOW_CLOCK

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install -e '.[dev]'")

VARIABLE = "BOARDGAUGE_BROWSER"
_FOUND = os.environ.get(VARIABLE) or next(
    (path for name in ("chromium", "chromium-browser", "google-chrome", "chrome") if (path := shutil.which(name))), None
)
pytestmark = pytest.mark.skipif(
    _FOUND is None, reason=f"no Chromium on the path; install one, or name its program in {VARIABLE}"
)
Page = Any
"""A page of the browser."""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """Give the report of a slow board, open; at the end nothing may have gone wrong in it, and nothing been fetched."""
    target = tmp_path_factory.mktemp("report") / "c.html"
    assert CliRunner().invoke(main, ["certificate", "tarnbeck", str(SLOW_CLOCK), "-o", str(target)]).exit_code == 1
    arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with playwright.sync_playwright() as tools:
        browser = tools.chromium.launch(executable_path=_FOUND, args=arguments)
        opened = browser.new_page(viewport={"width": 1100, "height": 900})
        wrong: list[str] = []
        fetched: list[str] = []
        opened.on("pageerror", lambda error: wrong.append(str(error)))
        opened.on("request", lambda request: fetched.append(request.url))
        opened.goto(Path(target).as_uri())
        yield opened
        browser.close()
    assert wrong == []
    assert fetched == [Path(target).as_uri()]


def span(page: Page) -> tuple[float, float]:
    """Give the stretch that is shown, in seconds from the start."""
    page.mouse.move(5, 5)
    words = page.locator(".live-told").inner_text().split()
    return float(words[0]), float(words[2])


def at(page: Page, seconds: float) -> str:
    """Point at a moment; give what the page tells of it."""
    low, high = span(page)
    box = page.locator(".live svg").bounding_box()
    x = 190 + (seconds - low) / (high - low) * (box["width"] - 190 - 14)
    page.mouse.move(box["x"] + x, box["y"] + 60)
    return str(page.locator(".live-told").inner_text())


def test_pointing_tells_what_the_recording_shows(page: Page) -> None:
    """Before, between and after the changes of the contactor, and of the supply."""
    page.locator(".live").scroll_into_view_if_needed()
    page.get_by_text("Whole recording", exact=True).click()
    assert "compressor contactor off" in at(page, 20)
    assert "compressor contactor on" in at(page, 60)
    assert "compressor contactor off" in at(page, 100)
    assert "supply off" in at(page, 241.5)


def test_a_deviation_is_gone_to(page: Page) -> None:
    """Its button shows the stretch about it; there are as many as deviations."""
    buttons = page.get_by_text("Deviation at")
    assert buttons.count() == 3
    buttons.nth(1).click()
    low, high = span(page)
    assert (low + high) / 2 == pytest.approx(127.209, abs=0.6)
    assert high - low == pytest.approx(40, abs=1)


def test_keys_and_wheel_zoom_and_move(page: Page) -> None:
    """Plus halves the stretch, minus doubles it, arrows move it, Home shows all; the wheel keeps what it points at."""
    svg = page.locator(".live svg")
    svg.focus()
    page.keyboard.press("Home")
    whole = span(page)
    svg.focus()
    page.keyboard.press("+")
    half = span(page)
    assert half[1] - half[0] == pytest.approx((whole[1] - whole[0]) / 2, rel=0.02)
    svg.focus()
    page.keyboard.press("ArrowRight")
    assert span(page)[0] > half[0]
    svg.focus()
    page.keyboard.press("-")
    page.keyboard.press("-")
    assert span(page) == whole
    at(page, 33.3)
    for _ in range(12):
        page.mouse.wheel(0, -100)
    low, high = span(page)
    assert low < 33.3 < high
    assert high - low < 25


def test_dragging_moves_and_stays_inside(page: Page) -> None:
    """Dragged far to either side, the stretch ends at the recording's end and keeps its length."""
    page.locator(".live svg").focus()
    page.keyboard.press("Home")
    whole = span(page)
    page.locator(".live svg").focus()
    page.keyboard.press("+")
    before = span(page)
    box = page.locator(".live svg").bounding_box()
    middle = box["x"] + box["width"] / 2
    for by, end in ((-2000, 1), (2000, 0)):
        page.mouse.move(middle, box["y"] + 80)
        page.mouse.down()
        page.mouse.move(middle + by, box["y"] + 80)
        page.mouse.up()
        now = span(page)
        assert now[end] == pytest.approx(whole[end], abs=0.6)
        assert now[1] - now[0] == pytest.approx(before[1] - before[0], rel=0.02)


def test_it_prints_as_drawn(page: Page) -> None:
    """On paper the drawing stands in the place of the chart to look into."""
    assert page.locator(".live").is_visible()
    assert not page.locator("figure.with-live").is_visible()
    page.emulate_media(media="print")
    assert not page.locator(".live").is_visible()
    assert page.locator("figure.with-live").is_visible()
    page.emulate_media(media="screen")
