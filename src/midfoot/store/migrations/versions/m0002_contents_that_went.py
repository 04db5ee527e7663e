"""When the content of a blob was deleted by the rule of retention."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from midfoot.store.columns import Instant

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Apply it."""
    with op.batch_alter_table("blobs") as batch:
        batch.add_column(sa.Column("gone_at", Instant(), nullable=True))
