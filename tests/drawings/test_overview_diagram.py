"""Law: the overview is drawn from the explored machine, says what it leaves out, and fits one page in every format."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from attrs import evolve

from boardgauge.drawings import draw, render
from boardgauge.drawings.edge_words import edge_lines, told_ways
from boardgauge.drawings.frame import widen
from boardgauge.drawings.frame_label import free_names
from boardgauge.drawings.overview import from_anywhere, overview_diagram, state_lines, state_names
from boardgauge.drawings.page import PAPERS, Graph, Words, print_scale
from boardgauge.drawings.rendering import to_svg
from boardgauge.language import Board, read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.operating import OperatingState, Overview, overview
from boardgauge.machine.table import Machine
from sheets.sheet_helpers import BOARDS, board_of, study_of


def _backwards(board: Board) -> Board:
    """Give the board with every table declared the other way round."""
    turned = {
        name: dict(reversed(list(getattr(board, name).items())))
        for name in ("inputs", "conditions", "rules", "outputs", "requirements", "speed_ups", "settings")
    }
    return evolve(board, **turned)  # type: ignore[arg-type]  # each table keeps its own type


@pytest.fixture(scope="module")
def board() -> Board:
    return read_board(Path(str(files("boardgauge.boards") / "tarnbeck.toml")))


@pytest.fixture(scope="module")
def seen(board: Board) -> Overview:
    return overview(compile_board(board))


def test_the_states_are_those_a_technician_knows(seen: Overview) -> None:
    """Off, standby, waiting, running, defrost, the soft lockout and the two hard ones; nothing else."""
    assert set(state_names(seen)) == {
        "power off",
        "standby",
        "call present, waiting",
        "compressor running",
        "defrost",
        "high-pressure soft lockout",
        "high-pressure hard lockout",
        "low-pressure hard lockout",
    }


def test_edges_are_said_with_cause_guard_and_clause(seen: Overview) -> None:
    """In trade words, the window and the clause included."""
    names = state_names(seen)
    said = {(names[edge.source], names[edge.target]): list(edge_lines(seen.machine, seen, edge)) for edge in seen.edges}
    assert said["compressor running", "high-pressure hard lockout"] == [
        "high-pressure switch opens\n[the 3rd of hp trips] § 4.3"
    ]
    assert (
        "• restart delay over, 42.9 to 47.1 s\n[high-pressure switch closed] § 2.4"
        in (said["call present, waiting", "compressor running"])
    )
    assert said["standby", "call present, waiting"] == ["compressor call begins\n[otherwise]"]
    assert ("low-pressure hard lockout", "standby") not in said


def test_what_leads_to_one_state_from_most_is_drawn_once(seen: Overview) -> None:
    """The end of the call leads to standby from all but the hard lockouts."""
    names = state_names(seen)
    (one,) = from_anywhere(seen)
    assert names[one.target] == "standby"
    assert {names[number] for number in one.but} == {"high-pressure hard lockout", "low-pressure hard lockout"}


def test_the_order_of_declaration_does_not_matter(board: Board, seen: Overview) -> None:
    """The same board declared the other way round gives the same graph."""
    assert overview_diagram(overview(compile_board(_backwards(board)))).dot == overview_diagram(seen).dot


def test_an_incomplete_exploration_says_so(board: Board) -> None:
    """No picture passes for the whole when a bound was hit."""
    caption = overview_diagram(overview(compile_board(board), limit=40)).caption
    assert any("NOT COMPLETE" in line for line in caption)


@pytest.mark.parametrize("format", ["svg", "png", "pdf", "dot"])
def test_every_format_renders_alike_each_time(board: Board, seen: Overview, format: str) -> None:
    """The same picture gives the same bytes."""
    begins = {"svg": b"<svg", "png": b"\x89PNG", "pdf": b"%PDF", "dot": b"digraph"}
    picture = overview_diagram(seen)
    made = render(picture, board, format)  # type: ignore[arg-type]  # the parameters are formats
    assert made.startswith(begins[format])
    assert made == render(picture, board, format)  # type: ignore[arg-type]


def test_rendering_needs_no_installed_graphviz(board: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a native `dot` the layout runs all the same."""
    monkeypatch.setattr("shutil.which", lambda name: None)
    to_svg.cache_clear()
    assert draw(board, "restart_delay", "svg").startswith(b"<svg")


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_print_is_large_enough_to_read(seen: Overview, paper: str) -> None:
    """On either paper the letters of the overview print at 6 points or more."""
    picture = overview_diagram(seen)
    words = Words(picture.title, picture.caption, "footer")
    graphs = [Graph.of(to_svg(dot)) for dot in (picture.dot, *picture.wrapped_otherwise)]
    assert max(print_scale(graph, words, paper) for graph in graphs) * 11 >= 6  # type: ignore[arg-type]


def test_drawings_are_black_and_white(seen: Overview) -> None:
    """Black, white, transparent and one light grey, nothing else."""
    svg = to_svg(overview_diagram(seen).dot)
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', svg)) <= {"black", "white", "none", "transparent", "#e6e6e6"}


def test_a_frame_is_widened_until_no_label_lies_across_it() -> None:
    """The side moves out past the label, the rest of the drawing stays."""
    svg = (
        '<g id="clust1" class="cluster"><path fill="none" d="M10,-5C5,-5 100,-5 100,-50 100,-90 5,-90 5,-5"/></g>'
        '<text text-anchor="middle" x="98" y="-40" font-size="10.00">a long label here</text>'
    )
    wide, extent = widen(svg)
    assert extent is not None
    assert extent.right > 98 + 17 * 10 * 0.48 / 2
    assert extent.left == 5
    assert 'x="98"' in wide


