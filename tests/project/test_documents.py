"""What the documents say is so: commands run, paths exist, code works."""

from __future__ import annotations

import importlib.util
import os
import re
import sys
import tomllib
from fractions import Fraction
from pathlib import Path
from types import ModuleType

import pytest

from boardgauge.sensors import curve_from
from boardgauge.traces import Wire, wiring_from

CLONE = Path(__file__).resolve().parents[2]
SKIPPED = {".git", ".venv", "_build", "build", "dist", "__pycache__"}


def _console() -> ModuleType:
    spec = importlib.util.spec_from_file_location("documents_console", CLONE / "docs" / "console.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclass looks its own module up
    spec.loader.exec_module(module)
    return module


def _files() -> list[Path]:
    found = []
    for folder, folders, names in os.walk(CLONE):
        folders[:] = [f for f in folders if f not in SKIPPED and not f.endswith(("_cache", ".egg-info", ".hypothesis"))]
        found += [Path(folder, name) for name in names]
    return sorted(found)


FILES = _files()
CLAUSES = CLONE / "spec" / "boardgauge" / "language" / "clauses.md"
DOCUMENTS = [CLONE / "README.md", CLONE / "DEVELOPERS.md", *sorted((CLONE / "docs").rglob("*.md"))]
console = _console()


def _name(path: Path) -> str:
    return str(path.relative_to(CLONE))


def _prose(document: Path) -> str:
    return re.sub(r"^```.*?^```$", "", document.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)


def _python_blocks(document: Path) -> list[str]:
    return re.findall(r"^```python\n(.*?)^```$", document.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


# -- commands and code ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("document", [d for d in DOCUMENTS if "```console" in d.read_text(encoding="utf-8")], ids=_name)
def test_commands_do_what_the_document_shows(document: Path, tmp_path: Path) -> None:
    """Each command runs, leaves with the status shown, and most of what is shown is still printed."""
    blocks = console.blocks_of(document.read_text(encoding="utf-8"))
    console.like_a_clone(tmp_path)
    console.run_blocks(blocks, tmp_path)
    for command in (command for block in blocks for command in block):
        printed = "\n".join(command.printed)
        assert "Traceback" not in printed, f"$ {command.text}\n{printed}"
        assert command.status in (0, 1, 2, 3), f"$ {command.text}\n{printed}"
        if command.text == "echo $?":
            assert command.printed == command.shown
        wanted = [line.strip() for line in command.shown if line.strip() and line != console.LEFT_OUT]
        there = [
            line for line in wanted if line in printed or any(console.shows(line, p.strip()) for p in command.printed)
        ]
        # Loosely: digits of a measurement and the digest of a spec may change with a sentence left alone.
        assert 2 * len(there) >= len(wanted), f"python docs/console.py --write\n$ {command.text}\n{printed}"


def test_what_changes_with_the_clock_is_not_written_into_a_document() -> None:
    """A line shown with a part left out stays as it is while all else of the line is printed, and no longer."""
    text = "```console\n$ boardgauge x\nmeasured today, kept … by kim\nlast\n```"
    for printed, shown in (
        ("measured today, kept 9:30 by kim", "measured today, kept … by kim"),
        ("measured today, kept 9:31 by kim", "measured today, kept … by kim"),
        ("measured then, kept 9:30 by kim", "measured then, kept 9:30 by kim"),
        ("measured today, kept 9:30 by lee", "measured today, kept 9:30 by lee"),
    ):
        (block,) = console.blocks_of(text + "\n")
        block[0].printed = [printed, "last"]
        assert console.rewritten(text + "\n", [block]) == text.replace("measured today, kept … by kim", shown) + "\n"


@pytest.mark.parametrize("document", [d for d in DOCUMENTS if _python_blocks(d)], ids=_name)
def test_python_in_documents_runs(document: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The python blocks of a page run one after the other, as a reader would run them."""
    console.like_a_clone(tmp_path)
    monkeypatch.chdir(tmp_path)
    space: dict[str, object] = {"__name__": "document"}
    for block in _python_blocks(document):
        exec(compile(block, str(document), "exec"), space)


def test_the_wiring_shown_is_a_wiring() -> None:
    """The wiring that docs/recordings.md shows can be read, and shows every key there is but the sensor's."""
    page = CLONE / "docs" / "recordings.md"
    (block,) = re.findall(r"^```toml\n(.*?)^```$", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    wiring = wiring_from(block, str(page))
    assert {wire.signal for wire in wiring.wires} == {"led", "cc", "y", "o", "fan", "alm"}
    for key in ("clock_error", "skew", "least_pulse", "rows", *Wire.__annotations__):
        shown = key in {"channel", "at", "scale", "offset", *OF_SENSORS}
        assert shown or re.search(rf"^{key} = ", block, re.MULTILINE)


OF_SENSORS = ("resolution", "curve", "curve_tolerance", "leads", "divider")


def test_the_files_shown_for_sensors_are_what_they_say() -> None:
    """The curve and the wiring that docs/sensors.md shows can be read; the wiring has every key of a sensor's."""
    page = CLONE / "docs" / "sensors.md"
    curve, part, wiring = re.findall(r"^```toml\n(.*?)^```$", page.read_text("utf-8"), re.MULTILINE | re.DOTALL)
    assert curve_from(curve, str(page)).ohms(Fraction(25)) == 8000
    assert tomllib.loads(part)["inputs"]["coil"]["curve"] == "ntc-10k"
    (wire,) = wiring_from(wiring, str(page)).wires
    assert wire.divider is not None
    for key in OF_SENSORS:
        assert re.search(rf"^{key} = ", wiring, re.MULTILINE)


# -- set-up --------------------------------------------------------------------------------------------------------


def _set_up(name: str) -> str:
    found = re.findall(
        rf"<!-- set-up: {name} -->\n```sh\n(.*?)```", (CLONE / "README.md").read_text("utf-8"), re.DOTALL
    )
    assert len(found) == 1
    return str(found[0]).strip()


def test_setting_up_takes_one_line_each() -> None:
    """The README sets up in two lines, one for use and one for the tests, each from nothing."""
    for name in ("demo", "tests"):
        command = _set_up(name)
        assert "\n" not in command
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert _set_up("demo").endswith(" && .venv/bin/boardgauge demo")
    assert _set_up("tests").endswith(" && .venv/bin/pytest -n auto")


def test_what_the_readme_installs_exists() -> None:
    """The extras and the program that the README names are those of pyproject.toml."""
    project = tomllib.loads((CLONE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = {extra for text in re.findall(r'"\.\[(.*?)\]"', _set_up("tests")) for extra in text.split(",")}
    assert extras
    assert extras <= set(project["optional-dependencies"])
    assert "boardgauge" in project["scripts"]


def test_the_readmes_tests_are_those_of_ci() -> None:
    """.ci/run takes its set-up and test commands out of the README and has none of its own."""
    script = (CLONE / ".ci" / "run").read_text(encoding="utf-8")
    assert "<!-- set-up: tests -->" in script
    assert 'bash -euo pipefail -c "$readme_commands"' in script
    assert os.access(CLONE / ".ci" / "run", os.X_OK)


# -- paths and words -----------------------------------------------------------------------------------------------

_PATH = re.compile(r"[\w.-]+(?:/[\w.-]+)*(?:/|\.(?:py|md|toml|lark|json|svg|vcd|csv))|\.ci/run")
_TOP = ("spec/", "reference/", "conformance/", "docs/", "tests/", ".ci/")


def _paths(document: Path) -> list[str]:
    quoted = [text for text in re.findall(r"`([^`\n]+)`", _prose(document)) if _PATH.fullmatch(text)]
    links = [text for text in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", _prose(document)) if ":" not in text]
    return [*quoted, *links]


@pytest.mark.parametrize("document", [*DOCUMENTS, CLAUSES], ids=_name)
def test_paths_in_documents_exist(document: Path) -> None:
    """A path in a document is one from the clone, from beside the document, or the end of exactly such a path."""
    known = {_name(path) for path in FILES}
    known |= {f"{folder}/" for path in known for folder in map(str, Path(path).parents)}
    examples = {"file.toml", "run.plan.toml"}  # a slug; what a run on the bench leaves
    missing = [
        path
        for path in _paths(document)
        if path not in examples
        and not (document.parent / path).exists()
        and not any(there == path or there.endswith(f"/{path}") for there in known)
    ]
    assert missing == []


def test_paths_are_looked_for() -> None:
    """The search finds the kinds of path that the documents have."""
    found = _paths(CLONE / "DEVELOPERS.md")
    assert {"keys.py", "spec/boardgauge/language/clauses.md", "tests/machine/", "docs/architecture.md"} <= set(found)
    assert any(path.startswith(_TOP) for path in found)


def _unwanted() -> tuple[str, ...]:
    # In two parts, so that this file does not hold what it looks for.
    hosts = (("py", "pi"), ("python", "hosted.org"), ("npm", "js.org"), ("crates", ".io"), ("proxy.go", "lang.org"))
    places = (("/wo", "rk/"), ("/tm", "p/"), ("/ro", "ot/"), ("/ho", "me/"))
    return tuple(first + second for first, second in (*hosts, *places))


def test_nothing_names_one_machine_or_registry() -> None:
    """No file of the project names where packages come from, or a folder of the machine it was made on."""
    found = []
    for path in FILES:
        try:
            text = path.read_text(encoding="utf-8").lower()
        except UnicodeDecodeError:
            continue
        found += [f"{_name(path)}: {word}" for word in _unwanted() if word in text]
    assert found == []


_HOW_IT_WAS_WORKED_OUT = (
    "busy machine", "shared machine", "busy with other things", "others used as well", "still being mended",
    "before the last changes", "broken off there", "package registry", "another registry",
)  # fmt: skip


def test_figures_are_told_without_what_else_went_on() -> None:
    """A page says what was measured, with what and when; what else a machine did meanwhile is no fact of the tool."""
    found = []
    for path in DOCUMENTS:
        text = " ".join(path.read_text(encoding="utf-8").split())
        found += [f"{_name(path)}: {phrase}" for phrase in _HOW_IT_WAS_WORKED_OUT if phrase in text]
    assert found == []


def test_every_page_is_in_the_contents() -> None:
    """No page of the documentation is unreachable from its contents."""
    index = (CLONE / "docs" / "index.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"^([a-z-]+)$", index, re.MULTILINE))
    pages = {path.stem for path in (CLONE / "docs").glob("*.md")} - {"index"}
    assert pages <= listed
