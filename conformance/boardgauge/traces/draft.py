"""A wiring drafted from what a recording looks like and what its channels are called.

Law of this module: what is sure stands as a wiring says it, and is read as it stands; everything else stands in a
comment, with its reason, for a person to decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from boardgauge.language.model import Board, InputKind
from boardgauge.traces.appearance import Appearance
from boardgauge.traces.matching import Match, Matches
from boardgauge.traces.suspicions import Suspicion
from boardgauge.traces.wiring import signals_of

_ON = {
    InputKind.CALL: "on",
    InputKind.SIGNAL: "on",
    InputKind.SWITCH: "closed",
    InputKind.LINK: "fitted",
    InputKind.BUTTON: "pressed",
}


def draft_of(
    board: Board,
    matches: Matches,
    appearances: Iterable[Appearance],
    suspicions: Iterable[Suspicion],
    id_: str,
    file: str,
) -> str:
    """Give the text of a wiring for a recording on a board, called ``id_``; ``file`` is the recording's name."""
    shown = {each.channel: each for each in appearances}
    told: dict[str, list[Suspicion]] = {}
    for suspicion in suspicions:
        told.setdefault(suspicion.channel or "", []).append(suspicion)
    lines = [
        f"# Drafted from {_comment(file)} by the names of its channels. Read every line before you rely on it:",
        "# what is not sure stands in comments, and what a recording cannot show is not here at all.",
        "language = 1",
        f"board = {_quoted(board.id)}",
        "",
        "[wiring]",
        f"id = {_quoted(id_)}",
        f"title = {_quoted(f'Drafted from {file}')}",
        "",
        "# [recorder]                      # its data sheet knows; a recording does not show it",
        '# clock_error = "50 ppm"',
        '# skew = "1 ms"',
    ]
    for suspicion in told.get("", []):
        lines.append(f"# {_comment(suspicion.what)}")
        if suspicion.advice is not None:
            lines.append(f"#   {_comment(suspicion.advice)}")
    lines += ["", "[channels]"]
    for match in matches.sure:
        lines += ["", *_sure(match, shown[match.channel], board, told.get(match.channel, []))]
    rest = [name for name in shown if matches.of(name) is None]
    if rest:
        lines += ["", "# ---- channels of which it is not sure what they are"]
    for name in rest:
        lines += ["", *_unsure(name, shown[name], [m for m in matches.unsure if m.channel == name], matches)]
    missing = [name for name in signals_of(board) if name not in {match.signal for match in matches.sure}]
    if missing:
        lines += ["", "# ---- signals of the board without a channel; what is not recorded is not judged", "#"]
        lines += [f"# {name}{_about(name, board)}" for name in missing]
    return "\n".join(lines) + "\n"


def _sure(match: Match, shown: Appearance, board: Board, told: list[Suspicion]) -> list[str]:
    row = board.inputs.get(match.signal)
    sensor = row is not None and row.kind is InputKind.SENSOR
    body: list[str] = [f"signal = {_quoted(match.signal)}"]
    if sensor:
        assert row is not None
        body += [
            f"# its number is taken as {row.unit or 'the unit of the board'}",
            "# if it is volts, ohms or counts: scale and offset, or a curve and a divider",
        ]
        return _as_comments_if(not _plausible(shown), [f"[channels.{_key(match.channel)}]", *body])
    if match.inverted:
        body.append("inverted = true                   # so its name says")
    usable, keys = _pickup(shown, match.signal in board.lamps)
    body += keys
    for suspicion in told:
        body.append(f"# {_comment(suspicion.what)}")
        if suspicion.advice is not None:
            body.append(f"#   {_comment(suspicion.advice)}")
    if row is not None and row.kind is InputKind.LINK and not match.inverted:
        body.append("# inverted = true                 # if it is pulled low when it is fitted")
    head = f"[channels.{_key(match.channel)}]"
    one = "level 1" if shown.kind in ("logic", "constant", "never known") else "the higher level"
    means = f"# {one}: {_means(match, board)}"
    return _as_comments_if(not usable, [f"{head:<33} {means}", *body])


def _as_comments_if(comments: bool, lines: list[str]) -> list[str]:
    return [line if line.startswith("#") else f"# {line}" for line in lines] if comments else lines


