"""Many recordings: found, judged on all cores or on a cluster, and put into one table.

Law of this package: each recording is judged by one function, ``judging_one.judge_item``, whoever calls it; what comes
of a recording does not hang on how many there are, nor on where they are judged.
"""
