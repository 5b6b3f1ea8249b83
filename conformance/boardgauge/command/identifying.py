"""``boardgauge identify``: what a board can be in by what is seen of it, and what to measure next."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board
from boardgauge.drawings.time_words import most
from boardgauge.identifying import (
    Account,
    Ahead,
    Candidate,
    Experiment,
    Fact,
    Knowledge,
    account,
    candidates,
    next_experiment,
)
from boardgauge.identifying.told import CannotTell, lamp_told, reading_told, terminal_told, time_told
from boardgauge.sheets.figures import stopwatch

if TYPE_CHECKING:
    from boardgauge.drawings.page import Paper
    from boardgauge.language.model import Board

_MANY = 4
_PICTURES = (".svg", ".pdf", ".png", ".html")


def identify(
    given: str,
    told: Mapping[str, Sequence[str]],
    stood_for: str | None,
    pokes: bool,
    as_json: bool,
    ask: bool | None,
) -> None:
    """Print what a board can be in; go on asking where somebody is there to answer."""
    from boardgauge.sheets.decision_sheet import knowledge
    from boardgauge.sheets.study import Study

    board = find_board(given)
    known = knowledge(Study(board))
    facts, since = read_facts(known, told, stood_for)
    left = candidates(known, facts, since)
    if not known.found.complete:
        click.echo(
            f"{board.id}: exploring stopped at {len(known.found.configs)} configurations; more may fit", err=True
        )
    if not left:
        raise Unusable(_nothing_fits(known, facts, since, given))
    interactive = ask if ask is not None else sys.stdin.isatty() and sys.stdout.isatty()
    if as_json:
        click.echo(json.dumps(as_data(board, known, left, pokes), ensure_ascii=False, indent=2))
    elif interactive:
        _ask(known, left, pokes)
    else:
        _report(known, left, next_experiment(known, left, pokes=pokes))


def read_facts(
    known: Knowledge, told: Mapping[str, Sequence[str]], stood_for: str | None
) -> tuple[tuple[Fact, ...], int]:
    """Read what was told on the command line. Raises Unusable."""
    facts: list[Fact] = []
    try:
        for word, texts in told.items():
            for text in texts:
                if word == "lamp":
                    facts.append(lamp_told(known, text))
                elif word == "reads":
                    facts += reading_told(known, text)
                else:
                    facts += terminal_told(known, word, text)
        return tuple(facts), 0 if stood_for is None else time_told(stood_for)
    except CannotTell as error:
        raise Unusable(str(error)) from None


def _nothing_fits(known: Knowledge, facts: tuple[Fact, ...], since: int, given: str) -> str:
    if since and candidates(known, facts):
        return (
            f"a board in order does not stay so for {stopwatch(since)} with nothing touched. Either something was "
            f"touched, or the board or its wiring has a fault: record it and use boardgauge judge {given}."
        )
    return (
        "a board in order is never in a state that fits all of this. Look again; if it is so, the board or its wiring "
        f"has a fault: record it and use boardgauge judge {given}."
    )


# -- telling ---------------------------------------------------------------------------------------------------------


def _report(known: Knowledge, left: frozenset[Candidate], then: Experiment | None) -> None:
    situations = known.origins(left)
    number = len(situations)
    click.echo("It is in one state:" if number == 1 else f"It can be in {number} states:")
    for one in situations:
        click.echo("")
        for line in account_lines(account(known, one, left), brief=number > _MANY):
            click.echo(line)
    click.echo("")
    if then is not None:
        click.echo(f"Next ({then.kind}): {_asked(then)}")
        for outcome in then.outcomes:
            names = [one.name for one in known.origins(outcome.left)]
            click.echo(f"  {outcome.text.rstrip('.')}: {_few(names)}")
    elif number > 1:
        click.echo("Nothing that can be looked at, measured, waited for or changed tells these apart.")


def _few(names: list[str]) -> str:
    return "; ".join(names) if len(names) <= _MANY else f"{len(names)} of them"


def _asked(then: Experiment) -> str:
    return f"{then.text} At most {most(then.within)}." if then.within else then.text


def account_lines(told: Account, brief: bool) -> list[str]:
    """Give the account of a situation as lines."""
    lines = [f"  {told.situation.name}", f"    shows     {told.shows}"]
    if brief:
        return lines
    if told.on:
        lines.append(f"    on        {', '.join(told.on)}")
    if told.may_be_on:
        lines.append(f"    perhaps   {', '.join(told.may_be_on)}")
    for word, rows in (("runs", told.running), ("may run", told.may_run)):
        if rows:
            lines.append(f"    {word:9} {', '.join(f'{name} (at most {most(time)})' for name, time in rows)}")
    lines += [f"    then      {line}" for line in map(ahead_words, told.by_itself)]
    waits = [ahead_words(one) for one in told.waits_for]
    lines += [f"    if        {line}" for line in waits]
    return lines


def ahead_words(one: Ahead) -> str:
    """Say what leads on."""
    within = "" if not one.within else f", within {most(one.within)}"
    sure = "" if one.always else ", perhaps"
    return f"{one.cause} -> {one.leads_to}{within}{sure}"


# -- asking ----------------------------------------------------------------------------------------------------------


def _ask(known: Knowledge, left: frozenset[Candidate], pokes: bool) -> None:
    without: set[str] = set()
    while True:
        number = len(known.origins(left))
        then = next_experiment(known, left, without, pokes)
        if number == 1 or then is None:
            _report(known, left, None)
            return
        click.echo(f"{number} states are possible: {_few([one.name for one in known.origins(left)])}")
        click.echo(f"{_asked(then)}")
        for place, outcome in enumerate(then.outcomes, 1):
            click.echo(f"  {place}  {outcome.text}")
        click.echo("  ?  don't know, or it cannot be done        q  stop here")
        answer = click.prompt("Answer", default="?", show_default=False).strip().lower()
        if answer in {"q", "quit"}:
            _report(known, left, then)
            return
        chosen = _chosen(answer, then)
        if chosen is None:
            if answer not in {"?", "don't know", "dont know"}:
                click.echo(f"Answer with 1 to {len(then.outcomes)}, ? or q.")
            else:
                without.add(then.id)
            continue
        left = then.outcomes[chosen].left
        # After time has passed or a hand has moved, what could not be told before may be told now.
        without = without | {then.id} if then.kind in {"look", "measure"} else set()


def _chosen(answer: str, then: Experiment) -> int | None:
    if answer.isdigit() and 1 <= int(answer) <= len(then.outcomes):
        return int(answer) - 1
    texts = [outcome.text.lower().rstrip(".") for outcome in then.outcomes]
    return texts.index(answer) if answer in texts else None


# -- data ------------------------------------------------------------------------------------------------------------


def as_data(board: Board, known: Knowledge, left: frozenset[Candidate], pokes: bool) -> dict[str, Any]:
    """Give what can be said as plain data; times are seconds."""
    then = next_experiment(known, left, pokes=pokes)
    return {
        "board": board.id,
        "digest": board.digest,
        "complete": known.found.complete,
        "states": [_account_data(account(known, one, left)) for one in known.origins(left)],
        "next": None if then is None else _experiment_data(known, then),
    }


def _account_data(told: Account) -> dict[str, Any]:
    return {
        "state": told.situation.name,
        "shows": told.shows,
        "on": list(told.on),
        "may_be_on": list(told.may_be_on),
        "running": [{"timing": name, "at_most": time / 1e6} for name, time in told.running],
        "may_run": [{"timing": name, "at_most": time / 1e6} for name, time in told.may_run],
        "by_itself": [_ahead_data(one) for one in told.by_itself],
        "waits_for": [_ahead_data(one) for one in told.waits_for],
    }


def _ahead_data(one: Ahead) -> dict[str, Any]:
    within = None if one.within is None else one.within / 1e6
    return {"cause": one.cause, "leads_to": one.leads_to, "within": within, "always": one.always}


def _experiment_data(known: Knowledge, then: Experiment) -> dict[str, Any]:
    return {
        "kind": then.kind,
        "id": then.id,
        "text": then.text,
        "within": then.within / 1e6 if then.within else None,
        "outcomes": [
            {"text": outcome.text, "states": [one.name for one in known.origins(outcome.left)]}
            for outcome in then.outcomes
        ],
    }


# -- the tree --------------------------------------------------------------------------------------------------------


def draw_tree(
    given: str,
    told: Mapping[str, Sequence[str]],
    stood_for: str | None,
    pokes: bool,
    output: str | None,
    paper: Paper,
) -> list[Path]:
    """Draw the decision tree; give the files written (one a page for SVG and PNG)."""
    from boardgauge.sheets.decision_handout import tree_handout
    from boardgauge.sheets.decision_sheet import knowledge, tree_pages
    from boardgauge.sheets.study import Study

    board = find_board(given)
    target = Path(output or f"{board.id}-tree.pdf")
    ending = target.suffix.lower()
    if ending not in _PICTURES:
        raise Unusable(f"{target}: the format is not plain from the name; end it in {', '.join(_PICTURES)}")
    study = Study(board)
    known = knowledge(study)
    facts, since = read_facts(known, told, stood_for)
    left = candidates(known, facts, since)
    if not left:
        raise Unusable(_nothing_fits(known, facts, since, given))
    if ending == ".svg":
        pages = [drawing.svg.encode() for drawing in tree_pages(study, left, pokes)]
    else:
        from boardgauge.command.handing_out import command_line

        made = tree_handout(study, left, pokes, command_line())
        if ending == ".html":
            from boardgauge.sheets.as_html import to_html

            pages = [to_html(made, paper).encode()]
        elif ending == ".pdf":
            from boardgauge.sheets.as_typst import to_pdf

            pages = [to_pdf(made, paper)]
        else:
            from boardgauge.sheets.as_typst import to_pages

            pages = list(to_pages(made, paper, 150.0))
    written = []
    for number, page in enumerate(pages, 1):
        path = target if len(pages) == 1 else target.with_name(f"{target.stem}-{number}{target.suffix}")
        path.write_bytes(page)
        written.append(path)
    return written
