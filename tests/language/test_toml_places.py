"""Every key and value of a TOML text has its place, and the scan knows the same keys as the TOML parser."""

from __future__ import annotations

import tomllib

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import UnusableSpec
from boardgauge.language.toml_places import Path, TooMuch, decoded, find_places

TEXT = """\
# a comment with [brackets] and "quotes"
language = 1
dotted.key.path = "x"   # comment
"quoted key" = 'literal'

[rules.burner]
steps = [
  { name = "purge", lasts = "30 s" }, # ] }
  { name = "trial", until = "flame" },
]
numbers = [ 1, 2.5, [ "a", "b" ], ]
when = 1979-05-27 07:32:00
long = \"\"\"
first
second \\
   third\"\"\"
raw = '''
no \\escape'''

[[not_judged]]
after = "power_up"

[[not_judged]]
after = "second"

[not_judged.inner]
x = true

[ inputs . "odd name" ]
y = { a = { b = 1 } }
"""

WHERE: dict[Path, tuple[str, str]] = {
    ("language",): ("language", "1"),
    ("dotted", "key", "path"): ("path", '"x"'),
    ("quoted key",): ('"quoted key"', "'literal'"),
    ("rules", "burner"): ("burner]", "[rules.burner]"),
    ("rules", "burner", "steps", 0, "lasts"): ("lasts", '"30 s"'),
    ("rules", "burner", "steps", 1): ('{ name = "trial"', '{ name = "trial"'),
    ("rules", "burner", "steps", 1, "until"): ("until", '"flame"'),
    ("rules", "burner", "numbers", 2, 1): ('"b"', '"b"'),
    ("rules", "burner", "when"): ("when", "1979"),
    ("not_judged", 0, "after"): ("after", '"power_up"'),
    ("not_judged", 1, "after"): ('after = "second"', '"second"'),
    ("not_judged", 1, "inner", "x"): ("x = true", "true"),
    ("inputs", "odd name", "y", "a", "b"): ("b = 1 }", "1 } }"),
}


@pytest.mark.parametrize("path", WHERE)
def test_keys_and_values_have_their_offsets(path: Path) -> None:
    """Tables, dotted keys, inline tables, lists of tables: each key and value is found where it stands."""
    key, value = WHERE[path]
    stretch = find_places(TEXT)[path]
    assert TEXT.startswith(key, stretch.key)
    assert TEXT.startswith(value, stretch.start)


def paths_of(value: object, path: Path = ()) -> set[Path]:
    """Give every key path of a parsed text."""
    found = {path} if path else set()
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        found |= paths_of(inner, (*path, key))
    return found


def test_the_scan_knows_all_keys_of_the_parser() -> None:
    """Not one path is missing or too much in a text that has every sort of thing."""
    assert set(find_places(TEXT)) == paths_of(tomllib.loads(TEXT))


keys = st.text(min_size=1, max_size=6)
values = st.recursive(
    st.booleans() | st.integers(-99, 99) | st.text(max_size=12) | st.floats(allow_nan=False) | st.datetimes(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=60, deadline=None)
@given(st.dictionaries(keys, values, max_size=4))
def test_the_scan_agrees_with_an_independent_writer(spec: dict[str, object]) -> None:
    """Whatever another library writes, the scan finds the very paths that the parser finds."""
    text = tomlkit.dumps(spec)
    parsed = tomllib.loads(text)
    places = find_places(text.replace("\r\n", "\n"))
    assert set(places) == paths_of(parsed)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=20))
def test_escaped_texts_are_decoded_with_the_offset_of_each_character(content: str) -> None:
    """A text written with escapes comes back, and its characters stand where they are said to stand."""
    text = tomlkit.dumps({"k": content})
    stretch = find_places(text)[("k",)]
    characters, offsets = decoded(text, stretch.start, stretch.end)
    assert "".join(characters) == content
    assert offsets == sorted(offsets)
    assert all(text[at] in (character, "\\") for character, at in zip(characters, offsets, strict=True))


def test_long_texts_lose_their_first_line_end_and_folded_lines() -> None:
    """A text over several lines is decoded as TOML says."""
    places = find_places(TEXT)
    for name in ("long", "raw"):
        stretch = places[("rules", "burner", name)]
        assert "".join(decoded(TEXT, stretch.start, stretch.end)[0]) == tomllib.loads(TEXT)["rules"]["burner"][name]


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="ab=[]{}\".'#\\\n ,1", max_size=30))
def test_any_text_is_scanned_or_left_to_the_parser(text: str) -> None:
    """The scan never fails on what is no TOML, and knows every path of what is."""
    places = find_places(text)
    try:
        parsed = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert paths_of(parsed) <= set(places)


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 50, "a = " + "{ a = " * 50, ".".join("a" * 50) + " = 1", "[" + ".".join("a" * 50) + "]"]
)
def test_depth_is_bounded(text: str) -> None:
    """Nesting and length of keys are bounded before the parser sees the text."""
    with pytest.raises(TooMuch):
        find_places(text)


def test_nodes_know_file_line_and_column() -> None:
    """A node gives the place of its key, of its value and of a character inside it."""
    root = read_nodes(TEXT, "x.toml").value
    assert isinstance(root, dict)
    burner = root["rules"].value["burner"]
    until: Node = burner.value["steps"].value[1].value["until"]
    assert str(until.key_at) == "x.toml:9:21"
    assert str(until.at) == "x.toml:9:29"
    assert str(until.inside(2)) == "x.toml:9:32"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a = 1\na = 2\n", "x.toml:2:6: a: this stands twice in the file"),
        ("[a]\n[a]\n", "a: this stands twice in the file"),
        ("a = [1\n", "the file is not TOML"),
        ("a = 1 b = 2", "x.toml:1:7: the file is not TOML"),
    ],
)
def test_what_is_no_toml_is_one_problem_with_its_place(text: str, said: str) -> None:
    """The first thing that is no TOML is told where it stands; a name given twice is told as such."""
    with pytest.raises(UnusableSpec) as caught:
        read_nodes(text, "x.toml")
    assert said in str(caught.value)
