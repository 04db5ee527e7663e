"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from midfoot.store.columns import Instant

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make all tables."""
    op.create_table(
        "audit",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("what", sa.String(length=48), nullable=False),
        sa.Column("subject_kind", sa.String(length=32), server_default="", nullable=False),
        sa.Column("subject_id", sa.String(length=64), server_default="", nullable=False),
        sa.Column("detail", sa.JSON(none_as_null=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    op.create_index(op.f("ix_audit_at"), "audit", ["at"], unique=False)
    op.create_index("ix_audit_subject", "audit", ["subject_kind", "subject_id"], unique=False)

    op.create_table(
        "blobs",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("media_type", sa.Text(), server_default="", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("kept_until", Instant(), nullable=True),
        sa.Column("keep_reason", sa.Text(), server_default="", nullable=False),
        sa.CheckConstraint("length(sha256) = 64", name=op.f("ck_blobs_sha256")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_blobs")),
    )
    op.create_table(
        "editions",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("title", sa.Text(), server_default="", nullable=False),
        sa.Column("state", sa.String(length=24), server_default="preparing", nullable=False),
        sa.Column("planned_on", sa.Date(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.CheckConstraint(
            "state IN ('preparing', 'ready', 'exported', 'archived')", name=op.f("ck_editions_state")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_editions")),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("key", sa.String(length=160), nullable=False),
        sa.Column("payload", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("state", sa.String(length=24), server_default="queued", nullable=False),
        sa.Column("priority", sa.Integer(), server_default="0", nullable=False),
        sa.Column("attempt", sa.Integer(), server_default="0", nullable=False),
        sa.Column("max_attempts", sa.Integer(), server_default="3", nullable=False),
        sa.Column("lease_until", Instant(), nullable=True),
        sa.Column("heartbeat_at", Instant(), nullable=True),
        sa.Column("worker", sa.String(length=64), nullable=True),
        sa.Column("fence", sa.Integer(), server_default="0", nullable=False),
        sa.Column("progress", sa.Float(), nullable=True),
        sa.Column("message", sa.Text(), server_default="", nullable=False),
        sa.Column("error", sa.Text(), server_default="", nullable=False),
        sa.Column("result", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("not_before", Instant(), nullable=True),
        sa.Column("cancel_asked_at", Instant(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("started_at", Instant(), nullable=True),
        sa.Column("finished_at", Instant(), nullable=True),
        sa.CheckConstraint(
            "state IN ('queued', 'running', 'done', 'failed', 'cancelled')", name=op.f("ck_jobs_state")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_index("ix_jobs_next", "jobs", ["state", "priority", "created_at"], unique=False)
    op.create_index(
        "uq_jobs_live",
        "jobs",
        ["kind", "key"],
        unique=True,
        sqlite_where=sa.text("state IN ('queued', 'running')"),
        postgresql_where=sa.text("state IN ('queued', 'running')"),
    )

    op.create_table(
        "lifters",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("shown_name", sa.Text(), server_default="", nullable=False),
        sa.Column("minor", sa.Boolean(), nullable=True),
        sa.Column("guardian", sa.Text(), server_default="", nullable=False),
        sa.Column("stature_m", sa.Float(), nullable=True),
        sa.Column("sex", sa.String(length=24), nullable=True),
        sa.Column("blur_lifter", sa.Boolean(), server_default=sa.text("0"), nullable=False),
        sa.Column("depth_marks", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("notes", sa.Text(), server_default="", nullable=False),
        sa.Column("competition_on", sa.Date(), nullable=True),
        sa.Column("competition_name", sa.Text(), server_default="", nullable=False),
        sa.Column("competition_rules", sa.Text(), server_default="", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.CheckConstraint("sex IN ('female', 'male', 'mx')", name=op.f("ck_lifters_sex")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lifters")),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("seen_at", Instant(), nullable=True),
        sa.Column("expires_at", Instant(), nullable=True),
        sa.Column("revoked_at", Instant(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_sessions_token_hash")),
    )
    op.create_table(
        "settings",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("value", sa.JSON(none_as_null=True), nullable=True),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_settings")),
    )
    op.create_table(
        "links",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("scope", sa.String(length=32), nullable=False),
        sa.Column("lifter_id", sa.String(length=32), nullable=True),
        sa.Column("limits", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("expires_at", Instant(), nullable=True),
        sa.Column("revoked_at", Instant(), nullable=True),
        sa.Column("uses", sa.Integer(), server_default="0", nullable=False),
        sa.Column("max_uses", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["lifter_id"], ["lifters.id"], name=op.f("fk_links_lifter_id_lifters")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_links")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_links_token_hash")),
    )
    op.create_index(op.f("ix_links_lifter_id"), "links", ["lifter_id"], unique=False)

    op.create_table(
        "sets",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("lifter_id", sa.String(length=32), nullable=True),
        sa.Column("lift", sa.String(length=24), nullable=True),
        sa.Column("variation", sa.Text(), server_default="", nullable=False),
        sa.Column("load_kg", sa.Float(), nullable=True),
        sa.Column("received_at", Instant(), nullable=False),
        sa.Column("source", sa.String(length=24), server_default="drop", nullable=False),
        sa.Column("context", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("context_confirmed", sa.Boolean(), server_default=sa.text("0"), nullable=False),
        sa.Column("pasted_text", sa.Text(), server_default="", nullable=False),
        sa.Column("state", sa.String(length=24), server_default="new", nullable=False),
        sa.Column("picked", sa.String(length=24), server_default="none", nullable=False),
        sa.Column("waiting", sa.String(length=24), server_default="none", nullable=False),
        sa.Column("waiting_note", sa.Text(), server_default="", nullable=False),
        sa.Column("archived_at", Instant(), nullable=True),
        sa.Column("main_clip_id", sa.String(length=32), nullable=True),
        sa.Column("accepted_reference_set_id", sa.String(length=32), nullable=True),
        sa.CheckConstraint("lift IN ('squat', 'bench', 'deadlift')", name=op.f("ck_sets_lift")),
        sa.CheckConstraint("picked IN ('none', 'review', 'edition')", name=op.f("ck_sets_picked")),
        sa.CheckConstraint("source IN ('drop', 'watch', 'cli', 'intake', 'demo')", name=op.f("ck_sets_source")),
        sa.CheckConstraint("state IN ('new', 'measuring', 'ready', 'failed')", name=op.f("ck_sets_state")),
        sa.CheckConstraint("waiting IN ('none', 'refilm', 'answer')", name=op.f("ck_sets_waiting")),
        sa.ForeignKeyConstraint(
            ["accepted_reference_set_id"], ["sets.id"], name=op.f("fk_sets_accepted_reference_set_id_sets")
        ),
        sa.ForeignKeyConstraint(["lifter_id"], ["lifters.id"], name=op.f("fk_sets_lifter_id_lifters")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sets")),
    )
    op.create_index(op.f("ix_sets_accepted_reference_set_id"), "sets", ["accepted_reference_set_id"], unique=False)
    op.create_index(op.f("ix_sets_lifter_id"), "sets", ["lifter_id"], unique=False)
    op.create_index(op.f("ix_sets_received_at"), "sets", ["received_at"], unique=False)

    op.create_table(
        "changes",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=False),
        sa.Column("lifter_id", sa.String(length=32), nullable=True),
        sa.Column("part_id", sa.String(length=128), nullable=False),
        sa.Column("text", sa.Text(), server_default="", nullable=False),
        sa.Column("prediction", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("try_at", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("opened_at", Instant(), nullable=False),
        sa.Column("state", sa.String(length=24), server_default="open", nullable=False),
        sa.Column("closed_at", Instant(), nullable=True),
        sa.CheckConstraint(
            "state IN ('open', 'held', 'not_held', 'cannot_tell', 'closed')", name=op.f("ck_changes_state")
        ),
        sa.ForeignKeyConstraint(["lifter_id"], ["lifters.id"], name=op.f("fk_changes_lifter_id_lifters")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_changes_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_changes")),
        sa.UniqueConstraint("set_id", "part_id", name=op.f("uq_changes_set_id_part_id")),
    )
    op.create_index(op.f("ix_changes_lifter_id"), "changes", ["lifter_id"], unique=False)
    op.create_index(op.f("ix_changes_set_id"), "changes", ["set_id"], unique=False)

    op.create_table(
        "clips",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("received_name", sa.Text(), server_default="", nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=True),
        sa.Column("duration_s", sa.Float(), nullable=True),
        sa.Column("width_px", sa.Integer(), nullable=True),
        sa.Column("height_px", sa.Integer(), nullable=True),
        sa.Column("view_said", sa.Text(), server_default="", nullable=False),
        sa.Column("position", sa.Integer(), server_default="0", nullable=False),
        sa.Column("frame_sha256", sa.String(length=64), nullable=True),
        sa.Column("proxy_sha256", sa.String(length=64), nullable=True),
        sa.Column("probe", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("error", sa.Text(), server_default="", nullable=False),
        sa.Column("added_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["frame_sha256"], ["blobs.sha256"], name=op.f("fk_clips_frame_sha256_blobs")),
        sa.ForeignKeyConstraint(["proxy_sha256"], ["blobs.sha256"], name=op.f("fk_clips_proxy_sha256_blobs")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_clips_set_id_sets")),
        sa.ForeignKeyConstraint(["sha256"], ["blobs.sha256"], name=op.f("fk_clips_sha256_blobs")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clips")),
    )
    op.create_index(op.f("ix_clips_frame_sha256"), "clips", ["frame_sha256"], unique=False)
    op.create_index(op.f("ix_clips_proxy_sha256"), "clips", ["proxy_sha256"], unique=False)
    op.create_index(op.f("ix_clips_set_id"), "clips", ["set_id"], unique=False)
    op.create_index(op.f("ix_clips_sha256"), "clips", ["sha256"], unique=False)

    op.create_table(
        "consents",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("lifter_id", sa.String(length=32), nullable=True),
        sa.Column("set_id", sa.String(length=32), nullable=True),
        sa.Column("use", sa.String(length=24), nullable=False),
        sa.Column("wording", sa.Text(), server_default="", nullable=False),
        sa.Column("given_at", Instant(), nullable=False),
        sa.Column("given_by", sa.String(length=24), server_default="lifter", nullable=False),
        sa.Column("revoked_at", Instant(), nullable=True),
        sa.CheckConstraint("given_by IN ('lifter', 'guardian', 'coach_noted')", name=op.f("ck_consents_given_by")),
        sa.CheckConstraint(
            "use IN ('review', 'public_page', 'edition', 'open_set', 'keep_original', 'voice', 'name', "
            "'face', 'sound', 'pain', 'injury', 'body_mass', 'age')",
            name=op.f("ck_consents_use"),
        ),
        sa.CheckConstraint("lifter_id IS NOT NULL OR set_id IS NOT NULL", name=op.f("ck_consents_of_somebody")),
        sa.ForeignKeyConstraint(["lifter_id"], ["lifters.id"], name=op.f("fk_consents_lifter_id_lifters")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_consents_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consents")),
    )
    op.create_index(op.f("ix_consents_lifter_id"), "consents", ["lifter_id"], unique=False)
    op.create_index(op.f("ix_consents_set_id"), "consents", ["set_id"], unique=False)

    op.create_table(
        "edition_segments",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("edition_id", sa.String(length=32), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=True),
        sa.Column("kind", sa.String(length=24), server_default="review", nullable=False),
        sa.Column("target_s", sa.Float(), nullable=True),
        sa.Column("script", sa.JSON(none_as_null=True), nullable=True),
        sa.CheckConstraint("kind IN ('review', 'recap', 'open')", name=op.f("ck_edition_segments_kind")),
        sa.ForeignKeyConstraint(
            ["edition_id"], ["editions.id"], name=op.f("fk_edition_segments_edition_id_editions")
        ),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_edition_segments_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edition_segments")),
    )
    op.create_index(op.f("ix_edition_segments_edition_id"), "edition_segments", ["edition_id"], unique=False)
    op.create_index(op.f("ix_edition_segments_set_id"), "edition_segments", ["set_id"], unique=False)

    op.create_table(
        "open_sets",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=False),
        sa.Column("edition_id", sa.String(length=32), nullable=True),
        sa.Column("opens_at", Instant(), nullable=True),
        sa.Column("closes_at", Instant(), nullable=True),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("state", sa.String(length=24), server_default="preparing", nullable=False),
        sa.CheckConstraint(
            "state IN ('preparing', 'open', 'closed', 'recapped', 'withdrawn')", name=op.f("ck_open_sets_state")
        ),
        sa.ForeignKeyConstraint(["edition_id"], ["editions.id"], name=op.f("fk_open_sets_edition_id_editions")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_open_sets_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_open_sets")),
        sa.UniqueConstraint("token", name=op.f("uq_open_sets_token")),
    )
    op.create_index(op.f("ix_open_sets_edition_id"), "open_sets", ["edition_id"], unique=False)
    op.create_index(op.f("ix_open_sets_set_id"), "open_sets", ["set_id"], unique=False)

    op.create_table(
        "publications",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=True),
        sa.Column("edition_id", sa.String(length=32), nullable=True),
        sa.Column("kind", sa.String(length=24), server_default="lifter", nullable=False),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("audience", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("published_at", Instant(), nullable=False),
        sa.Column("revoked_at", Instant(), nullable=True),
        sa.CheckConstraint(
            "kind IN ('lifter', 'public', 'edition', 'open_set')", name=op.f("ck_publications_kind")
        ),
        sa.ForeignKeyConstraint(["edition_id"], ["editions.id"], name=op.f("fk_publications_edition_id_editions")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_publications_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_publications")),
        sa.UniqueConstraint("token", name=op.f("uq_publications_token")),
    )
    op.create_index(op.f("ix_publications_edition_id"), "publications", ["edition_id"], unique=False)
    op.create_index(op.f("ix_publications_set_id"), "publications", ["set_id"], unique=False)

    op.create_table(
        "review_edits",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("edit_id", sa.String(length=64), nullable=False),
        sa.Column("edit", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("by", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_review_edits_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review_edits")),
        sa.UniqueConstraint("set_id", "edit_id", name=op.f("uq_review_edits_set_id_edit_id")),
        sa.UniqueConstraint("set_id", "n", name=op.f("uq_review_edits_set_id_n")),
    )
    op.create_index(op.f("ix_review_edits_set_id"), "review_edits", ["set_id"], unique=False)

    op.create_table(
        "takes",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("audio_sha256", sa.String(length=64), nullable=True),
        sa.Column("events", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("duration_s", sa.Float(), nullable=True),
        sa.Column("covers_from_s", sa.Float(), nullable=True),
        sa.Column("covers_to_s", sa.Float(), nullable=True),
        sa.Column("replaces", sa.String(length=32), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("deleted_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["audio_sha256"], ["blobs.sha256"], name=op.f("fk_takes_audio_sha256_blobs")),
        sa.ForeignKeyConstraint(["replaces"], ["takes.id"], name=op.f("fk_takes_replaces_takes")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_takes_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_takes")),
        sa.UniqueConstraint("set_id", "n", name=op.f("uq_takes_set_id_n")),
    )
    op.create_index(op.f("ix_takes_audio_sha256"), "takes", ["audio_sha256"], unique=False)
    op.create_index(op.f("ix_takes_replaces"), "takes", ["replaces"], unique=False)
    op.create_index(op.f("ix_takes_set_id"), "takes", ["set_id"], unique=False)

    op.create_table(
        "answers",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("open_set_id", sa.String(length=32), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("body", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("state", sa.String(length=24), server_default="held", nullable=False),
        sa.Column("grouped", sa.JSON(none_as_null=True), nullable=True),
        sa.CheckConstraint("state IN ('held', 'approved', 'refused')", name=op.f("ck_answers_state")),
        sa.ForeignKeyConstraint(["open_set_id"], ["open_sets.id"], name=op.f("fk_answers_open_set_id_open_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answers")),
        sa.UniqueConstraint("open_set_id", "token_hash", name=op.f("uq_answers_open_set_id_token_hash")),
    )
    op.create_index(op.f("ix_answers_open_set_id"), "answers", ["open_set_id"], unique=False)

    op.create_table(
        "follow_ups",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("change_id", sa.String(length=32), nullable=False),
        sa.Column("set_id", sa.String(length=32), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("verdict", sa.String(length=24), nullable=True),
        sa.Column("detail", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("asked_at", Instant(), nullable=True),
        sa.Column("done_at", Instant(), nullable=True),
        sa.CheckConstraint("verdict IN ('held', 'not_held', 'cannot_tell')", name=op.f("ck_follow_ups_verdict")),
        sa.ForeignKeyConstraint(["change_id"], ["changes.id"], name=op.f("fk_follow_ups_change_id_changes")),
        sa.ForeignKeyConstraint(["set_id"], ["sets.id"], name=op.f("fk_follow_ups_set_id_sets")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_follow_ups")),
    )
    op.create_index(op.f("ix_follow_ups_change_id"), "follow_ups", ["change_id"], unique=False)
    op.create_index(op.f("ix_follow_ups_due_on"), "follow_ups", ["due_on"], unique=False)
    op.create_index(op.f("ix_follow_ups_set_id"), "follow_ups", ["set_id"], unique=False)

    op.create_table(
        "measurements",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("clip_id", sa.String(length=32), nullable=False),
        sa.Column("input_key", sa.String(length=64), nullable=False),
        sa.Column("step_versions", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("repairs_to", sa.Integer(), server_default="0", nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("summary", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("is_current", sa.Boolean(), server_default=sa.text("1"), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["clip_id"], ["clips.id"], name=op.f("fk_measurements_clip_id_clips")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurements")),
        sa.UniqueConstraint("clip_id", "input_key", name=op.f("uq_measurements_clip_id_input_key")),
    )
    op.create_index(op.f("ix_measurements_clip_id"), "measurements", ["clip_id"], unique=False)
    op.create_index(
        "uq_measurements_current",
        "measurements",
        ["clip_id"],
        unique=True,
        sqlite_where=sa.text("is_current IS 1"),
        postgresql_where=sa.text("is_current IS 1"),
    )

    op.create_table(
        "repairs",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("clip_id", sa.String(length=32), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("body", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.Column("undone_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["clip_id"], ["clips.id"], name=op.f("fk_repairs_clip_id_clips")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_repairs")),
        sa.UniqueConstraint("clip_id", "n", name=op.f("uq_repairs_clip_id_n")),
    )
    op.create_index(op.f("ix_repairs_clip_id"), "repairs", ["clip_id"], unique=False)