def _plausible(shown: Appearance) -> bool:
    return shown.kind in ("measured", "constant", "logic")


def _means(match: Match, board: Board) -> str:
    row = board.inputs.get(match.signal)
    if match.signal == "power":
        word, other = "present", "absent"
    elif match.signal in board.lamps:
        word, other = "lit", "dark"
    elif row is not None:
        word, other = _ON[row.kind], f"not {_ON[row.kind]}"
    else:
        contact = board.outputs[match.signal].contact
        word, other = ("on", "off") if contact == "normally open" else ("off (normally closed contact)", "on")
    return other if match.inverted else word


def _pickup(shown: Appearance, lamp: bool) -> tuple[bool, list[str]]:
    """Give whether the channel can be used so, and the keys that say how it was picked up."""
    if shown.pulses is not None:
        keys = [f"line_frequency = {shown.pulses.hertz}"]
        if shown.high is None:
            assert shown.least is not None
            assert shown.greatest is not None
            middle, peak = 0.0, max(shown.greatest, -shown.least)
            if shown.least < 0 and abs(shown.least + shown.greatest) > 0.2 * peak:
                middle = (shown.least + shown.greatest) / 2
            elif shown.least > 0.1 * peak:
                middle = shown.least
            amplitude = shown.greatest - middle
            keys.append(f"amplitude = {_number(amplitude)}                 # its greatest peak here; check it")
            if middle:
                keys.append(f"midpoint = {_number(middle)}                  # the level at no voltage; check it")
        elif shown.pulses.rest == "high":
            keys.append('at_rest = "high"')
        return True, keys
    if shown.kind != "measured" and not (
        shown.kind == "constant" and shown.high is None and shown.least not in (0.0, 1.0)
    ):
        return True, []
    if lamp:
        return True, ["brightness = true"]
    if shown.levels is None:
        return False, ["# it is measured, and keeps to no two levels: say a threshold", "# threshold = "]
    low, high = _number(shown.levels.low), _number(shown.levels.high)
    return True, [
        f"threshold = {_number(shown.levels.threshold)}                  # it keeps to {low} and {high}",
        f"differential = {_number(shown.levels.differential)}",
    ]


def _unsure(name: str, shown: Appearance, offers: list[Match], matches: Matches) -> list[str]:
    taken = {match.signal: match.channel for match in matches.sure}
    seen = f"{shown.kind}, {shown.changes} changes"
    if not offers:
        return [f"# {_comment(name)}: like no signal of the board ({seen})"]
    lines = [f"# {_comment(name)} ({seen}): it may be {' or '.join(dict.fromkeys(m.signal for m in offers))}"]
    lines += [
        f"#   but {offer.signal} is shown by {_comment(taken[offer.signal])}"
        for offer in offers
        if offer.signal in taken
    ]
    _, keys = _pickup(shown, False)
    inverted = ["inverted = true"] if offers[0].inverted else []
    body = [f"[channels.{_key(name)}]", f"signal = {_quoted(offers[0].signal)}", *inverted, *keys]
    return lines + [line if line.startswith("#") else f"# {line}" for line in body]


def _about(name: str, board: Board) -> str:
    tables: tuple[Mapping[str, object], ...] = (board.inputs, board.outputs, board.lamps)
    row = next((table[name] for table in tables if name in table), None)
    note = getattr(row, "note", None)
    said = (note.title or note.text) if note is not None else None
    return f": {_comment(said)}" if said else ""


def _number(value: float) -> str:
    return f"{value:.6g}" if "e" not in f"{value:.6g}" else repr(float(f"{value:.6g}"))


def _comment(text: str) -> str:
    """Give a text that can stand in a comment: on one line, without what TOML does not let stand there."""
    return "".join(c if c.isprintable() else "?" for c in text)


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name, re.ASCII) else _quoted(name)


def _quoted(text: str) -> str:
    """Write a TOML string."""
    escaped = {'"': '\\"', "\\": "\\\\"}
    return '"' + "".join(escaped.get(c) or (c if c.isprintable() else f"\\U{ord(c):08X}") for c in text) + '"'
