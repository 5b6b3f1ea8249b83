"""The directives: each finds its spec, makes its sheet and gives it as nodes.

Law of this module: what is wrong is told at the directive's line of the document, with the spec's own places.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives

from boardgauge.boards import UnknownBoard, board_path
from boardgauge.drawings.gallery import NothingToDraw
from boardgauge.language import UnusableSpec, read_board
from boardgauge.language.problems import nearest_of
from boardgauge.sheets.blocks import Block, Sheet, Steps, Table
from boardgauge.sheets.board_list import board_list
from boardgauge.sheets.cautions import cautions
from boardgauge.sheets.contents import KINDS, make
from boardgauge.sheets.pictures import figure_of
from boardgauge.sheets.reader_units import UNITS, in_degrees
from boardgauge.sheets.study import Study
from boardgauge.sphinx.from_blocks import from_block
from sphinx.util.docutils import SphinxDirective

_SHEETS = [name for name, kind in KINDS.items() if kind.form == "table"]


class _OfSpecs(SphinxDirective):
    """What all directives share: finding a spec, and errors at their place."""

    def study_of(self, given: str, degrees: Any = None) -> Study:
        """Give what there is of a spec; an error at this place where it cannot be used."""
        path = self._path(given)
        for one in _with_bases(path):
            self.env.note_dependency(str(one))
        try:
            return _study(path, read_board(path).digest, degrees)
        except UnusableSpec as error:
            raise self.error(f"{path.name} cannot be used:\n{error}") from None

    def placed(self, blocks: Iterable[Block]) -> list[nodes.Node]:
        """Give the nodes of blocks, each with its place in the document."""
        made = [node for block in blocks for node in from_block(block)]
        for node in made:
            self.set_source_info(node)
        return made

    def _path(self, given: str) -> Path:
        path = Path(self.env.relfn2path(given, self.env.docname)[1])
        if path.is_file():
            return path
        try:
            return board_path(given)
        except UnknownBoard as error:
            raise self.error(f"there is no spec {given!r} beside this document, and {error}") from None


class ListDirective(_OfSpecs):
    """``boardgauge-list``: what boards are, a row each; the content names them, a line each."""

    has_content = True

    def run(self) -> list[nodes.Node]:
        names = [line.strip() for line in self.content if line.strip()]
        if not names:
            raise self.error("a list of boards names them, a line each")
        return self.placed([board_list([self.study_of(name) for name in names])])


class _OfABoard(_OfSpecs):
    """What the directives of one board share: the spec as argument, and its units."""

    required_arguments = 1
    final_argument_whitespace = True
    option_spec: ClassVar[dict[str, Any]] = {"units": directives.unchanged_required}

    def run(self) -> list[nodes.Node]:
        return self.placed(self.blocks(self.study_of(self.arguments[0].strip(), self._degrees())))

    def blocks(self, study: Study) -> Iterable[Block]:
        raise NotImplementedError

    def _degrees(self) -> Any:
        given = self.options.get("units") or self.config.boardgauge_units
        if given is not None and given not in UNITS:
            raise self.error(f"units {given!r}: expected {' or '.join(UNITS)}")
        return given

    def named(self, given: str, known: Iterable[str], what: str) -> str:
        """Give a name that there is; an error with the nearest one for any other."""
        known = list(known)
        if given in known:
            return given
        near = nearest_of(given, known)
        hint = f"; did you mean {near!r}?" if near else f"; there are {', '.join(known)}"
        raise self.error(f"there is no {what} {given!r}{hint}")


class DrawingDirective(_OfABoard):
    """``boardgauge-drawing``: the overview, or the diagram of a rule or output."""

    option_spec: ClassVar[dict[str, Any]] = {**_OfABoard.option_spec, "what": directives.unchanged_required}

    def blocks(self, study: Study) -> Iterable[Block]:
        try:
            return [figure_of(study, self.options.get("what", "overview"))]
        except NothingToDraw as error:
            raise self.error(str(error)) from None


class TableDirective(_OfABoard):
    """``boardgauge-table``: the tables of one sheet, or one of them."""

    option_spec: ClassVar[dict[str, Any]] = {
        **_OfABoard.option_spec,
        "what": directives.unchanged_required,
        "only": directives.unchanged_required,
    }
    default = "timings"

    def blocks(self, study: Study) -> Iterable[Block]:
        sheet = make(study, self.named(self.options.get("what", self.default), _SHEETS, "sheet of tables"))
        only = self.options.get("only")
        if only is None:
            return sheet.blocks
        name = self.named(only, [table.id for table in sheet.tables()], "table")
        return [block for block in sheet.blocks if isinstance(block, Table) and block.id == name]


class CardDirective(_OfABoard):
    """``boardgauge-card``: the lamp card, or that of one lamp."""

    option_spec: ClassVar[dict[str, Any]] = {**_OfABoard.option_spec, "only": directives.unchanged_required}

    def blocks(self, study: Study) -> Iterable[Block]:
        sheet = make(study, "lamps")
        only = self.options.get("only")
        if only is None:
            return sheet.blocks
        lamp = self.named(only, study.board.lamps, "lamp")
        return [table for table in sheet.tables() if table.id in {f"{lamp}-lines", f"{lamp}-alike"}]


class SequenceDirective(_OfABoard):
    """``boardgauge-sequence``: the sequence of operation, or one of its sequences."""

    option_spec: ClassVar[dict[str, Any]] = {**_OfABoard.option_spec, "only": directives.positive_int}

    def blocks(self, study: Study) -> Iterable[Block]:
        sheet = make(study, "sequence")
        only = self.options.get("only")
        if only is None:
            return sheet.blocks
        told = list(_sequences(sheet))
        if only > len(told):
            raise self.error(f"there are {len(told)} sequences, no number {only}")
        return told[only - 1]


class CautionsDirective(_OfABoard):
    """``boardgauge-cautions``: what can hurt a person who works on the board."""

    def blocks(self, study: Study) -> Iterable[Block]:
        return [cautions(study.board)]


def _sequences(sheet: Sheet) -> Iterator[list[Block]]:
    """Give each numbered sequence with its title and what stands between."""
    found: list[list[Block]] = []
    for block in sheet.blocks:
        if getattr(block, "title", ""):
            found.append([])
        if found:
            found[-1].append(block)
    yield from (blocks for blocks in found if any(isinstance(block, Steps) for block in blocks))


def _with_bases(path: Path) -> Iterator[Path]:
    """Give a spec and every spec that it is a variant of."""
    seen: set[Path] = set()
    while path not in seen and path.is_file():
        seen.add(path)
        yield path
        try:
            base = tomllib.loads(path.read_text(encoding="utf-8")).get("base")
        except (tomllib.TOMLDecodeError, UnicodeDecodeError):
            return
        if not isinstance(base, str):
            return
        path = path.with_name(base)


@lru_cache(maxsize=4)
def _study(path: Path, digest: str, degrees: Any) -> Study:
    """Give what is worked out of a spec, once for all directives of a build; the digest tells one text from another."""
    return Study(in_degrees(read_board(path), degrees))


DIRECTIVES: dict[str, type[SphinxDirective]] = {
    "boardgauge-drawing": DrawingDirective,
    "boardgauge-table": TableDirective,
    "boardgauge-card": CardDirective,
    "boardgauge-sequence": SequenceDirective,
    "boardgauge-cautions": CautionsDirective,
    "boardgauge-list": ListDirective,
}
"""Every directive by its name."""
