"""On the bench: a plan carried out on a rig, judged while it runs, and recorded so that nothing seen is lost.

Law of this package: the judge alone says whether a board is good; here is only done what a plan says, safely, and
written down what was seen.
"""
