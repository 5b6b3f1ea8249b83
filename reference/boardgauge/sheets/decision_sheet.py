"""The decision tree as a sheet: which state is the board in, question by question.

Law of this module: every question and every answer is the tree's own, which is worked out from the explored machine.
What does not fit a page goes on in a part of its own, at the number where it was left; nothing is made smaller.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import define, evolve, field, frozen

from boardgauge.drawings.page import FAMILY
from boardgauge.drawings.svg_text import line, path, rect, text, wrapped
from boardgauge.drawings.time_words import most
from boardgauge.identifying import Candidate, Knowledge, Leaf, Node, account, decision_tree
from boardgauge.sheets.blocks import Block, Drawing, Figure, Paragraph, Sheet
from boardgauge.sheets.study import Study

TREE = "identify"
_COLUMNS, _WIDTH, _BETWEEN = 4, 157.0, 19.0
_PAGE = 690.0
_ROOM = 415.0
_SIZE, _LEADING, _INSIDE = 8.6, 10.6, 4.0
_GAP = 9.0
_HEAD = 17.0
_MOST_NAMED = 3
_BULGE = 11.0


def knowledge(study: Study) -> Knowledge:
    """Give what exploring the board of a study tells, sorted by what can be seen; made once."""
    return study.once(knowledge, lambda: Knowledge(study.machine, study.engine, study.found, study.states))


def decision_sheet(study: Study) -> Sheet:
    """Give the sheet with the decision tree of everything a board can be in."""
    return tree_sheet(study, knowledge(study).all())


def tree_pages(study: Study, left: frozenset[Candidate], pokes: bool = True) -> tuple[Drawing, ...]:
    """Draw the tree for what is left, one drawing a page."""
    return tuple(_pages(_Parts(knowledge(study)).parts(decision_tree(knowledge(study), left, pokes=pokes))))


def tree_sheet(study: Study, left: frozenset[Candidate], pokes: bool = True) -> Sheet:
    """Give the sheet with the tree for what is left."""
    known = knowledge(study)
    said = (
        "Begin at 1. A box with corners says what to do, cheapest first: look at the lamp, measure a terminal, wait, "
        "change a call, switch the supply off and on. The words over a box are the answer that leads to it. A round "
        "box says what state the board is in. A number in a circle: go on at that number."
    )
    if not known.found.complete:
        said += f" NOT COMPLETE: exploring stopped at {len(known.found.configs)} configurations."
    blocks: list[Block] = [Paragraph(said, small=True)]
    if len(known.origins(left)) > 1:
        blocks += [Figure(drawing) for drawing in tree_pages(study, left, pokes)]
    else:
        blocks.append(Paragraph(f"There is nothing to decide: {known.origins(left)[0].name}."))
    return Sheet(TREE, "Which state is it in?", tuple(blocks), sideways=True)


# -- parts -----------------------------------------------------------------------------------------------------------


@define
class _Cell:
    """One box with the answer that leads to it; ``goes_on`` is the number of the part it goes on in, if it does."""

    node: Node
    answer: tuple[str, ...]
    said: tuple[str, ...]
    children: list[_Cell] = field(factory=list)
    goes_on: int = 0

    @property
    def own(self) -> float:
        return len(self.answer) * _LEADING + self.box

    @property
    def box(self) -> float:
        return len(self.said) * _LEADING + 2 * _INSIDE + 2

    @property
    def height(self) -> float:
        below = sum(child.height for child in self.children) + _GAP * max(0, len(self.children) - 1)
        return max(self.own, below)

    def all(self) -> Iterator[_Cell]:
        yield self
        for child in self.children:
            yield from child.all()


@frozen
class _Part:
    number: int
    root: _Cell

    @property
    def height(self) -> float:
        return _HEAD + self.root.height


@define
class _Parts:
    known: Knowledge
    numbers: dict[int, int] = field(factory=dict)
    waiting: list[Node] = field(factory=list)

    def parts(self, root: Node) -> list[_Part]:
        """Cut a tree into parts of which each fits a page."""
        self.numbers[id(root)] = 1
        self.waiting = [root]
        made: list[_Part] = []
        while self.waiting:
            node = self.waiting.pop(0)
            cell = self._cell(node, "", 1)
            while cell.height > _ROOM - _HEAD and self._cut(cell):
                pass
            made.append(_Part(self.numbers[id(node)], cell))
        return made

    def _cell(self, node: Node, answer: str, column: int) -> _Cell:
        answered = tuple(wrapped(answer.rstrip("."), _SIZE, _WIDTH)) if answer else ()
        if isinstance(node, Leaf):
            return _Cell(node, answered, self._leaf_words(node))
        experiment = node.experiment
        said = experiment.text + (f" At most {most(experiment.within)}." if experiment.within else "")
        cell = _Cell(node, answered, tuple(wrapped(said, _SIZE, _WIDTH - 2 * _INSIDE - 4)))
        if column == _COLUMNS:
            self._go_on(cell)
        else:
            cell.children = [self._cell(child, words, column + 1) for words, child in node.answers]
        return cell

    def _leaf_words(self, leaf: Leaf) -> tuple[str, ...]:
        width = _WIDTH - 2 * _BULGE
        names = [one.name for one in leaf.situations]
        lines: list[str] = []
        for number, name in enumerate(names[:_MOST_NAMED]):
            lines += wrapped(f"or {name}" if number else name, _SIZE, width)
        if len(names) > _MOST_NAMED:
            lines.append(f"or {len(names) - _MOST_NAMED} more")
        if len(names) > 1:
            return (*lines, *wrapped("Not told apart from outside.", _SIZE, width))
        ahead = [one for one in account(self.known, leaf.situations[0], leaf.left).by_itself if one.always]
        if len(ahead) == 1:
            within = f" within {most(ahead[0].within)}" if ahead[0].within else ""
            lines += wrapped(f"then{within}: {ahead[0].leads_to}", _SIZE, width)
        return tuple(lines)

    def _go_on(self, cell: _Cell) -> None:
        key = id(cell.node)
        if key not in self.numbers:
            self.numbers[key] = len(self.numbers) + 1
            self.waiting.append(cell.node)
        cell.goes_on = self.numbers[key]
        cell.children, cell.said = [], ("",)

    def _cut(self, root: _Cell) -> bool:
        """Let the largest branch below the root that fits a page go on elsewhere; False where there is none."""
        branches = [cell for child in root.children for cell in child.all() if cell.children]
        fit = [cell for cell in branches if cell.height <= _ROOM - _HEAD] or branches
        if not fit:
            return False
        cut = max(fit, key=lambda cell: cell.height)
        # What is cut off again below an own part keeps its number and is not drawn twice.
        self._go_on(cut)
        return True


# -- drawing ---------------------------------------------------------------------------------------------------------


def _pages(parts: list[_Part]) -> Iterator[Drawing]:
    page: list[_Part] = []
    used = 0.0
    for part in _numbered(parts):
        if page and used + part.height + 2 * _GAP > _ROOM:
            yield _page(page)
            page, used = [], 0.0
        page.append(part)
        used += part.height + 2 * _GAP
    if page:
        yield _page(page)


def _numbered(parts: list[_Part]) -> list[_Part]:
    """Give the parts that are led to, numbered in the order in which they are: some were cut off inside others."""
    by_number = {part.number: part for part in parts}
    new = {1: 1}
    waiting = [1]
    while waiting:
        for cell in by_number[waiting.pop(0)].root.all():
            if cell.goes_on and cell.goes_on not in new:
                new[cell.goes_on] = len(new) + 1
                waiting.append(cell.goes_on)
    for old in new:
        for cell in by_number[old].root.all():
            cell.goes_on = new.get(cell.goes_on, 0)
    return [evolve(by_number[old], number=number) for old, number in new.items()]


def _page(parts: list[_Part]) -> Drawing:
    drawn: list[str] = []
    told: list[str] = []
    y = 1.0
    for part in parts:
        drawn += _circle(_SIZE + 2, y + 9, part.number)
        top = y + _HEAD
        drawn += _draw(part.root, 1.0, top)
        told.append(f"Part {part.number}:\n" + "\n".join(_told(part.root, 1)))
        y = top + part.root.height + 2 * _GAP
    height = y - 2 * _GAP + 2
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_PAGE:.2f}pt" height="{height:.2f}pt"'
        f' viewBox="0 0 {_PAGE:.2f} {height:.2f}" font-family="{FAMILY}" role="img">'
        f"<title>Decision tree, part {', '.join(str(part.number) for part in parts)}</title>"
        + "\n".join(drawn)
        + "</svg>"
    )
    return Drawing(svg, _PAGE, height, "\n".join(told))


def _draw(cell: _Cell, x: float, top: float) -> Iterator[str]:
    """Draw a cell with its top at ``top``, and what it leads to, to the right of it."""
    yield from _box(cell, x, top)
    y = top
    out = _middle(cell, top)
    right, trunk = x + _WIDTH, x + _WIDTH + _BETWEEN / 2
    middles = []
    for child in cell.children:
        yield from _draw(child, x + _WIDTH + _BETWEEN, y)
        middles.append(_middle(child, y))
        y += child.height + _GAP
    if middles:
        yield line(right, out, trunk, out, 0.9)
        yield line(trunk, min(out, *middles), trunk, max(out, *middles), 0.9)
        for middle in middles:
            end = x + _WIDTH + _BETWEEN
            yield line(trunk, middle, end, middle, 0.9)
            yield path([(end - 5, middle - 2.6), (end, middle), (end - 5, middle + 2.6)], 'fill="black"', closed=True)


def _middle(cell: _Cell, top: float) -> float:
    return top + len(cell.answer) * _LEADING + cell.box / 2


def _box(cell: _Cell, x: float, top: float) -> Iterator[str]:
    y = top
    for words in cell.answer:
        yield text(words, x + 1, y + _SIZE, _SIZE, ' font-style="italic" class="answer"', halo=True)
        y += _LEADING
    y += 2
    height = cell.box - 2
    if cell.goes_on:
        yield from _circle(x + 9, y + height / 2, cell.goes_on)
        return
    leaf = isinstance(cell.node, Leaf)
    round_ = f' rx="{min(_BULGE, height / 2):.1f}"' if leaf else ""
    kind = "state" if leaf else "question"
    yield rect(
        x,
        y,
        _WIDTH,
        height,
        f'fill="white" stroke="black" stroke-width="{1.5 if leaf else 0.9}" class="{kind}"{round_}',
    )
    left = x + (_BULGE if leaf else _INSIDE + 1)
    for number, words in enumerate(cell.said):
        yield text(words, left, y + _INSIDE + _SIZE + number * _LEADING - 1, _SIZE)


def _circle(x: float, y: float, number: int) -> Iterator[str]:
    yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="8" fill="white" stroke="black" stroke-width="1.2"/>'
    yield text(str(number), x, y + 3, 9.0, ' text-anchor="middle" font-weight="bold"')


def _told(cell: _Cell, depth: int) -> Iterator[str]:
    """Give a part in words, for where nothing can be drawn."""
    pad = "  " * depth
    answer = f"{' '.join(cell.answer)}: " if cell.answer else ""
    yield pad + answer + (f"go on at {cell.goes_on}" if cell.goes_on else " ".join(cell.said))
    for child in cell.children:
        yield from _told(child, depth + 1)
