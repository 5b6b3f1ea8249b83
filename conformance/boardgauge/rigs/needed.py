"""Libraries that only some rigs need.

Law of this module: a library that is missing is told with the command that brings it, never as a traceback.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any


class MissingPackage(Exception):
    """A library that a kind of rig needs is not installed; the message has the command that brings it."""


def needed(module: str, package: str) -> Any:
    """Give a module of the extra ``rigs``. Raises MissingPackage where its package is not installed."""
    try:
        return import_module(module)
    except ImportError:
        raise MissingPackage(f'this rig needs {package}: in the clone, pip install ".[rigs]"') from None
