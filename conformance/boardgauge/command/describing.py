"""``boardgauge schema``: what an editor completes and checks files by.

Law of this module: it writes what ``schemas`` gives.
"""

from __future__ import annotations

import json

from boardgauge.schemas import SCHEMAS


def schema_of(kind: str) -> str:
    """Give the JSON Schema of a kind of file as text."""
    return json.dumps(SCHEMAS[kind](), indent=1, ensure_ascii=False)
