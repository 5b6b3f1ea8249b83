"""A machine as portable C99: a header and a source that a firmware can step.

Law of this package: what is written does what the reference does at nominal times, in whole ticks, or is refused with
the place. What is written allocates nothing, calls nothing and computes with whole numbers alone.
"""
