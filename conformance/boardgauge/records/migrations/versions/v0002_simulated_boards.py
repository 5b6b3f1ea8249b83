"""Version 2: the kind of the rig that drove a board, and whether no real board stood on it.

Law of this file: once released it is never changed. Runs that no rig drove are taken to be of real boards, as before;
of the others it was not kept, and nothing is made up.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the columns, and fill them where it is known."""
    op.add_column("runs", sa.Column("rig_kind", sa.String(20)))
    op.add_column("runs", sa.Column("simulated", sa.Boolean))
    runs = sa.table("runs", sa.column("rig", sa.String), sa.column("simulated", sa.Boolean))
    op.execute(sa.update(runs).where(runs.c.rig.is_(None)).values(simulated=sa.false()))
