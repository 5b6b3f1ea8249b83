"""Drawings split over pages lose nothing: every state, way and passage of the machine's table is on one of them."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from boardgauge.boards import board_path
from boardgauge.command.drawing import draw_board
from boardgauge.drawings.edge_words import is_rest, told_ways, way_words
from boardgauge.drawings.gallery import NothingToDraw, pages
from boardgauge.drawings.group import group_of, group_pages
from boardgauge.drawings.overview import overview_caption, state_names
from boardgauge.drawings.overview_pages import overview_pages
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.print_pages import LEAST_PRINT, print_pages, printed_size
from boardgauge.drawings.run_path import passages, path_pages, state_of
from boardgauge.drawings.state_diagram import drawable, state_diagram
from boardgauge.drawings.zoom import NoSuchState, state_called, zoomed
from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.explore import explore
from boardgauge.machine.operating import Overview, overview
from boardgauge.machine.run import Run, Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator

S = 1_000_000
BOARDS = ("tarnbeck", "quillmere", "hearthgate")


@cache
def engine_of(name: str) -> Engine:
    return Engine(compile_board(read_board(board_path(name))))


@cache
def seen_of(name: str) -> Overview:
    return overview(engine_of(name).machine)


def words_of(picture: Picture) -> str:
    """Give all the words of a graph in one line, its wrapping undone."""
    return " ".join(picture.dot.replace("\\n", " ").replace("\\l", " ").replace("\u00a0", " ").split())


def arrows_of(picture: Picture) -> set[tuple[str, str]]:
    return set(re.findall(r'^\s*"([^"]*)" -> "([^"]*)"', picture.dot, re.MULTILINE))


@pytest.mark.parametrize("name", BOARDS)
def test_every_reachable_state_is_on_one_page(name: str) -> None:
    """Each configuration that exploring finds has an operating state, and each of those is on exactly one page."""
    engine, seen = engine_of(name), seen_of(name)
    for config in explore(engine.machine).configs:
        state_of(engine, seen, config)
    made = overview_pages(seen)
    names = state_names(seen)
    for state in seen.states:
        drawn = [p for p in made if re.search(rf'^\s*"{state.number}" \[', p.dot, re.MULTILINE)]
        assert len(drawn) == 1
        assert names[state.number] in words_of(drawn[0])


@pytest.mark.parametrize("name", BOARDS)
def test_pages_are_legible(name: str) -> None:
    """No page is printed smaller than the least size."""
    board = engine_of(name).machine.board
    for picture in overview_pages(seen_of(name), "a4"):
        assert printed_size(picture, board, "a4") >= LEAST_PRINT


def test_pages_are_legible_with_the_connectors_that_they_have_at_last() -> None:
    """On nine pages a connector names many more pages than on the two that are tried first."""
    machine = engine_of("hearthgate").machine
    made = overview_pages(overview(machine, most_states=10_000, most_edges=10_000))
    assert len(made) > 5
    assert all(printed_size(picture, machine.board, "letter") >= LEAST_PRINT for picture in made)


def test_the_overview_among_all_drawings_is_split_as_it_is_alone(tmp_path: Path) -> None:
    """On paper ``--what all`` has every drawing, the overview on as many pages as it takes to be legible."""
    board = engine_of("tarnbeck").machine.board
    written = draw_board("tarnbeck", ("all",), str(tmp_path / "all"), "pdf", "letter")
    alone = draw_board("tarnbeck", ("overview",), str(tmp_path / "alone.pdf"), "pdf", "letter")
    assert written[0].read_bytes() == alone[0].read_bytes()
    assert {path.stem for path in written} == {"overview", *drawable(engine_of("tarnbeck").machine)}
    assert board.rules.keys() - {path.stem for path in written} == set()


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate", "sump-pumps"])
def test_otherwise_is_all_that_the_other_guards_leave(name: str) -> None:
    """It stands only where the cause always leads out of the state; what is told by "…" is explained below."""
    seen = seen_of(name)
    moves: dict[tuple[int, object], set[int]] = {}
    found = explore(seen.machine)
    engine = engine_of(name)
    number = [state_of(engine, seen, config) for config in found.configs]
    for edge in found.edges:
        moves.setdefault((number[edge.source], edge.step), set()).add(number[edge.target])
    open_ended = False
    for edge in seen.edges:
        for way in edge.ways:
            said = way_words(seen.machine, way, is_rest(seen, edge, way))
            open_ended |= "…" in said
            if "otherwise" in said and not way.step.power:
                assert edge.source not in moves[edge.source, way.step]
    assert open_ended == any(line.startswith("…") for line in overview_caption(seen))


def test_a_condition_of_four_parts_is_told_whole() -> None:
    """The burner's way to lighting has four conditions; none of them is left to three dots."""
    seen = seen_of("hearthgate")
    said = [way_words(seen.machine, way, is_rest(seen, edge, way)) for edge in seen.edges for way in edge.ways]
    assert any(one.split("[")[-1].count(",") == 3 for one in said if one.startswith("power comes on ["))
    assert not any("…" in one for one in said)


