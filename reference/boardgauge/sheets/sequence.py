"""The sequence of operation: what happens from the call on, in numbered plain sentences.

Law of this module: the sentences are the instants of stories that the machine played; what else ends a rule is said
as the spec says it.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.drawings import words
from boardgauge.language import model
from boardgauge.sheets.blocks import Block, Paragraph, Points, Sheet, Steps
from boardgauge.sheets.figures import joined, sentence, stopwatch, with_limits
from boardgauge.sheets.stories import Story, Untold, stories
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import Telling

SEQUENCE = "sequence"


def sequence_sheet(study: Study) -> Sheet:
    """Give the sequence of operation."""
    told, untold = stories(study)
    telling = Telling(study)
    blocks: list[Block] = [Paragraph(text) for text in _preamble(study)]
    for story in told:
        blocks += _story(study, telling, story)
    blocks += _untold(study, untold)
    return Sheet(SEQUENCE, "Sequence of operation", tuple(blocks))


def _preamble(study: Study) -> Iterator[str]:
    board = study.board
    factory = [
        f"{words.thing(board, row.id)} {row.factory}" for row in board.settings.values() if row.factory is not None
    ]
    said = "Each sequence was played by the simulated board at nominal times; brackets hold the limits."
    if factory:
        said += f" Settings are as from the factory: {joined(factory)}."
    elif board.settings:
        said += " Settings are read with every link open."
    yield said
    if any(row.responds_within for row in board.inputs.values()):
        yield "“Within” is the longest the board may take to answer a change at its terminals."


def _story(study: Study, telling: Telling, story: Story) -> Iterator[Block]:
    items = list(telling.story(story.entries, story.before))
    if not items:
        return
    more = tuple(_also(study, story))
    if more:
        yield Points(more, _title(study, story))
    yield Steps(tuple(items), "" if more else _title(study, story))


def _title(study: Study, story: Story) -> str:
    title = story.title[0].upper() + story.title[1:]
    if story.kind == "call":
        terminals = joined(list(story.about))
        return f"{title} ({terminals}), from standby"
    if story.kind == "power-up":
        return title
    return f"{title}: how it comes about"


def _also(study: Study, story: Story) -> Iterator[str]:
    """Say what else takes a rule in or out, as the spec has it."""
    board = study.board
    rule = board.rules.get(story.about[0]) if story.about else None
    if isinstance(rule, model.Lockout):
        yield sentence(f"it trips when: {words.expression(board, rule.trips)}")
        if rule.clears is None:
            yield "Only a loss of power clears it."
        else:
            also = f", or {_time(study, rule.lasts)} after it tripped" if rule.lasts is not None else ""
            yield sentence(f"it clears when: {words.expression(board, rule.clears)}{also}")
    elif isinstance(rule, model.Mode):
        yield sentence(f"it begins when: {words.expression(board, rule.begins)}")
        also = f", or at the latest after {_time(study, rule.at_most)}" if rule.at_most is not None else ""
        least = f"; not before {_time(study, rule.at_least)}" if rule.at_least is not None else ""
        yield sentence(f"it ends when: {words.expression(board, rule.ends)}{also}{least}")


def _time(study: Study, lasts: model.Lasting) -> str:
    if isinstance(lasts, model.SettingRef):
        row = study.board.settings[lasts.setting]
        times = joined([stopwatch(position.is_.nominal) for position in row.positions], "or")
        return f"{times} by {words.thing(study.board, lasts.setting)}"
    return with_limits(lasts)


def _untold(study: Study, untold: tuple[Untold, ...]) -> Iterator[Block]:
    if not untold:
        return
    items = []
    for one in untold:
        lamp, _, line = one.about.rpartition(":")
        label = f"{words.thing(study.board, lamp)}: {words.lamp_line(study.board, lamp, int(line))}" if lamp else ""
        why = "no way leads to it" if one.certain else "no way to it was found among what was explored"
        items.append(sentence(f"{label or words.thing(study.board, one.about)}: {why}"))
    yield Points(tuple(items), "Not played")
