"""The recordings of the tarnbeck board (fictional) read whole, whatever their format, and say the same."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from boardgauge.language.quantities import S
from boardgauge.traces import LampWatch, Trace, condition, read_recording, wiring_from
from traces.tarnbeck_by_hand import LAMP, WIRING, board

RECORDINGS = Path(__file__).parent.parent / "recordings"
FILES = sorted(path.name for path in RECORDINGS.iterdir() if ".vcd" in path.suffixes or ".csv" in path.suffixes)
AC = WIRING
for _name in ("y", "o", "lps", "hps"):
    AC = AC.replace(f'{_name} = {{ signal = "{_name}" }}', f'{_name} = {{ signal = "{_name}", line_frequency = 60 }}')
ADC = "\n".join(line for line in WIRING.splitlines() if not line.startswith(("cold", "warm")))
ADC += '\ncoil_mv = { signal = "coil", scale = 0.1, offset = -50 }\n'


def trace(name: str) -> Trace:
    wiring = AC if "ac60" in name else ADC if "adc" in name else WIRING
    return condition(read_recording(RECORDINGS / name), wiring_from(wiring), board(sensor="adc" in name))


@pytest.mark.parametrize("name", FILES)
def test_every_recording_reads(name: str) -> None:
    """Every signal of the board is found, and the contactor works; there is no channel too many."""
    found = trace(name)
    assert (found.unwired, found.ignored) == ((), ())
    assert len(found.waves["cc"]) >= 4
    assert found.end - found.start > 70 * S
    assert len(found.sha256) == 64


@pytest.mark.parametrize("name", ["s01_powerup_restart__good.csv.gz", "s01_powerup_restart__good.csv.xz"])
def test_sampled_and_unsampled_agree(name: str) -> None:
    """The edges of the unsampled recording lie in the intervals of the sampled ones of the same run."""
    exact, sampled = trace("s01_powerup_restart__good.vcd"), trace(name)
    for signal in ("cc", "fan", "rv", "status"):
        # The boot pulses after each power-up, far shorter than a sample, left out.
        true = [(at, value) for at, value in exact.waves[signal].recorded_changes() if 2 * S < at < 239 * S]
        seen = [row for row in sampled.waves[signal].changes() if 2 * S < row[1] < 239 * S]
        assert len(true) == len(seen)
        for (at, value), (early, late, other) in zip(true, seen, strict=True):
            # Two runs: a loop of the processor apart.
            assert value is other
            assert early - 20_000 <= at <= late + 20_000


def test_line_frequency() -> None:
    """Half-wave pulses of 60 Hz come down to the changes that the logger saw in the same run."""
    pulses, logger = trace("s05_hp_two_calls__good__ac60.vcd"), trace("s05_hp_two_calls__good__logger.csv.gz")
    for signal in ("y", "o", "lps", "hps"):
        ours, theirs = pulses.waves[signal], logger.waves[signal]
        assert ours.initial is theirs.initial
        assert [v for *_, v in ours.changes()] == [v for *_, v in theirs.changes()]
        for (early, late, _), (other_early, other_late, _) in zip(ours.changes(), theirs.changes(), strict=True):
            assert early <= other_late + 8000
            assert late >= other_early - 8000


def test_thermistor() -> None:
    """Cold and warm come from the millivolts with each limit's accuracy on its own."""
    coil = trace("a09_defrost_warm_ntc__good__adc.vcd").readings["coil"]
    cold = coil.crossings("<=", Fraction(-2), ">", Fraction(0), Fraction(1))
    warm = coil.crossings(">=", Fraction(14), "<", Fraction(12), Fraction(1))
    assert [v for *_, v in cold.changes() if v is not None][:2] == [True, False]
    assert True in [v for *_, v in warm.changes()]


def test_the_lamp_of_a_good_board() -> None:
    """Running in heating from 31 to 50 s: nothing against the slow line, the rapid one ruled out after its grace."""
    watch = LampWatch(trace("s05_hp_two_calls__good__logger.csv.gz"), LAMP)
    against_slow = watch.first_against(2, 31 * S)
    assert against_slow is None or against_slow.known > 50 * S
    against_rapid = watch.deadline(1, 31 * S)
    assert against_rapid is not None
    assert 34 * S < against_rapid < 37 * S


def test_the_lamp_of_a_bad_board() -> None:
    """Groups of five in a high-pressure hard lockout are known for wrong at 171.1 s."""
    watch = LampWatch(trace("s06_hp_three_trips__f12_led_hard_code.vcd"), LAMP)
    found = watch.first_against(6, 160_096_283)
    assert found is not None
    assert (found.kind, found.seen, round(found.known / S, 1)) == ("group", "a group of 5 flashes", 171.1)
    assert 5 in found.allowed
