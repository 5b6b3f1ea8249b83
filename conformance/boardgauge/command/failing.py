"""How the command line fails: one clear message on standard error, exit status 2, never a traceback.

Law of this module: what a person did wrong is told with its place; what cannot happen is told as ours, with how to
report it; and no file is written over that the same command reads.
"""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import NoReturn, ParamSpec, TypeVar

import click

DEBUG = "BOARDGAUGE_DEBUG"
"""With this in the environment a fault of our own is shown with its traceback."""

CONFORMS, DEVIATES, UNUSABLE, UNDECIDED = 0, 1, 2, 3
"""The exit statuses, by what they mean."""
INTERRUPTED = 130
"""The exit status after Ctrl-C, as a shell gives it."""

_WRITTEN = ("output", "outputs", "table", "explain", "key")
"""The parameters of all commands that name a file to write."""

P = ParamSpec("P")
T = TypeVar("T")


class Unusable(Exception):
    """Something given on the command line cannot be used; the message says what and what to do."""


def fail(message: str) -> NoReturn:
    """Print a message and leave with the status for what cannot be used."""
    print(f"boardgauge: {message}", file=sys.stderr)
    sys.exit(UNUSABLE)


def explained(command: Callable[P, T]) -> Callable[P, T]:
    """Wrap a command so that what is wrong with its input is told in words."""

    @functools.wraps(command)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            _keep_what_is_read(kwargs)
            return command(*args, **kwargs)
        except Unusable as error:
            fail(str(error))
        except (KeyboardInterrupt, click.Abort):
            # click makes Abort of Ctrl-C at a question of its own. Its status of an interrupted command would say here
            # that a recording deviates.
            print("boardgauge: broken off", file=sys.stderr)
            sys.exit(INTERRUPTED)
        except BrokenPipeError:
            # The reader of our output has gone (``| head``): nothing is wrong.
            sys.stderr.close()
            sys.exit(CONFORMS)
        except OSError as error:
            fail(f"{error.filename or 'what was to be written or read'}: {error.strerror or error}")
        except (RecursionError, MemoryError):
            fail("the input is too large or too deeply nested")
        except Exception as error:
            if os.environ.get(DEBUG):
                raise
            fail(
                f"a fault of Boardgauge itself, not of your files: {type(error).__name__}: {error}\n"
                f"Please report it; {DEBUG}=1 in the environment shows where it happened."
            )

    return wrapped


def _keep_what_is_read(given: Mapping[str, object]) -> None:
    """Refuse to write over a file that is given to be read: a recording is evidence, and a spec somebody's work."""
    for name in _WRITTEN:
        for output in _files(given.get(name)):
            for other, values in given.items():
                if other not in _WRITTEN and any(output.samefile(read) for read in _files(values)):
                    raise Unusable(f"{output}: it is read here, and stays as it is; write to another file")


def _files(given: object) -> Iterator[Path]:
    """Give the files that are there of a parameter's values."""
    for value in given if isinstance(given, tuple) else (given,):
        # A line break or a null in what was typed is no name of a file.
        if isinstance(value, str) and value.isprintable() and Path(value).is_file():
            yield Path(value)
