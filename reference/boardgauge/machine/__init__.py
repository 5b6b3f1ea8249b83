"""The reference machine: a board compiled to one table, and what steps, simulates and explores it.

Law of this package: it is written to be read. It knows the language and nothing of recordings.
"""
