"""The page in a real browser: clicks, keys, undo, predictions, a phone, and who cannot see or must not see flashes.

Law: whatever is clicked and typed, what the page shows is what the reference says of the same inputs. Without a browser
these are skipped: say where one is with BOARDGAUGE_BROWSER, or install Chromium.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest

from boardgauge.boards import board_path
from boardgauge.drawings.words import pattern, thing
from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.table import Machine
from boardgauge.page import page_of, page_table
from page.script import as_seen, comparable
from page.test_engine_is_the_reference import LIBRARY

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install -e '.[dev]'")

VARIABLE = "BOARDGAUGE_BROWSER"
_FOUND = os.environ.get(VARIABLE) or next(
    (path for name in ("chromium", "chromium-browser", "google-chrome", "chrome") if (path := shutil.which(name))), None
)
pytestmark = pytest.mark.skipif(
    _FOUND is None, reason=f"no Chromium on the path; install one, or name its program in {VARIABLE}"
)
PLAYED = ("tarnbeck", "tarnbeck-thermistor", "hearthgate", "sump-pumps")
Page = Any
"""A page of the browser."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Give one browser for all tests of this file."""
    # Chromium's own sandbox does not work for root, in containers for instance; it only opens pages of our own here.
    arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with playwright.sync_playwright() as tools:
        made = tools.chromium.launch(executable_path=_FOUND, args=arguments)
        yield made
        made.close()


def machine_of(path: Path) -> Machine:
    """Give the machine of a spec."""
    return compile_board(read_board(path))


def opened(browser: Any, tmp_path: Path, machine: Machine, **context: Any) -> Page:
    """Open the page of a machine; whatever goes wrong in it, or asks for anything but itself, fails the test."""
    file = tmp_path / f"{machine.board.id}.html"
    file.write_text(page_of(machine), encoding="utf-8")
    page = browser.new_context(**context).new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
    page.on("request", lambda request: wrong.append(request.url) if request.url != file.as_uri() else None)
    page.goto(file.as_uri())
    page.wrong = wrong
    return page


def shut(page: Page) -> None:
    """Close a page in which nothing went wrong."""
    assert page.wrong == []
    page.context.close()


def state_of(page: Page) -> dict[str, Any]:
    """Give what the page's own board has seen and done."""
    text = page.evaluate(
        """() => { const { board } = boardgauge.session;
        return JSON.stringify({ run: board.run(), raw: board.terminals.raw, power: board.terminals.power,
          chosen: board.config.settings, trouble: boardgauge.session.trouble }); }"""
    )
    found: dict[str, Any] = json.loads(text)
    return found


def expect_as_the_reference(page: Page, engine: Engine) -> None:
    """Compare the page, as it stands and as it reads, with the reference told the same inputs beforehand."""
    board = engine.machine.board
    state = state_of(page)
    assert state["trouble"] is None
    fed: dict[str, list[tuple[int, Value]]] = {"power": [(t, v) for t, v in state["power"]]}
    for name, edges in zip(board.inputs, state["raw"], strict=True):
        fed[name] = [(t, v if isinstance(v, bool) else Fraction(*v)) for t, v in edges]
    simulated = Simulator(engine.machine, engine=engine).board()
    simulated.feed(fed)
    simulated.advance(state["run"]["end"])
    expected = as_seen(simulated, simulated.run())
    assert comparable(state["run"]) == expected
    for index, name in enumerate(board.outputs):
        on = len(expected["outputs"][index]) % 2 == 1
        assert page.locator(f'[data-output="{name}"] .state').text_content() == ("ON" if on else "off")
    for lamp, line in zip(board.lamps.values(), engine.lamp_lines(simulated.config), strict=True):
        shows = "dark" if line < 0 else pattern(lamp.lines[line].shows)
        assert page.locator(f'[data-lamp="{lamp.id}"] .state').text_content() == shows


def deed(page: Page, chance: Random) -> None:
    """Do one thing at the page as a person would."""
    kind = chance.choice(("switch", "switch", "switch", "key", "step", "next", "next", "undo", "redo", "slide", "tap"))
    if kind == "key":
        page.keyboard.press(chance.choice("0123456789"))
    elif kind == "step":
        page.keyboard.press("s")
    elif kind == "slide" and page.locator("input[type=range]").count():
        slider = page.locator("input[type=range]").first
        slider.focus()
        slider.press(chance.choice(("Home", "End", "PageDown", "ArrowLeft", "ArrowRight")))
    elif kind == "tap" and page.locator(".tap:enabled").count():
        page.locator(".tap:enabled").first.click()
    elif kind in {"next", "undo", "redo"}:
        button = page.locator(f"#{kind}")
        if button.is_enabled():
            button.click()
    else:
        switches = page.get_by_role("switch")
        switches.nth(chance.randrange(switches.count())).click()


