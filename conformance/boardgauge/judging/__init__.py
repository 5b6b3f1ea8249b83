"""The judge: a trace held against a machine, and what came of it.

Law of this package: *deviates* is said beyond doubt or not at all.
"""
