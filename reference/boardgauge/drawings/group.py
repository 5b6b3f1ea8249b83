"""Draw several rules in one picture, each in a region of its own as rules that run side by side are drawn (UML 2.5.1).

Law of this module: the diagrams are those of ``state_diagram``, node for node and arrow for arrow; only their frame is
new. Rules that do not fit one page legibly go on the next.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from boardgauge.drawings import dot
from boardgauge.drawings.page import Paper
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.print_pages import fits
from boardgauge.drawings.state_diagram import drawable, state_diagram
from boardgauge.language import model
from boardgauge.machine.table import Machine

KINDS: dict[str, type] = {
    "delays": model.Delay,
    "lockouts": model.Lockout,
    "counts": model.Count,
    "accumulators": model.Accumulator,
    "modes": model.Mode,
    "sequences": model.Sequence,
    "toggles": model.Toggle,
}
_NODE = re.compile(r'^(\s*)"((?:[^"\\]|\\.)*)"(?: -> "((?:[^"\\]|\\.)*)")?', re.MULTILINE)
_UPRIGHT = re.compile(r'(label=")\{((?:[^"\\]|\\.)*)\}(")')


def group_of(machine: Machine, name: str) -> tuple[str, ...] | None:
    """Give the rules of a kind by its plural (``lockouts``), or what keeps something among the outputs; None if none is
    called so."""
    if name == "outputs":
        return tuple(machine.board.outputs)
    if name not in KINDS:
        return None
    return tuple(rule for rule in drawable(machine) if isinstance(machine.board.rules.get(rule), KINDS[name]))


def group_pages(
    machine: Machine, name: str, rules: Sequence[str], paper: Paper | None = "letter"
) -> tuple[Picture, ...]:
    """Draw rules (ids) together, on as many pages as they need to be legible. Raises KeyError for an id of none."""
    pages: list[list[str]] = []
    for rule in rules:
        tried = [*pages[-1], rule] if pages else [rule]
        if pages and not fits(_picture(machine, name, tried, ""), machine.board, paper):
            pages.append([rule])
        else:
            pages[-1:] = [tried]
    more = [f" (page {number} of {len(pages)})" if len(pages) > 1 else "" for number in range(1, len(pages) + 1)]
    return tuple(_picture(machine, name, page, said) for page, said in zip(pages, more, strict=True))


def _picture(machine: Machine, name: str, rules: Sequence[str], more: str) -> Picture:
    drawn = [state_diagram(machine, rule) for rule in rules]
    lines = dot.header("LR", ranksep=0.9, nodesep=0.35)
    for number, one in enumerate(drawn):
        title = dot.quoted(one.title)
        lines += [f"  subgraph cluster_region{number} {{", f'  style="rounded,dashed"; margin=12; label={title};']
        lines.append(f"  labeljust=l; fontsize={dot.FONT_SIZE * dot.SPARE:.2f};")
        lines += [_in_region(one.dot, number), "  }"]
    caption = list(dict.fromkeys(line for one in drawn for line in one.caption))
    title = f"{machine.board.title}: {name.replace('_', ' ')}{more}"
    return Picture(name.replace(", ", "-"), title, "\n".join([*lines, "}", ""]), tuple(caption))


def _in_region(source: str, number: int) -> str:
    """Give what stands in a diagram with its nodes named apart from those of the others."""
    body = source[source.index("edge [") :]
    body = body[body.index("\n") + 1 : body.rindex("}")]

    def named(match: re.Match[str]) -> str:
        target = f' -> "{number}: {match[3]}"' if match[3] is not None else ""
        return f'{match[1]}"{number}: {match[2]}"{target}'

    body = _NODE.sub(named, body).replace("cluster_in", f"cluster_in{number}")
    # Fields of a record turn with the layout, and here it runs from left to right.
    return _UPRIGHT.sub(r"\1\2\3", body).rstrip()
