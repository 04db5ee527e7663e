"""The times of a clip's frames are pointed at by a column, so that they are kept and go with it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the column and fill it from what the first look found."""
    with op.batch_alter_table("clips") as batch:
        batch.add_column(sa.Column("times_sha256", sa.String(length=64), nullable=True))
        batch.create_foreign_key(op.f("fk_clips_times_sha256_blobs"), "blobs", ["times_sha256"], ["sha256"])
        batch.create_index(op.f("ix_clips_times_sha256"), ["times_sha256"])
    clips = sa.table("clips", sa.column("id"), sa.column("probe", sa.JSON), sa.column("times_sha256"))
    blobs = sa.table("blobs", sa.column("sha256"))
    connection = op.get_bind()
    there = set(connection.execute(sa.select(blobs.c.sha256)).scalars())
    for row in connection.execute(sa.select(clips.c.id, clips.c.probe)).all():
        times = row.probe.get("times_sha256") if isinstance(row.probe, dict) else None
        if times in there:
            connection.execute(clips.update().where(clips.c.id == row.id).values(times_sha256=times))
