"""A picture before it is rendered: the graph, and what is printed round it."""

from __future__ import annotations

from attrs import frozen


@frozen
class Picture:
    """One drawing. ``name`` is its id (a rule, or ``overview``), ``dot`` the graph, ``caption`` the lines below it."""

    name: str
    title: str
    dot: str
    caption: tuple[str, ...] = ()
