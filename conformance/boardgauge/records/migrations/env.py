"""What Alembic runs to bring a database to another version.

Law of this file: the connection is the caller's and so is the transaction, so that a migration happens whole or not at
all; the table that holds the version has a name of our own.
"""

from __future__ import annotations

from alembic import context

from boardgauge.records.database import VERSION_TABLE

context.configure(
    connection=context.config.attributes["connection"],
    version_table=VERSION_TABLE,
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
