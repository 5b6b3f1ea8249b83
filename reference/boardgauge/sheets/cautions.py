"""The cautions that a sheet carries: what of a unit can hurt a person, by what the spec says is on the board.

Law of this module: a caution too many does no harm, one too few does. What the words of a spec point to is warned of,
and what every board has is always warned of. Every handout says that local codes and licensed practice govern.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from boardgauge.drawings import words
from boardgauge.language.model import Board, InputKind, Lockout
from boardgauge.sheets.blocks import Caution
from boardgauge.sheets.figures import joined

GOVERNS = (
    "Local codes, the maker's instructions and licensed practice govern, and come before anything printed here. "
    "Work on line voltage, on refrigerant and on gas is for people licensed to do it."
)
_MOVING = re.compile(r"compressor|fan|blower|motor|pump|inducer|damper", re.IGNORECASE)
_REFRIGERANT = re.compile(r"compressor|refriger|low-pressure|high-pressure|reversing|defrost|heat pump", re.IGNORECASE)
_GAS = re.compile(r"\bgas\b|flame|burner|ignit", re.IGNORECASE)
_HOT = re.compile(r"heat strip|auxiliary heat|heater|element|ignit|burner", re.IGNORECASE)
_WATER = re.compile(r"pump|float|water|sump", re.IGNORECASE)


def cautions(board: Board) -> Caution:
    """Give the cautions for a board."""
    return Caution("Before you touch a unit", tuple(_items(board)))


def _items(board: Board) -> Iterator[str]:
    text = " ".join(_words_of(board))
    yield (
        "Live circuits: line voltage stands on relay contacts and terminals even where the logic is low voltage. "
        "Disconnect, lock out, and prove that it is dead before you connect a probe or move a wire."
    )
    yield (
        "Stored charge: capacitors stay charged after the supply is off. Discharge them as their maker says, "
        "and measure before you touch."
    )
    if _MOVING.search(text):
        yield (
            "Moving parts: fans, pumps and compressors start without warning when a delay runs out. "
            "Keep hands, tools and clothes away."
        )
    if _REFRIGERANT.search(text):
        yield (
            "Refrigerant is under pressure and burns the skin. Opening the circuit needs a licence in most places; "
            "no exercise here asks for it."
        )
    if _GAS.search(text):
        yield (
            "Gas: if you smell it, leave, shut it off from outside and call for help; touch no switch. "
            "Never light, bridge or hold open anything on a gas train."
        )
    if _HOT.search(text):
        yield "Hot parts: heaters, igniters and exchangers burn long after they were switched off."
    if _WATER.search(text) and not _REFRIGERANT.search(text):
        yield "Water and electricity: a pit may be live, and may hold gas that stifles. Never enter one alone."
    yield _safeties(board)
    if board.speed_ups:
        whiles = joined([words.holds(board, row.while_, True) for row in board.speed_ups.values()], "or")
        yield (
            f"Speed-up ({whiles}): left in, it runs the unit on times that it was not made for. "
            "Write down that you fitted it, take it off, and check that you did."
        )
    if any(row.kind is InputKind.LINK for row in board.inputs.values()):
        yield "Links and jumpers: note how each stood before you move one, with the power off, and put it back."
    yield GOVERNS


def _safeties(board: Board) -> str:
    switches = [words.thing(board, row.id) for row in board.inputs.values() if row.contact == "normally closed"]
    latches = any(isinstance(rule, Lockout) for rule in board.rules.values())
    said = "Defeated safety switches: a switch that is bridged for a test no longer protects anybody"
    said += f" (here: {joined(switches)})" if switches else ""
    said += ". Bridge one only where the exercise says so, never leave it, and count what you fitted when you close up."
    if latches:
        said += " A lockout has a reason: find it before you reset."
    return said


def _words_of(board: Board) -> Iterator[str]:
    yield board.title
    yield board.text or ""
    for table in (board.inputs, board.outputs, board.rules, board.conditions, board.lamps):
        for name, row in table.items():
            yield name.replace("_", " ")
            yield f"{row.note.title or ''} {row.note.text or ''}"