@pytest.mark.parametrize("name", PLAYED)
def test_whatever_is_clicked_the_page_shows_what_the_reference_says(browser: Any, tmp_path: Path, name: str) -> None:
    """Switches, keys, sliders, steps, jumps, undo and redo, in an order nobody planned; compared after each."""
    engine = Engine(machine_of(board_path(name)))
    chance = Random(name)
    page = opened(browser, tmp_path, engine.machine)
    page.keyboard.press("0")
    page.keyboard.press("1")
    for _ in range(30):
        deed(page, chance)
        expect_as_the_reference(page, engine)
    shut(page)


def test_time_goes_on_by_itself_and_can_be_held(browser: Any, tmp_path: Path) -> None:
    """At sixty times the pace the power-up delay of 30 s is over in a moment; paused, nothing moves."""
    engine = Engine(machine_of(board_path("tarnbeck")))
    page = opened(browser, tmp_path, engine.machine)
    page.get_by_role("switch", name="Supply").click()
    page.get_by_role("switch", name="Compressor call").click()
    page.get_by_label("60×").check()
    page.get_by_role("button", name="Run").click()
    playwright.expect(page.locator('[data-output="cc"] .state')).to_have_text("ON", timeout=60_000)
    page.get_by_role("button", name="Pause").click()
    held = page.locator("#clock").text_content()
    expect_as_the_reference(page, engine)
    assert page.evaluate("boardgauge.session.now % 10000") == 0
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert page.locator("#clock").text_content() == held
    shut(page)


def test_all_of_it_works_by_keyboard(browser: Any, tmp_path: Path) -> None:
    """Tab reaches every control that can be used, each shows its focus, and the keys do what the list says."""
    page = opened(browser, tmp_path, machine_of(board_path("tarnbeck-thermistor")))
    page.keyboard.press("0")
    usable = page.evaluate(
        """() => [...document.querySelectorAll("button, input, select, summary, [tabindex='0'], a")].filter((one) =>
          !one.disabled && one.checkVisibility({ visibilityProperty: true })
          && !(one.type === "radio" && !one.checked)).length"""
    )
    page.evaluate("document.activeElement.blur()")
    reached, plain = set(), []
    for _ in range(usable):
        page.keyboard.press("Tab")
        told = page.evaluate(
            """() => { const one = document.activeElement; const style = getComputedStyle(one);
            all = [...document.querySelectorAll("*")];
            return [all.indexOf(one), style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2]; }"""
        )
        reached.add(told[0])
        plain += [] if told[1] else [told[0]]
    assert len(reached) == usable
    assert plain == []
    page.get_by_role("switch", name="Low-pressure switch").focus()
    page.keyboard.press("Space")
    assert page.get_by_role("switch", name="Low-pressure switch").get_attribute("aria-checked") == "false"
    page.keyboard.press("u")
    assert page.get_by_role("switch", name="Low-pressure switch").get_attribute("aria-checked") == "true"
    page.keyboard.press("n")
    assert page.locator("#clock").text_content() == "30 s"
    page.keyboard.press("s")
    assert page.locator("#clock").text_content() == "31 s"
    page.keyboard.press("p")
    assert page.get_by_role("button", name="Pause").is_visible()
    page.keyboard.press("p")
    page.keyboard.press("?")
    page.get_by_label("Single keys do things").uncheck()
    page.locator("body").press("0")
    assert page.get_by_role("switch", name="Supply").get_attribute("aria-checked") == "true"
    shut(page)


