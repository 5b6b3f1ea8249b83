"""Tell two boards apart: one is taken through a scenario, and its recording judged by the other's spec.

Law of this package: *different* only where the judge finds a deviation beyond doubt, *same* only where it was proved;
nothing else.
"""
