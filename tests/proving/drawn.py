"""Boards to prove things of: drawn small ones, and one mode of which all can be counted by hand.

Law of this module: every board has a call ``a`` and an output ``out0`` (the drawn ones) and passes the checks.
"""

from __future__ import annotations

from hypothesis import reject
from hypothesis import strategies as st

from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.model import Board
from oracle.chains import chain_texts, mixed_texts

ONE_MODE = """
language = 1
[board]
id = "one"
title = "One mode (invented)"
tolerance = "exactly"
[inputs.call]
kind = "call"
[rules.run]
kind = "mode"
begins = "call begins"
ends = "not call"
[outputs.motor]
on = "run"
"""


@st.composite
def asked(draw: st.DrawFn) -> Board:
    """Draw a small board with requirements, and now and then an accumulator and a speed-up."""
    text = draw(st.one_of(chain_texts(), mixed_texts()))
    since = ["a"]
    if draw(st.booleans()):
        adds = draw(st.sampled_from(("a", "not a", "out0")))
        resets = draw(st.sampled_from(("a begins", "out0 ends", "not a")))
        text += f'[rules.sum]\nkind = "accumulator"\nadds_while = "{adds}"\ntarget = "5 s"\nresets = "{resets}"\n'
        text += '[outputs.summed]\non = "sum reached"\n'
        text += f'[speed_ups.quick]\nwhile = "{draw(st.sampled_from(("a", "a and out0")))}"\n'
        text += 'times_faster = 2\nwhat = ["sum"]\n'
        since.append("summed")
    within = draw(st.integers(1, 9))
    word, other = draw(st.sampled_from(("begins", "ends"))), draw(st.sampled_from(("begins", "ends")))
    text += "[requirements.apart]\n"
    text += f'never = "out0 {word} less than {within} s after {draw(st.sampled_from(since))} {other}"\n'
    text += f'[requirements.held]\nnever = "out0 for {within} s"\n'
    try:
        return read_board_text(text, "drawn.toml")
    except UnusableSpec:
        reject()
