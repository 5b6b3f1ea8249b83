"""The mutation score: of small wrong changes of the engine, how many the suite of cases and the quick tests notice.

Law of this module: the tree is not touched; each mutant stands in a scratch copy, alone, and runs in a process of its
own. A mutant is *killed* by the suite if a case fails, breaks or runs out of time; by the tests, if a test does. One
that nothing notices *survived*, and is printed with its line, to be read. Run it:

    python tests/mutation/score.py --sample 150 --seed 1          # a third of each area
    python tests/mutation/score.py --areas judge --sample 50 --no-tests
    python tests/mutation/score.py --only judging/due.py:41       # all mutants of a line
    python tests/mutation/score.py --again log.jsonl              # what survived in a log of --json

It takes some seconds of one core a mutant, and is not part of what runs on every change.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from attrs import frozen

sys.path.insert(0, str(Path(__file__).parents[1]))
from mutation.operators import Mutant, mutants

ROOT = Path(__file__).parents[2]
LANGUAGE = "spec/boardgauge/language"
MACHINE = "reference/boardgauge/machine"
JUDGE = "conformance/boardgauge/judging"
AREAS = {
    "language": [f"{LANGUAGE}/{n}.py" for n in ("expressions", "expression_reader", "quantities", "quantity_reader",
                                                "units", "tolerances", "pattern_reader", "given", "circles",
                                                "propositions", "happenings", "scope", "variants")],
    "machine": [f"{MACHINE}/{n}.py" for n in ("settle", "moves", "picture", "logic", "timekeeper", "stopwatch",
                                              "board_time", "inputs", "compile", "causes", "settings", "terminals",
                                              "lamp_wave")],
    "judge": [f"{JUDGE}/{n}.py" for n in ("tracker", "fire", "deadlines", "filtering", "taking_in", "due", "hypothesis",
                                          "limits", "actions", "steps", "clocks", "first", "unknown", "run",
                                          "evidence", "judge", "explain", "ways", "responsible", "resting",
                                          "arranging", "pool", "agreement", "answers", "flicker", "instants", "levels",
                                          "showing", "spans", "symbols", "turns", "under_way", "unpowered")],
}  # fmt: skip
"""What decides: the rest draws, writes and explains."""
TESTS = {
    "language": ["tests/language"],
    "machine": ["tests/machine", "tests/published", "tests/judging/test_laying_out.py",
                "tests/oracle/test_against_grid.py", "tests/oracle/test_against_smt.py",
                "tests/oracle/test_stopwatch_adds_up.py", "tests/oracle/test_moves_of_the_table.py"],
    "judge": ["tests/oracle/test_spoilt_cases.py",
              "tests/judging/test_wrong_boards.py", "tests/judging/test_resting_states.py",
              "tests/judging/test_more_uncertainty.py", "tests/judging/test_shared_clock.py",
              "tests/judging/test_kept_without_power.py", "tests/judging/test_found_on_benches.py",
              "tests/judging/test_what_is_not_shown.py", "tests/judging/test_without_power.py",
              "tests/judging/test_lamp_coverage.py", "tests/judging/test_laying_out.py",
              "tests/judging/test_specs_that_do_not_settle.py", "tests/judging/test_first_verdicts.py",
              "tests/judging/test_flicker.py", "tests/judging/test_flicker_of_inputs.py",
              "tests/judging/test_supply_not_seen.py", "tests/judging/test_under_way.py",
              "tests/judging/test_small_boards.py", "tests/judging/test_what_a_deviation_says.py",
              "tests/oracle/test_found_by_the_oracle.py",
              "tests/published"],
}  # fmt: skip
SUITE = """
import sys, boardgauge.{package} as mutated
assert mutated.__file__.startswith({copy!r}), mutated.__file__
from boardgauge.cases import Ours, all_cases, run_case
for case in all_cases():
    if not run_case(case, Ours()).good:
        sys.exit("killed by " + case.name)