@pytest.mark.parametrize("name", ["tarnbeck", "quillmere"])
def test_every_arrow_is_on_a_page_or_goes_to_a_connector_that_is_met_again(name: str) -> None:
    """Each edge of the overview between powered states is drawn once; a connector is met again where it leads to."""
    seen = seen_of(name)
    made = overview_pages(seen)
    assert len(made) > 1
    arrows = [arrow for picture in made for arrow in arrows_of(picture)]
    for edge in seen.edges:
        if seen.states[edge.target].powered:
            inside = arrows.count((str(edge.source), str(edge.target)))
            crossing = (str(edge.source), f"to {edge.target} from {edge.source}")
            assert inside + arrows.count(crossing) == 1
            if crossing in arrows:
                assert (f"from {edge.target}", str(edge.target)) in arrows


@pytest.mark.parametrize("name", BOARDS)
def test_a_zoomed_state_has_every_way_in_and_out(name: str) -> None:
    """Each way of each edge from or to the state is written out."""
    seen = seen_of(name)
    for state in seen.states:
        said = " ".join(words_of(picture) for picture in zoomed(seen, state.number, None))
        for edge in seen.edges:
            if state.number in {edge.source, edge.target}:
                for way in told_ways(edge):
                    words = " ".join(way_words(seen.machine, way, is_rest(seen, edge, way)).split())
                    assert words.replace("\u00a0", " ").replace('"', '\\"') in said


def test_a_state_is_found_by_its_name() -> None:
    seen = seen_of("quillmere")
    assert state_names(seen)[state_called(seen, "Defrost")] == "defrost"
    with pytest.raises(NoSuchState, match='did you mean "defrost"'):
        state_called(seen, "defrot")


@pytest.mark.parametrize("name", BOARDS)
def test_a_group_has_the_moves_of_its_rules(name: str) -> None:
    """Every arrow of each rule's own diagram is in the group's picture, and nothing else is."""
    machine = engine_of(name).machine
    rules = group_of(machine, "lockouts")
    assert rules
    (picture,) = group_pages(machine, "lockouts", rules, None)
    own = {
        (f"{number}: {a}", f"{number}: {b}")
        for number, rule in enumerate(rules)
        for a, b in arrows_of(state_diagram(machine, rule))
    }
    assert arrows_of(picture) == own


def test_what_may_be_a_rule_several_or_a_group() -> None:
    machine = engine_of("tarnbeck").machine
    assert pages(machine, "defrost")[0].dot == state_diagram(machine, "defrost").dot
    (both,) = pages(machine, "hp_wait, hp_trips", None)
    assert both.dot.count("subgraph cluster_region") == 2
    with pytest.raises(NothingToDraw, match='did you mean "lockouts"'):
        pages(machine, "lockout")
    with pytest.raises(NothingToDraw, match="no toggles"):
        pages(machine, "toggles")


@cache
def a_run() -> Run:
    inputs: dict[str, tuple[tuple[int, bool], ...]] = {
        "power": ((S, True), (200 * S, False)),
        "y": ((11 * S, True), (149 * S, False)),
        "hps": ((0, True), (71 * S, False), (79 * S, True)),
        "lps": ((0, True),),
    }
    engine = engine_of("tarnbeck")
    return Simulator(engine.machine, engine=engine).run(Timeline(inputs, 209 * S))


@pytest.mark.parametrize("paper", [None, "letter"])
def test_the_arrows_of_a_path_are_those_of_the_run(paper: None) -> None:
    """The thick arrows, by their numbers, are the passages between the operating states of the run, in order."""
    engine, seen, run = engine_of("tarnbeck"), seen_of("tarnbeck"), a_run()
    states = [state_of(engine, seen, engine.off()), *(state_of(engine, seen, entry.config) for entry in run.story)]
    meant = [(a, b) for a, b in pairwise(states) if a != b]
    taken = passages(engine, seen, run)
    assert [(one.source, one.target) for one in taken] == meant
    thick = [
        line
        for picture in path_pages(engine, seen, run, "a call", None, paper)
        for line in picture.dot.splitlines()
        if "penwidth=" in line and "->" in line and '"2.6"' in line and "\u00a0(" in line
    ]
    numbers = sorted(int(n) for line in thick for n in re.findall(r"\d+", re.findall(r"\u00a0\(([\d, ]+)\)", line)[0]))
    assert numbers == [one.number for one in taken]


def test_pages_of_a_pdf_are_one_file_and_pictures_one_each() -> None:
    made = overview_pages(seen_of("tarnbeck"))
    board = engine_of("tarnbeck").machine.board
    (pdf,) = print_pages(made, board, "pdf", "letter")
    assert pdf.startswith(b"%PDF")
    assert len(print_pages(made, board, "svg", "letter")) == len(made)
