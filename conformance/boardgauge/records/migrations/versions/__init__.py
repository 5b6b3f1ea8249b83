"""The versions of the database, oldest first; each file leads from the one before to its own."""
