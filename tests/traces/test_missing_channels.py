"""A channel that a wiring names and the recording has not is an error if misspelt, and told if absent."""

from __future__ import annotations

import numpy as np
import pytest

from boardgauge.traces import BadWiring, Channel, Recording, condition, default_wiring, wiring_from
from boardgauge.traces.missing import names_of
from traces.tarnbeck_by_hand import board


def recording(*names: str) -> Recording:
    """Give a recording of a second in which nothing happens."""
    channels = {name: Channel(name, np.array([0]), np.array([0.0])) for name in names}
    return Recording("bench.csv", "VCD", 0, 1_000_000, channels)


def wiring(**channels: str) -> str:
    """Write a wiring with a line a channel; the first is in line 6."""
    lines = "".join(f'{name} = {{ signal = "{signal}" }}\n' for name, signal in channels.items())
    return f'language = 1\nboard = "{board().id}"\n[wiring]\nid = "w"\n[channels]\n{lines}'


@pytest.mark.parametrize(
    ("named", "there"), [("outdoor_fna", "outdoor_fan"), ("Fan", "fan"), ("relay_fan", "relay-fan"), ("fan2", "fan_2")]
)
def test_misspelt(named: str, there: str) -> None:
    """The error has the place of the wiring, the names that are there, and the nearest."""
    made = wiring_from(wiring(cc="cc", **{named: "fan"}), "w.toml")
    with pytest.raises(BadWiring) as error:
        condition(recording("cc", there, "spare"), made, board())
    (problem,) = error.value.problems
    assert (problem.at.line, problem.key, problem.nearest) == (7, f"channels.{named}", there)
    assert f"it has cc, {there}, spare" in problem.message


@pytest.mark.parametrize("named", ["blower", "fan_3", "cc2"])
def test_absent(named: str) -> None:
    """Another number or another word is another channel: its signal is not wired, and a remark has the line."""
    made = wiring_from(wiring(cc="cc", **{named: "fan"}), "w.toml")
    trace = condition(recording("cc", "fan_2", "cc1"), made, board())
    (remark,) = trace.remarks
    assert (remark.kind, remark.signal, remark.channel, remark.known) == ("no channel", "fan", named, False)
    assert "w.toml:7:1 names it" in remark.text
    assert "it has cc, fan_2, cc1" in remark.text
    assert "fan" in trace.unwired


def test_channels_by_their_names_need_not_be_there() -> None:
    """Without a wiring nothing was named, so nothing is missing."""
    assert condition(recording("cc", "fam"), default_wiring(board()), board()).remarks == ()


def test_very_many_names() -> None:
    """Of very many channels the first are named."""
    assert names_of([f"c{number}" for number in range(100)]).endswith("c39 and 60 more")
    assert names_of([]) == "none"


def test_several_absent_are_told_at_once() -> None:
    """How many of the wiring's channels there are, which, what may be meant by its name, and what to do: one remark."""
    made = wiring_from(wiring(ch1="cc", ch2="fan", ch3="rv", ch4="aux"), "w.toml")
    trace = condition(recording("ch1", "spare", "alm", "aux_heat"), made, board())
    (remark,) = trace.remarks
    assert (remark.kind, remark.signal, remark.channel, remark.known) == ("no channel", "", "", False)
    assert (
        "bench.csv has 1 of the 4 channels that w.toml names for tarnbeck (ch1), and not ch2, ch3, ch4" in remark.text
    )
    assert "by its names it may have alm, aux_heat as aux" in remark.text
    assert "say in a wiring" in remark.text


@pytest.mark.parametrize("by_name", [True, False])
def test_the_supply_alone_is_no_recording_of_a_board(by_name: bool) -> None:
    """Nothing can be judged by it: what was recorded is another board, or needs a wiring."""
    made = default_wiring(board()) if by_name else wiring_from(wiring(power="power", k1="cc", k2="fan"), "w.toml")
    with pytest.raises(BadWiring) as error:
        condition(recording("power", "pump_a", "outdoor_fan"), made, board())
    (problem,) = error.value.problems
    assert "the supply alone is in" in problem.message
    assert "outdoor_fan as fan" in problem.message
    assert "a wiring" in str(problem.expected)


def test_a_wiring_made_in_memory_has_no_place() -> None:
    """Nobody is sent to a file that there is none of."""
    with pytest.raises(BadWiring) as error:
        condition(recording("pump_a"), None, board())
    assert str(error.value).startswith("channels: none of the channels power, ")


def test_a_wiring_of_the_supply_alone_is_meant() -> None:
    """Who wires nothing else has said so."""
    made = wiring_from(wiring(power="power"), "w.toml")
    assert "power" not in condition(recording("power", "cc"), made, board()).unwired
