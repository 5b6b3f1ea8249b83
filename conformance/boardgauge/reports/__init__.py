"""What is handed out on a board that was judged: a certificate of one page, a report for a browser, XML and JSON.

Law of this package: all of them say the same of the same report, and nothing that its judgements do not say. None says
that a board is qualified unless a plan was run, nothing that it covers was missed, and every rule was exercised.
"""
