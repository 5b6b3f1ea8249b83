"""The parser of expressions, made of their grammar or taken ready-made.

Law of this module: ``expressions.lark`` is the grammar. The table beside it is that grammar worked out beforehand, for
a quick start; it is used only while it is of this very grammar and of this version of the parser library, and the
parser is the same with and without it.

    PYTHONHASHSEED=0 python -m boardgauge.language.grammar     write the table anew, after a change of the grammar
"""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pkgutil import get_data
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lark import Lark

TABLE_FILE = "expression_table.py"


@cache
def expression_parser() -> Lark:
    """Give the parser of expressions: from the table if it fits, else from the grammar."""
    import lark

    from boardgauge.language import expression_table as ready

    text = _grammar()
    if (_digest(text), lark.__version__) == (ready.GRAMMAR, ready.LARK):
        return lark.Lark.load(ready.TABLE)
    return parser_of(text)


def parser_of(grammar: str) -> Lark:
    """Work the parser out of the text of a grammar."""
    from lark import Lark

    return Lark(grammar, parser="lalr", lexer="basic", propagate_positions=True, maybe_placeholders=False)


def table_source() -> str:
    """Give the text of the table's module, for the grammar and the parser library as they are."""
    import pickle
    from io import BytesIO
    from pprint import pformat

    import lark

    saved = BytesIO()
    parser_of(_grammar()).save(saved)
    table: dict[str, Any] = pickle.loads(saved.getvalue())
    return (
        '"""Made by ``PYTHONHASHSEED=0 python -m boardgauge.language.grammar``; do not edit.\n\n'
        "Law of this module: it says what expressions.lark says, worked out.\n"
        '"""\n\n'
        "# fmt: off\n# ruff: noqa: E501 (regular expressions are not broken)\n"
        "from __future__ import annotations\n\n"
        "from typing import Any\n\n"
        f"GRAMMAR = {_digest(_grammar())!r}\n"
        f"LARK = {lark.__version__!r}\n"
        f"TABLE: dict[str, Any] = {pformat(table, width=118, compact=True)}\n"
    )


def _grammar() -> str:
    # Not importlib.resources: it takes longer to load than the whole file takes to read.
    data = get_data("boardgauge.language", "expressions.lark")
    assert data is not None
    return data.decode()


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


if __name__ == "__main__":
    from pathlib import Path

    Path(__file__).with_name(TABLE_FILE).write_text(table_source(), encoding="utf-8")
