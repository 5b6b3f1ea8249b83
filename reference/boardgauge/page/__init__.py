"""The page on which a board is played: one file of HTML with the machine's table and an engine that runs it.

Law of this package: the table is the machine's, exported; the engine follows the clauses of the language as the
reference does, and tests hold the two together step by step. A page asks nothing of the network.
"""

from boardgauge.page.joining import engine_source, page_of
from boardgauge.page.table import page_table

__all__ = ["engine_source", "page_of", "page_table"]
