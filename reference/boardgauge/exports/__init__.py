"""Machines for other programs to run.

Law of this package: what is written runs as the reference does at nominal times, or it is refused with the reason.
"""
