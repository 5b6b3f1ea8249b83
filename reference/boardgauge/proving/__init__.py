"""Prove what a spec claims, by exploring its machine with times.

Law of this package: proved, refuted with a scenario that was tried, or left open and said so; nothing else.
"""