def test_a_prediction_is_told_right_or_wrong_with_the_rule(browser: Any, tmp_path: Path) -> None:
    """Nothing is done before the class has said; then each answer is held against the board, and the rule is cited."""
    machine = machine_of(board_path("tarnbeck"))
    page = opened(browser, tmp_path, machine)
    for key in ("0", "1", "n", "n"):
        page.keyboard.press(key)
    page.get_by_role("checkbox", name="Predict first").check()
    page.get_by_role("switch", name="High-pressure switch").click()
    assert page.locator('[data-output="cc"] .state').text_content() == "ON"
    assert page.locator("#planned").text_content() == "High-pressure switch opens."
    assert page.locator(".why:visible").count() == 0
    contactor = page.get_by_role("group", name=thing(machine.board, "cc").capitalize())
    contactor.get_by_label("off").check()
    page.get_by_role("group", name="Outdoor fan").get_by_label("on").check()
    page.get_by_label("Status LED").select_option("3 flashes")
    page.get_by_role("button", name="Check, and do it").click()
    rows = page.locator("#predict-result tbody tr")
    marks = [rows.nth(index).get_attribute("class") for index in range(3)]
    assert marks == ["right", "wrong", "right"]
    assert "compressor contactor off (clause 2.5)" in rows.nth(1).text_content()
    assert page.locator("#score").text_content() == "2 of 3 right; 2 of 3 in all."
    assert page.locator('[data-output="cc"] .state').text_content() == "off"
    page.get_by_role("button", name="Let time go by").click()
    page.get_by_label("After how many seconds?").fill("44")
    page.get_by_role("button", name="Check, and do it").click()
    assert "45 s" in page.locator("#predict-result tbody tr.right").text_content()
    assert "Restart delay is over (clause 2.4)" in page.locator("#predict-result").text_content()
    expect_as_the_reference(page, Engine(machine))
    shut(page)


def test_changes_planned_together_happen_at_one_moment(browser: Any, tmp_path: Path) -> None:
    """The call ends as the high-pressure switch opens: no trip is counted. One after the other, it is."""
    machine = machine_of(board_path("tarnbeck"))
    for together, at in ((True, "0 of 3"), (False, "1 of 3")):
        page = opened(browser, tmp_path, machine)
        for key in ("0", "1", "n"):
            page.keyboard.press(key)
        if together:
            page.get_by_role("checkbox", name="Predict first").check()
        page.get_by_role("switch", name="High-pressure switch").click()
        if together:
            page.get_by_role("switch", name="Compressor call").click()
            page.get_by_role("button", name="Check, and do it").click()
        assert page.locator("[data-count] .figures").text_content().startswith(at)
        shut(page)


