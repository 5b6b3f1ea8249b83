"""A variant stands on a base beside it: what it changes is changed, and what does not fit is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from boardgauge.language import UnusableSpec, read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from language_examples import EXAMPLES, VARIANT


def overlay(variant: str, base: str = EXAMPLES["cellar-fan"]) -> Board:
    """Read a variant of a base."""
    return read_board_text(variant, "v/variant.toml", library={"fan.toml": base}.get)


def test_a_variant_changes_its_base() -> None:
    """What is removed is gone, what is changed is changed, what is added is there, the rest is the base's."""
    board = overlay(VARIANT)
    assert board.id == "damp-room-fan-2"
    assert "boost" not in board.inputs
    assert board.lamps == {}
    assert board.rules["rest"].note.why is None
    assert board.rules["overheats"].limit == 2  # type: ignore[union-attr]
    assert board.rules["overheat"].lasts.nominal == 1800 * S  # type: ignore[union-attr]
    assert board.inputs["winding"].responds_within == 300 * MS
    assert list(board.outputs) == ["fan", "warning"]
    assert board.rules["overheats"].at.file == "v/fan.toml"
    assert board.outputs["warning"].at.file == "v/variant.toml"


@pytest.mark.parametrize(
    ("added", "said"),
    [
        ('[remove]\nrules = ["rset"]', "the base has no rules.rset to remove; did you mean 'rest'?"),
        ('[remove]\nrules = ["rest.cut_by"]', "the base has no rules.rest.cut_by to remove"),
        ('[remove]\nrule = ["rest"]', "did you mean 'rules'?"),
        (
            "[change.rules.overheats]\nlimits = 2",
            "the base has no rules.overheats.limits to change; did you mean 'limit'?",
        ),
        ('[change.rules.rset]\nlasts = "9 s"', "the base has no rules.rset to change"),
        ("[add.rules.overheats]\nlimit = 2", "the base has rules.overheats.limit already"),
        ('[add.rules.x]\nkind = "toggle"\nflips = "fan bgins"', "v/variant.toml:6:14: rules.x.flips"),
        ('[remove]\ninputs = ["boost"]', "v/fan.toml:38:36: outputs.fan.on: there is nothing called 'boost'"),
        ("[rules.overheats]\nlimit = 2", "a variant has no [rules] of its own"),
        ('[board]\ntolerance = "exactly"', "change it under [change.board]"),
        ("[chnage.rules]", "did you mean 'change'?"),
        ('[change]\nboard = "x"', "cannot take each other's place"),
        ("[remove]\nrules = 3", "a list of names is needed"),
        ("remove = 3", "a table is needed"),
        ('[change.rules.overheats]\nlimit = "2"', "v/variant.toml:5:9: rules.overheats.limit"),
    ],
)
def test_a_variant_that_does_not_fit_is_refused(added: str, said: str) -> None:
    """Removing or changing what is not there, adding what is: each is told with the file it stands in."""
    with pytest.raises(UnusableSpec) as caught:
        overlay('language = 1\nbase = "fan.toml"\n\n' + added + "\n")
    assert said in str(caught.value)


@pytest.mark.parametrize("name", ["../fan.toml", "/fan.toml", "a\\\\fan.toml", "..", ".", "", "c:fan.toml", "a/b"])
def test_a_base_is_a_file_of_the_same_folder(name: str) -> None:
    """A base is named without a path, so no spec reaches out of its folder."""
    asked: list[str] = []

    def library(file: str) -> str | None:
        asked.append(file)
        return None

    with pytest.raises(UnusableSpec, match="same folder"):
        read_board_text(f'language = 1\nbase = "{name}"\n', "v.toml", library=library)
    assert asked == []


def test_a_base_that_is_no_text_or_not_there_is_refused() -> None:
    """A base is a file name, of a file that exists."""
    with pytest.raises(UnusableSpec, match="a text is needed"):
        read_board_text("language = 1\nbase = 3\n", "v.toml")
    with pytest.raises(UnusableSpec, match=r"there is no file 'fan\.toml' beside this one"):
        read_board_text('language = 1\nbase = "fan.toml"\n', "v.toml")


def test_bases_in_a_circle_are_refused() -> None:
    """A spec that stands on itself, at one remove or more, is refused with the circle."""
    files = {"a.toml": 'language = 1\nbase = "b.toml"\n', "b.toml": 'language = 1\nbase = "a.toml"\n'}
    with pytest.raises(UnusableSpec, match=r"a\.toml -> b\.toml -> a\.toml"):
        read_board_text(files["a.toml"], "x/a.toml", library=files.get)


def test_a_long_chain_of_bases_is_refused() -> None:
    """There is a bound to how deep variants stand on one another."""
    with pytest.raises(UnusableSpec, match="more than 8 variants"):
        read_board_text(
            'language = 1\nbase = "0"\n', "v", library=lambda name: f'language = 1\nbase = "{int(name) + 1}"'
        )


def test_variants_of_variants_keep_their_places(tmp_path: Path) -> None:
    """A chain of files beside each other is followed, the last word is the nearest one's."""
    (tmp_path / "fan.toml").write_text(EXAMPLES["cellar-fan"], encoding="utf-8")
    (tmp_path / "two.toml").write_text(VARIANT, encoding="utf-8")
    last = tmp_path / "three.toml"
    last.write_text('language = 1\nbase = "two.toml"\n[board]\nid = "third"\n[change.rules.overheats]\nlimit = 5\n')
    board = read_board(last)
    assert (board.id, board.rules["overheats"].limit) == ("third", 5)  # type: ignore[union-attr]
