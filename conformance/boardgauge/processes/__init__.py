"""Processes that this one starts to have work done, or to speak with.

Law of this package: whatever becomes of such a process costs what it had in hand at most, and never this one.
"""
