"""Libraries that only some rigs need.

Law of this module: a library that is missing is told with the command that brings it, never as a traceback.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from boardgauge.rigs.rig import RigFailure


def needed(module: str, package: str) -> Any:
    """Give a module of the extra ``rigs``. Raises RigFailure where its package is not installed."""
    try:
        return import_module(module)
    except ImportError:
        raise RigFailure(f'this rig needs {package}: pip install "boardgauge[rigs]"') from None
