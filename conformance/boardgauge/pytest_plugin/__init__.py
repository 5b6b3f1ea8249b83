"""The pytest plugin: a marker that names a spec and a firmware, and fixtures by which a test tries one by the other.

Law of this module: a run of pytest that does not use it pays nothing. Only pytest itself is imported here; everything
else is imported when a test asks for a fixture, or carries the marker.

::

    @pytest.mark.board_spec("extract-fan", firmware="build/fan.so")
    def test_it_rests(firmware_bench):
        firmware_bench.power()
        firmware_bench.set(light="on")
        assert firmware_bench.wait_for("fan")
        # judged at the end of the test, unless it was checked meanwhile

    @pytest.mark.board_spec("extract-fan", firmware="build/fan.so", plan="fan-plan.toml", scenarios="scenarios/*.toml")
    def test_plan(firmware_bench, bench_case):
        firmware_bench.carry_out(bench_case)
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from boardgauge.firmware import FirmwareBench
    from boardgauge.language.model import Board
    from boardgauge.rigs.rig import Rig

MARKER = "board_spec"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option that names the firmware from outside."""
    group = parser.getgroup("boardgauge", "firmware against a board spec")
    group.addoption("--firmware", metavar="LIBRARY", help="The firmware to try, in place of the marker's own.")


def pytest_configure(config: pytest.Config) -> None:
    """Make the marker known."""
    config.addinivalue_line(
        "markers",
        f"{MARKER}(board, *, firmware=None, rig=None, plan=None, scenarios=None, time_limit='10 s', latency='0 s'): "
        "the spec (a file beside the test, or a board of the library) that the firmware (a shared library) or the rig "
        "(a rig file in virtual time) is judged by. bench_case is each sitting of the plan and each scenario. latency "
        "is how far a moment that the firmware gives may be off: its tick, where the spec is as fine as that.",
    )


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Make one test of each sitting of the plan and of each scenario, where ``bench_case`` is asked for."""
    if "bench_case" not in metafunc.fixturenames:
        return
    mark = metafunc.definition.get_closest_marker(MARKER)
    if mark is None:
        raise pytest.fail.Exception(f"bench_case needs the marker {MARKER}", pytrace=False)
    from boardgauge.pytest_plugin.asked import cases_of

    cases = cases_of(mark, metafunc.definition)
    metafunc.parametrize("bench_case", [case for _, case in cases], ids=[name for name, _ in cases])


@pytest.hookimpl(wrapper=True)
def pytest_pyfunc_call(pyfuncitem: pytest.Function) -> Generator[None, Any, Any]:
    """Judge what a test did to a firmware, at its end: what was not judged cannot pass."""
    result = yield
    bench: Any = getattr(pyfuncitem, "funcargs", {}).get("firmware_bench")
    if bench is not None and not bench.checked:
        __tracebackhide__ = True
        bench.check()
    return result


@pytest.fixture
def spec_board(request: pytest.FixtureRequest) -> Board:
    """The board spec that the marker ``board_spec`` names."""
    from boardgauge.pytest_plugin.asked import board_of

    return board_of(_mark(request), request.node)


@pytest.fixture
def firmware_rig(request: pytest.FixtureRequest, spec_board: Board) -> Iterator[Rig]:
    """The firmware that the marker (or ``--firmware``) names, in a process of its own, ended with the test."""
    from boardgauge.pytest_plugin.asked import open_rig

    with open_rig(_mark(request), request.node, spec_board) as rig:
        yield rig


@pytest.fixture
def firmware_bench(spec_board: Board, firmware_rig: Rig) -> FirmwareBench:
    """The firmware on a bench: drive it, wait, and have it judged."""
    from boardgauge.firmware import FirmwareBench

    return FirmwareBench(spec_board, firmware_rig)


def _mark(request: pytest.FixtureRequest) -> pytest.Mark:
    mark: pytest.Mark | None = request.node.get_closest_marker(MARKER)
    if mark is None:
        raise pytest.fail.Exception(f"{request.fixturename} needs the marker {MARKER}", pytrace=False)
    return mark
