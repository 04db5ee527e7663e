"""Counting findings over all sets reads two indices and no row."""

from __future__ import annotations

from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Apply it."""
    op.drop_index(op.f("ix_cases_finding"), "cases")
    counted = ["finding", "by", "decision", "raised", "confidence", "set_id"]
    op.create_index("ix_cases_counted", "cases", counted, unique=False)
    judged = ["clip_id", "is_current", "judged", "view"]
    op.create_index("ix_measurements_judged", "measurements", judged, unique=False)