@pytest.mark.parametrize("name", [*PLAYED, "extract-fan", "quillmere-split"])
def test_nothing_is_wider_than_a_phone(browser: Any, tmp_path: Path, name: str) -> None:
    """At 360 px no board's page scrolls sideways: at first, while it is played, and while a class is asked."""
    page = opened(
        browser, tmp_path, machine_of(board_path(name)), viewport={"width": 360, "height": 740}, has_touch=True
    )
    wide = "document.documentElement.scrollWidth > innerWidth"
    assert not page.evaluate(wide)
    page.get_by_role("switch").first.tap()
    page.get_by_role("switch").nth(1).tap()
    page.locator("#next").tap()
    page.locator(".caution summary").tap()
    page.locator("#keys summary").tap()
    assert not page.evaluate(wide)
    page.locator("#predict-mode").tap()
    page.get_by_role("switch").first.tap()
    assert page.locator("#predict-form").is_visible()
    assert not page.evaluate(wide)
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, select, label:has(input)")].filter((one) => {
          const box = one.getBoundingClientRect(); return box.width > 0 && (box.height < 24 || box.width < 24);
        }).map((one) => one.outerHTML.slice(0, 80))"""
    )
    assert small == []
    shut(page)


CONTRASTS = """() => {
  const channels = (text) => text.match(/[\\d.]+/g).map(Number);
  const luminance = ([r, g, b]) => [r, g, b].map((c) => c / 255)
    .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4))
    .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
  const behind = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = channels(getComputedStyle(at).backgroundColor);
      if (colour.length < 4 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const one of document.querySelectorAll("body *")) {
    const own = [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    if (!own || one.checkVisibility?.() === false || one.closest("script, style, .hidden")) continue;
    const style = getComputedStyle(one);
    const text = channels(one.closest("svg") ? style.fill : style.color);
    const [light, dark] = [luminance(text), luminance(behind(one))].sort((a, b) => b - a);
    const ratio = (light + 0.05) / (dark + 0.05);
    if (ratio < 4.5) found.push([one.outerHTML.slice(0, 90), ratio]);
  }
  return found;
}"""

NAMELESS = """() => [...document.querySelectorAll("button, input, select, summary, progress, section, fieldset")]
  .filter((one) => {
    const label = one.getAttribute("aria-label") || one.textContent.trim() || [...(one.labels ?? [])]
      .map((label) => label.textContent.trim()).join("");
    const by = one.getAttribute("aria-labelledby");
    return !(label || (by && document.getElementById(by).textContent.trim()));
  }).map((one) => one.outerHTML.slice(0, 90))"""


@pytest.mark.parametrize("name", ["tarnbeck-thermistor", "hearthgate"])
def test_the_page_can_be_read_and_named(browser: Any, tmp_path: Path, name: str) -> None:
    """Every text stands out by 4.5 to 1 (WCAG 2.2 AA), every control has a name, headings and ids are in order."""
    page = opened(browser, tmp_path, machine_of(board_path(name)))
    for key in ("0", "1", "n", "3", "n"):
        page.keyboard.press(key)
    page.get_by_role("checkbox", name="Predict first").check()
    page.get_by_role("switch", name="Supply").click()
    page.locator(".caution summary").click()
    page.locator("#keys summary").click()
    assert page.evaluate(CONTRASTS) == []
    assert page.evaluate(NAMELESS) == []
    page.get_by_role("button", name="Check, and do it").click()
    assert page.evaluate(CONTRASTS) == []
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.evaluate("document.querySelectorAll('h1').length") == 1
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map((one) => one.id)")
    assert len(ids) == len(set(ids))
    assert page.locator("[role=status]").count() == 1
    for title in ("At the terminals", "What the board does", "Timers and counts", "What happened", "Timing chart"):
        assert page.get_by_role("region", name=title).count() == 1
    shut(page)


def test_the_lamp_flashes_and_holds_still_for_who_asks_for_it(browser: Any, tmp_path: Path) -> None:
    """With reduced motion asked for, a flashing lamp is drawn half lit beside its pattern and never changes."""
    machine = machine_of(board_path("tarnbeck"))
    watch = """() => { const { outputs, still } = boardgauge; const seen = new Set();
      for (let time = 0; time < 3000; time += 20) {
        outputs.flash(outputs.lamps[0].since + time, still.matches);
        seen.add(document.querySelector(".bulb").dataset.lit);
      }
      return [...seen].sort(); }"""
    for asked, seen in (("no-preference", ["no", "yes"]), ("reduce", ["part"])):
        page = opened(browser, tmp_path, machine, reduced_motion=asked)
        for key in ("0", "1"):
            page.keyboard.press(key)
        assert page.evaluate(watch) == seen
        assert page.locator(".lamp .state").text_content() == "100 ms lit, 100 ms dark"
        assert page.locator(".strip .wave").count() == 1
        shut(page)


def test_no_lamp_flashes_more_than_three_times_a_second(browser: Any, tmp_path: Path) -> None:
    """As drawn, from one lighting up to the next is never less than a third of a second (WCAG 2.2, 2.3.1)."""
    page = opened(browser, tmp_path, machine_of(board_path("tarnbeck")))
    lines = [line for path in LIBRARY for lamp in page_table(machine_of(path))["lamps"] for line in lamp["lines"]]
    patterns = [line["parts"] for line in lines if len(line["parts"]) > 1]
    shortest = page.evaluate(
        """(patterns) => patterns.map((parts) => pace(parts) * Math.min(
          ...parts.map((part, i) => part.nominal + parts[(i + 1) % parts.length].nominal)))""",
        patterns,
    )
    assert len(shortest) > 10
    assert min(shortest) >= 1e6 / 3
    shut(page)


def test_a_board_that_contradicts_itself_is_told_and_can_be_undone(browser: Any, tmp_path: Path) -> None:
    """What the spec does not say cannot be played; the page says so and offers the step back."""
    spec = tmp_path / "bad.toml"
    spec.write_text(
        'language = 1\n[board]\nid = "bad"\ntitle = "a board that contradicts itself (invented)"\ntolerance = '
        '"exactly"\n[inputs.a]\nkind = "call"\n[rules.d]\nkind = "delay"\nbegins = "q begins"\nlasts = "5 s"\n'
        'if_begun_again = "starts over"\n[outputs.q]\non = "a and not d"\n',
        encoding="utf-8",
    )
    page = opened(browser, tmp_path, machine_of(spec))
    page.keyboard.press("0")
    page.keyboard.press("1")
    assert "does not come to rest" in page.get_by_role("alert").text_content()
    assert page.locator("#play").is_disabled()
    page.get_by_role("button", name="Undo").click()
    assert not page.get_by_role("alert").is_visible()
    shut(page)