def _framed(*edges: str, name: str = "power on") -> str:
    frame = '<path fill="none" d="M0,-100C0,-100 200,-100 200,-100 200,-100 200,0 200,0 200,0 0,0 0,0"/>'
    text = f'<text text-anchor="middle" x="30.00" y="-86" font-size="10.00">{name}</text>'
    arrows = "".join(f'<g id="edge{n}" class="edge"><path d="{d}"/></g>' for n, d in enumerate(edges))
    return f'<g id="clust1" class="cluster">{frame}{text}</g>{arrows}'


def _name_at(svg: str) -> tuple[float, float]:
    middle = float(re.findall(r' x="([-0-9.]+)"', svg)[0])
    half = len("power on") * 0.48 * 10 / 2
    return middle - half, middle + half


def test_a_name_that_nothing_crosses_stays() -> None:
    """Arrows beside the name, above its band or below it, are no reason to move it."""
    svg = _framed("M90,-120C90,-110 90,-60 90,-40", "M20,-130C30,-120 40,-110 50,-104", "M0,-60C10,-60 90,-60 99,-60")
    assert free_names(svg) == svg


def test_the_name_of_a_frame_gives_way_to_arrows() -> None:
    """It moves along its side to the nearest place to its corner with no arrow in it, round a bend too."""
    start, end = _name_at(free_names(_framed("M25,-120C25,-110 25,-60 25,-40")))
    assert 25 < start < 35
    assert end < 200
    start, _ = _name_at(free_names(_framed("M25,-120C25,-110 25,-60 25,-40", "M10,-120C10,-60 130,-120 130,-40")))
    assert start > 100


def test_a_name_with_nowhere_to_go_stays() -> None:
    """Where the arrows leave it no room, the name stays at its corner."""
    svg = _framed(*(f"M{x},-120C{x},-110 {x},-60 {x},-40" for x in range(5, 200, 20)))
    assert free_names(svg) == svg


def test_no_arrow_runs_through_the_name_of_a_frame(seen: Overview) -> None:
    """In a drawing as it is printed, what stands in the frame's corner can be read."""
    drawn = free_names(to_svg(overview_diagram(seen).dot))
    assert free_names(drawn) == drawn


def test_all_gives_every_drawing_by_name(board: Board) -> None:
    """Overview first, then the rules and the outputs that keep something."""
    made = draw(board, "all", "dot")
    assert list(made) == ["overview", *board.rules, "cc"]


def _lines(values: dict[str, bool | tuple[int, bool] | None], machine: Machine) -> list[str]:
    outputs = tuple((name, values.get(name, False)) for name in machine.board.outputs)
    return list(state_lines(machine, OperatingState(1, True, outputs, (), (), (), (), 1)))


def test_what_is_off_is_told_of_outputs_that_are_known_to_be_off(seen: Overview) -> None:
    """All, all others, none of those told apart; and nothing where no output is told apart."""
    machine = seen.machine
    names = list(machine.board.outputs)
    cooling = next(level.index for level in machine.levels if level.input == "o")
    valve = {"rv": (cooling, True)}
    assert _lines({}, machine) == ["all outputs off"]
    assert _lines(valve, machine) == ["reversing valve on while cooling on", "all others off"]
    assert _lines({"cc": None}, machine) == ["of the outputs told apart, none on"]
    assert _lines({**valve, "cc": None}, machine)[1:] == ["of the others told apart, none on"]
    assert _lines(dict.fromkeys(names), machine) == []
    assert _lines({**valve, "cc": True}, machine) == ["compressor contactor on", "reversing valve on while cooling on"]


@pytest.mark.parametrize("name", BOARDS)
def test_every_state_of_the_library_tells_of_its_outputs_what_is_so(name: str) -> None:
    """Whatever a box says is off is an output of that state, and it is off."""
    seen = study_of(name).overview
    for state in seen.states:
        said = list(state_lines(seen.machine, state))
        values = [value for _, value in state.outputs]
        assert ("all outputs off" in said) == (set(values) == {False})
        assert ("all others off" not in said) or (None not in values and True not in values)
        assert any("told apart" in line for line in said) <= (False in values and None in values)


def test_a_way_that_another_covers_is_not_told() -> None:
    """A coil that passes both limits at once ends the defrost as one that passes the upper: the one is enough."""
    seen = overview(compile_board(board_of("heat-pump-defrost")))
    (edge,) = (edge for edge in seen.edges if len(edge.ways) == 4)
    lines = [line.replace("\n", " ") for line in edge_lines(seen.machine, seen, edge)]
    assert [line for line in lines if "14" in line] == ["• outdoor coil > 14 °C (until < 12 °C) § 2.1"]


@pytest.mark.parametrize("name", ["cold-room", "tarnbeck", "hearthgate"])
def test_what_is_not_told_has_the_causes_of_what_is(name: str) -> None:
    """Every way is told, or holds all that another way of the same arrow takes, and needs no less."""
    seen = overview(compile_board(board_of(name)))
    for edge in seen.edges:
        told = told_ways(edge)
        for way in set(edge.ways) - set(told):
            assert any(
                set(one.step.levels) < set(way.step.levels) and set(one.guard) <= set(way.guard) and one.sure
                for one in told
            )
