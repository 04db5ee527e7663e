"""What was found in every set and what the coach made of it; which findings a measurement could show."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from midfoot.store.columns import Instant

revision = "0005"
down_revision = "0004"
VIEWS = "'side', 'front_oblique', 'rear_oblique', 'front', 'rear', 'unknown'"
DECISIONS = "'open', 'kept', 'reworded', 'dropped', 'accepted', 'added'"


def upgrade() -> None:
    """Apply it; the rows themselves are gathered from what was measured, by the desk."""
    with op.batch_alter_table("measurements") as batch:
        batch.add_column(sa.Column("judged", sa.Text(), nullable=True))
        batch.add_column(sa.Column("view", sa.String(length=24), nullable=True))
    op.create_table(
        "cases",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=False),
        sa.Column("part_id", sa.String(length=128), nullable=False),
        sa.Column("finding", sa.String(length=64), nullable=False),
        sa.Column("by", sa.String(length=24), server_default="measured", nullable=False),
        sa.Column("title", sa.Text(), server_default="", nullable=False),
        sa.Column("threshold", sa.String(length=64), nullable=True),
        sa.Column("unit", sa.String(length=16), nullable=True),
        sa.Column("size", sa.Float(), nullable=True),
        sa.Column("sd", sa.Float(), nullable=True),
        sa.Column("floor", sa.Float(), nullable=True),
        sa.Column("times_floor", sa.Float(), server_default="1", nullable=False),
        sa.Column("confidence", sa.String(length=24), nullable=True),
        sa.Column("rep", sa.Integer(), nullable=True),
        sa.Column("at_s", sa.Float(), nullable=True),
        sa.Column("view", sa.String(length=24), nullable=True),
        sa.Column("raised", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.Column("decision", sa.String(length=24), server_default="open", nullable=False),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("up_to_kg", sa.Float(), nullable=True),
        sa.Column("noted_at", Instant(), nullable=False),
        sa.Column("decided_at", Instant(), nullable=True),
        sa.CheckConstraint("by IN ('measured', 'coach')", name=op.f("ck_cases_by")),
        sa.CheckConstraint("confidence IN ('sure', 'likely', 'hint')", name=op.f("ck_cases_confidence")),
        sa.CheckConstraint(f"view IN ({VIEWS})", name=op.f("ck_cases_view")),
        sa.CheckConstraint(f"decision IN ({DECISIONS})", name=op.f("ck_cases_decision")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_cases_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cases")),
        sa.UniqueConstraint("set_id", "part_id", name=op.f("uq_cases_set_id_part_id")),
    )
    op.create_index(op.f("ix_cases_set_id"), "cases", ["set_id"], unique=False)
    op.create_index(op.f("ix_cases_finding"), "cases", ["finding"], unique=False)