"""
LONGEST = 180
"""Seconds of a core, not of the clock: what a mutant comes to must not hang on what else the machine does."""


@frozen
class Fate:
    """What became of a mutant: ``by`` is the case or the tests that noticed it, empty if nothing did."""

    area: str
    file: str
    mutant: Mutant
    by: str

    @property
    def how(self) -> str:
        """Give ``suite``, ``tests`` or ``survived``."""
        return "survived" if not self.by else "tests" if self.by.startswith("tests") else "suite"


def main() -> int:
    """Draw a sample, try each, print the score."""
    asked = argparse.ArgumentParser(description="Mutation score of the suite and the quick tests.")
    asked.add_argument("--areas", nargs="+", choices=list(AREAS), default=list(AREAS))
    asked.add_argument("--sample", type=int, default=150, help="so many mutants, as many of each area")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", metavar="FILE[:LINE]", help="all mutants of a file, or of one of its lines")
    asked.add_argument("--again", type=Path, metavar="LOG", help="those that survived in a log of --json")
    asked.add_argument("--no-tests", action="store_true", help="the suite alone")
    asked.add_argument("--json", type=Path, help="write each mutant's fate here as well, a line each")
    given = asked.parse_args()
    if given.again is not None:
        rows = [json.loads(line) for line in given.again.read_text(encoding="utf-8").splitlines()]
        wanted = {(row["file"], row["change"]) for row in rows if row["how"] == "survived"}
        pool = [row for row in every(given.areas) if (row[1], str(row[2])) in wanted]
    elif given.only is not None:
        name, _, line = given.only.partition(":")
        pool = [row for row in every(given.areas, name) if not line or row[2].line == int(line)]
    else:
        pool = sample(given.areas, given.sample, given.seed)
    if not pool:
        print("there is no such mutant", file=sys.stderr)
        return 2
    fates = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "tree"
        for part in ("spec", "reference", "conformance", "tests", "docs", "pyproject.toml", "README.md"):
            source = ROOT / part
            if source.is_dir():
                shutil.copytree(source, copy / part, ignore=shutil.ignore_patterns("__pycache__", "_build", ".*"))
            else:
                shutil.copy(source, copy / part)
        for number, (area, file, mutant) in enumerate(pool, 1):
            fates.append(fate(copy, area, file, mutant, not given.no_tests))
            print(
                f"{number:4}/{len(pool)} {fates[-1].how:9}{file.split('/', 2)[2]} {mutant}  {fates[-1].by}", flush=True
            )
            if given.json is not None:
                with given.json.open("a", encoding="utf-8") as log:
                    row = {"how": fates[-1].how, "by": fates[-1].by, "file": file, "change": str(mutant)}
                    log.write(json.dumps(row) + "\n")
    print(summary(fates))
    return 0


def every(areas: Sequence[str], name: str = "") -> list[tuple[str, str, Mutant]]:
    """Give every mutant of these areas, with its area and file; ``name`` is the end of the files asked for."""
    return [
        (area, file, mutant)
        for area in areas
        for file in AREAS[area]
        if file.endswith(name)
        for mutant in mutants((ROOT / file).read_text(encoding="utf-8"))
    ]


def sample(areas: Sequence[str], size: int, seed: int) -> list[tuple[str, str, Mutant]]:
    """Draw the mutants to try: the same for the same seed and the same code."""
    found = []
    for area in areas:
        pool = every([area])
        drawn = random.Random(f"{seed} {area}").sample(pool, min(size // len(areas), len(pool)))
        found += sorted(drawn, key=lambda row: (row[1], row[2].line, str(row[2])))
    return found


def fate(copy: Path, area: str, file: str, mutant: Mutant, with_tests: bool) -> Fate:
    """Try one mutant in the copy, and put the file back."""
    target = copy / file
    original = target.read_text(encoding="utf-8")
    target.write_text(mutant.text, encoding="utf-8")
    try:
        by = _suite(copy, file)
        if not by and with_tests:
            by = _tests(copy, area)
        return Fate(area, file, mutant, by)
    finally:
        target.write_text(original, encoding="utf-8")


def _environment(copy: Path) -> dict[str, str]:
    paths = os.pathsep.join(str(copy / part) for part in ("spec", "reference", "conformance"))
    return {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1", "CI": "true", "PYTHONHASHSEED": "0"}


def _run(command: list[str], copy: Path) -> tuple[int, str]:
    try:
        done = subprocess.run(command, cwd=copy, env=_environment(copy), capture_output=True, text=True,
                              timeout=20 * LONGEST, check=False,
                              preexec_fn=_limited if os.name == "posix" else None)  # fmt: skip
    except subprocess.TimeoutExpired:
        return 1, "no end"
    if os.name == "posix" and done.returncode == -signal.SIGXCPU:
        return 1, f"no end after {LONGEST} s"
    return done.returncode, (done.stderr.strip() or done.stdout.strip())[-400:]


def _limited() -> None:
    import resource  # there is none on Windows

    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, 2 * LONGEST))


def _suite(copy: Path, file: str) -> str:
    package = file.removesuffix(".py").split("boardgauge/")[1].replace("/", ".")
    status, said = _run([sys.executable, "-c", SUITE.format(package=package, copy=str(copy))], copy)
    return said.splitlines()[-1].removeprefix("killed by ") if status else ""


def _tests(copy: Path, area: str) -> str:
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-q",
        "-n",
        "0",
        "-p",
        "no:cacheprovider",
        "--no-header",
        "--tb=no",
    ]
    status, said = _run([*command, *TESTS[area]], copy)
    failed = [line for line in said.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return f"tests: {failed[0] if failed else said.splitlines()[-1]}" if status else ""


def summary(fates: list[Fate]) -> str:
    """Give the score, area by area, and the survivors."""
    lines = [f"{'area':10}{'mutants':>8}{'suite':>8}{'tests':>8}{'survived':>10}{'suite alone':>13}{'both':>8}"]
    for area in (*dict.fromkeys(f.area for f in fates), "all"):
        mine = [f for f in fates if area in (f.area, "all")]
        counts = Counter(f.how for f in mine)
        alone, both = counts["suite"] / len(mine), 1 - counts["survived"] / len(mine)
        lines.append(
            f"{area:10}{len(mine):8}{counts['suite']:8}{counts['tests']:8}{counts['survived']:10}"
            f"{alone:13.0%}{both:8.0%}"
        )
    lines += [f"survived: {f.file.split('/', 2)[2]} {f.mutant}" for f in fates if f.how == "survived"]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
