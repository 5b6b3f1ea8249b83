"""The tables of the records, as the latest version of the database has them.

Law of this module: names and types only. Times inside a recording are whole microseconds; moments of the calendar are
UTC. Texts that are searched have a length, since some databases ask for one. What stands here is what
``migrations`` leads to, and a test holds the two against each other.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from boardgauge.records.entry import LONGEST_NAME

NAMES = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)
"""All tables; constraints are named, since a later migration can only change what has a name."""

DIGEST = 64
MOST_BYTES = 2**30 - 2**20
"""Bytes of a recording that a database takes, packed: SQLite takes no more than a gigabyte in one place."""

specs = Table(
    "specs",
    NAMES,
    Column("digest", String(DIGEST), primary_key=True),
    Column("board", String(200), nullable=False),
    Column("title", Text, nullable=False),
    Column("text", Text, nullable=False),
)
"""Every spec that a board was judged by, once, as text."""

files = Table(
    "files",
    NAMES,
    Column("sha256", String(DIGEST), primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("packing", String(10), nullable=False),
    Column("content", LargeBinary(2**32 - 1), nullable=False),
)
"""The bytes of recordings, each once, by their digest; ``packing`` is "zlib" or "none"."""

boards = Table(
    "boards",
    NAMES,
    Column("id", Integer, primary_key=True),
    Column("board", String(200), nullable=False),
    Column("serial", String(LONGEST_NAME), nullable=False),
    Column("lot", String(LONGEST_NAME)),
    UniqueConstraint("board", "serial"),
)
"""The boards: a serial number counts among boards of one spec id."""

runs = Table(
    "runs",
    NAMES,
    Column("id", Integer, primary_key=True),
    Column("board_id", ForeignKey(boards.c.id), nullable=False),
    Column("visit", String(36), nullable=False),
    Column("measured_at", DateTime, nullable=False),
    Column("added_at", DateTime, nullable=False),
    Column("operator", String(LONGEST_NAME)),
    Column("rig", String(LONGEST_NAME)),
    Column("verdict", String(20), nullable=False),
    Column("known_start", Boolean, nullable=False),
    Column("length_us", BigInteger, nullable=False),
    Column("spec_digest", ForeignKey(specs.c.digest), nullable=False),
    Column("spec_given", Text, nullable=False),
    Column("wiring_id", String(200), nullable=False),
    Column("wiring_text", Text),
    Column("wiring_given", Text, nullable=False),
    Column("start", String(20)),
    Column("settings", Text, nullable=False),
    Column("exercised", Integer, nullable=False),
    Column("exercisable", Integer, nullable=False),
    Column("plan_digest", String(DIGEST)),
    Column("plan_reached", Integer),
    Column("plan_missed", Integer),
    Column("plan", Text),
    Column("version", String(50), nullable=False),
    Column("command", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("judgement", Text, nullable=False),
    Column("rig_kind", String(20)),
    Column("simulated", Boolean),
    Index("ix_runs_board_id", "board_id"),
    Index("ix_runs_measured_at", "measured_at"),
    Index("ix_runs_visit", "visit"),
)
"""One row a run; ``judgement``, ``plan`` and ``settings`` are JSON. ``simulated``: no real board stood on the rig;
empty where that is not known."""


def _of_a_run() -> tuple[Column[int], Column[int]]:
    """Give the key of a row that a run has several of, in their order."""
    return (
        Column("run_id", ForeignKey(runs.c.id), primary_key=True),
        Column("position", Integer, primary_key=True, autoincrement=False),
    )


run_files = Table(
    "run_files",
    NAMES,
    *_of_a_run(),
    Column("sha256", ForeignKey(files.c.sha256), nullable=False),
    Column("name", Text, nullable=False),
    Index("ix_run_files_sha256", "sha256"),
)
"""Which files a run's recording is made of, in their order."""

rules = Table(
    "rules",
    NAMES,
    *_of_a_run(),
    Column("rule", String(200), nullable=False),
    Column("kind", String(20), nullable=False),
    Column("clause", String(200)),
    Column("exercised", Boolean, nullable=False),
)
"""What each run exercised, rule by rule."""

timings = Table(
    "timings",
    NAMES,
    *_of_a_run(),
    Column("timing", String(200), nullable=False),
    Column("rule", String(200), nullable=False),
    Column("clause", String(200)),
    Column("shortest_us", BigInteger, nullable=False),
    Column("longest_us", BigInteger, nullable=False),
    Column("varies", Boolean, nullable=False),
    Column("ended", Integer, nullable=False),
    Column("sped_up", Integer, nullable=False),
    Column("least_us", BigInteger),
    Column("greatest_us", BigInteger),
    Index("ix_timings_timing", "timing"),
)
"""What each run measured, timing by timing; ``varies``: its limits hang on a setting of the board."""

deviations = Table(
    "deviations",
    NAMES,
    *_of_a_run(),
    Column("time_us", BigInteger, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("signal", String(200), nullable=False),
    Column("channel", String(200), nullable=False),
    Column("rule", String(200), nullable=False),
    Column("clause", String(200)),
    Column("earliest_us", BigInteger),
    Column("latest_us", BigInteger),
    Column("observed", Text, nullable=False),
    Column("expected", Text, nullable=False),
    Column("following", Boolean, nullable=False),
)
"""The deviations of each run; times count from the start of the recording."""
