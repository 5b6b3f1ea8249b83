"""Two boards side by side: what differs in their specs, and what they do under the same inputs.

Law of this package: it proves that two machines do the same, or looks for where they do not. That a recording can tell
two boards apart is for the judge to say, who stands above.
"""
