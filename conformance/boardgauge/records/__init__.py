"""What became of every board on the bench, kept: a database of boards by serial number, runs, times and recordings.

Law of this package: what was committed is never changed and never lost; a verdict is kept with the bytes and the spec
that it was found from, so that it can be found again. The database library is loaded with the first use of a database;
what is handed in (``entry``) needs none.
"""
