"""Options that several commands have, said once.

Law of this module: an option of one name means the same wherever it stands.
"""

from __future__ import annotations

import click

wiring_option = click.option(
    "--wiring", help="What the channels mean: the id of a wiring or a file. By default the board's own."
)
start_option = click.option(
    "--start",
    type=click.Choice(["power-up", "unknown"]),
    help="What is known of the board before the recording: that it was fresh, or nothing. By default read from it.",
)
setting_option = click.option(
    "--setting", multiple=True, metavar="NAME=POSITION", help="The position of a setting; may be repeated."
)
