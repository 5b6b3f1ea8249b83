"""Rigs: what drives a board's inputs and sees what it shows, behind one small adaptor (``rig``).

Law of this package: a rig knows levels and times and nothing of rules; whatever happens to it, to us or to the link
between, what it drives comes to its safe state in a bounded time.
"""
