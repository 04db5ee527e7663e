"""What a lifter's course over the weeks is drawn from, beside each measurement."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Apply it."""
    with op.batch_alter_table("measurements") as batch:
        batch.add_column(sa.Column("numbers", sa.JSON(none_as_null=True), nullable=True))
