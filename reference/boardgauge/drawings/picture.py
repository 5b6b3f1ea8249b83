"""A picture before it is rendered: the graph, and what is printed round it."""

from __future__ import annotations

from attrs import frozen


@frozen
class Picture:
    """One drawing. ``name`` is its id (a rule, or ``overview``), ``dot`` the graph, ``caption`` the lines below it.

    ``wrapped_otherwise`` is the same graph with its labels wrapped otherwise: the one that prints largest is taken.
    """

    name: str
    title: str
    dot: str
    caption: tuple[str, ...] = ()
    wrapped_otherwise: tuple[str, ...] = ()
