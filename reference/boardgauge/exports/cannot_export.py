"""What a format cannot hold."""


class CannotExport(Exception):
    """A machine has something that the format cannot hold; the message says what."""
