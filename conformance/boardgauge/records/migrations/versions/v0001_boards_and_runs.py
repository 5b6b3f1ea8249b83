"""Version 1: boards, runs with what they exercised and measured, specs, and recordings by their digest.

Law of this file: once released it is never changed. It says its tables itself, since those of ``tables`` move on.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "specs",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("board", sa.String(200), nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_specs"),
    )
    op.create_table(
        "files",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("packing", sa.String(10), nullable=False),
        sa.Column("content", sa.LargeBinary(2**32 - 1), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_files"),
    )
    op.create_table(
        "boards",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("board", sa.String(200), nullable=False),
        sa.Column("serial", sa.String(100), nullable=False),
        sa.Column("lot", sa.String(100)),
        sa.PrimaryKeyConstraint("id", name="pk_boards"),
        sa.UniqueConstraint("board", "serial", name="uq_boards_board"),
    )
    op.create_table(
        "runs",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("board_id", sa.Integer, nullable=False),
        sa.Column("visit", sa.String(36), nullable=False),
        sa.Column("measured_at", sa.DateTime, nullable=False),
        sa.Column("added_at", sa.DateTime, nullable=False),
        sa.Column("operator", sa.String(100)),
        sa.Column("rig", sa.String(100)),
        sa.Column("verdict", sa.String(20), nullable=False),
        sa.Column("known_start", sa.Boolean, nullable=False),
        sa.Column("length_us", sa.BigInteger, nullable=False),
        sa.Column("spec_digest", sa.String(64), nullable=False),
        sa.Column("spec_given", sa.Text, nullable=False),
        sa.Column("wiring_id", sa.String(200), nullable=False),
        sa.Column("wiring_text", sa.Text),
        sa.Column("wiring_given", sa.Text, nullable=False),
        sa.Column("start", sa.String(20)),
        sa.Column("settings", sa.Text, nullable=False),
        sa.Column("exercised", sa.Integer, nullable=False),
        sa.Column("exercisable", sa.Integer, nullable=False),
        sa.Column("plan_digest", sa.String(64)),
        sa.Column("plan_reached", sa.Integer),
        sa.Column("plan_missed", sa.Integer),
        sa.Column("plan", sa.Text),
        sa.Column("version", sa.String(50), nullable=False),
        sa.Column("command", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("judgement", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_runs"),
        sa.ForeignKeyConstraint(["board_id"], ["boards.id"], name="fk_runs_board_id"),
        sa.ForeignKeyConstraint(["spec_digest"], ["specs.digest"], name="fk_runs_spec_digest"),
    )
    op.create_index("ix_runs_board_id", "runs", ["board_id"])
    op.create_index("ix_runs_measured_at", "runs", ["measured_at"])
    op.create_index("ix_runs_visit", "runs", ["visit"])
    op.create_table(
        "run_files",
        *_of_a_run("run_files"),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.ForeignKeyConstraint(["sha256"], ["files.sha256"], name="fk_run_files_sha256"),
    )
    op.create_index("ix_run_files_sha256", "run_files", ["sha256"])
    op.create_table(
        "rules",
        *_of_a_run("rules"),
        sa.Column("rule", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("clause", sa.String(200)),
        sa.Column("exercised", sa.Boolean, nullable=False),
    )
    op.create_table(
        "timings",
        *_of_a_run("timings"),
        sa.Column("timing", sa.String(200), nullable=False),
        sa.Column("rule", sa.String(200), nullable=False),
        sa.Column("clause", sa.String(200)),
        sa.Column("shortest_us", sa.BigInteger, nullable=False),
        sa.Column("longest_us", sa.BigInteger, nullable=False),
        sa.Column("varies", sa.Boolean, nullable=False),
        sa.Column("ended", sa.Integer, nullable=False),
        sa.Column("sped_up", sa.Integer, nullable=False),
        sa.Column("least_us", sa.BigInteger),
        sa.Column("greatest_us", sa.BigInteger),
    )
    op.create_index("ix_timings_timing", "timings", ["timing"])
    op.create_table(
        "deviations",
        *_of_a_run("deviations"),
        sa.Column("time_us", sa.BigInteger, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("signal", sa.String(200), nullable=False),
        sa.Column("channel", sa.String(200), nullable=False),
        sa.Column("rule", sa.String(200), nullable=False),
        sa.Column("clause", sa.String(200)),
        sa.Column("earliest_us", sa.BigInteger),
        sa.Column("latest_us", sa.BigInteger),
        sa.Column("observed", sa.Text, nullable=False),
        sa.Column("expected", sa.Text, nullable=False),
        sa.Column("following", sa.Boolean, nullable=False),
    )


def _of_a_run(table: str) -> list[sa.Column[int] | sa.Constraint]:
    return [
        sa.Column("run_id", sa.Integer, nullable=False),
        sa.Column("position", sa.Integer, nullable=False, autoincrement=False),
        sa.PrimaryKeyConstraint("run_id", "position", name=f"pk_{table}"),
        sa.ForeignKeyConstraint(["run_id"], ["runs.id"], name=f"fk_{table}_run_id"),
    ]
