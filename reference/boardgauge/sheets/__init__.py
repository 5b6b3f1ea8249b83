"""Sheets of a board: lamp card, tables, sequence of operation, and handouts made of them.

Law of this package: what a sheet says comes from the board and its machine, and from nothing kept by hand. Sheets are
values; renderers turn them into paper, a web page or text. Importing it is light.
"""
