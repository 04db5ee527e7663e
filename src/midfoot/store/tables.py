"""The tables of a workspace: SQLAlchemy Core. What stands here is the truth; migrations bring old ones up to it.

Ids are text of 16 hexadecimal digits (`new_id`), instants always have a zone, JSON is what the converters of
`store/` give. Rows that say what somebody did (edits, repairs, consents, audit) are only ever added.
"""

from __future__ import annotations

import sqlalchemy as sa

from midfoot.store.columns import Instant, at, flag, json, key, now, text, to, words

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = sa.MetaData(naming_convention=NAMING)

SET_STATES = ("new", "measuring", "ready", "failed")
SOURCES = ("drop", "watch", "cli", "intake", "demo")
PICKS = ("none", "review", "edition")
WAITS = ("none", "refilm", "answer")
CHANGE_STATES = ("open", "held", "not_held", "cannot_tell", "closed")
USES_STORED = ("review", "public_page", "edition", "open_set", "keep_original", "voice", "name", "face", "sound",
               "pain", "injury", "body_mass", "age")  # fmt: skip
GIVERS = ("lifter", "guardian", "coach_noted")
VIEWS = ("side", "front_oblique", "rear_oblique", "front", "rear", "unknown")
DECISIONS = ("open", "kept", "reworded", "dropped", "accepted", "added")
JOB_STATES = ("queued", "running", "done", "failed", "cancelled")

lifters = sa.Table(
    "lifters", metadata, key(),
    text("name"),
    text("shown_name"),
    sa.Column("minor", sa.Boolean),  # NULL: not said
    text("guardian"),
    sa.Column("stature_m", sa.Float),
    *words("sex", "female", "male", "mx"),
    flag("blur_lifter"),
    json("depth_marks"),
    text("notes"),
    sa.Column("competition_on", sa.Date),
    text("competition_name"),
    text("competition_rules"),
    at("created_at", stamped=True),
)  # fmt: skip

blobs = sa.Table(
    "blobs", metadata,
    sa.Column("sha256", sa.String(64), primary_key=True),
    sa.CheckConstraint("length(sha256) = 64", name="sha256"),
    sa.Column("bytes", sa.BigInteger, nullable=False),
    text("media_type"),
    at("created_at", stamped=True),
    at("kept_until"),  # NULL: by the rule of retention, or without end where a reason stands
    text("keep_reason"),
    at("gone_at"),  # when the content was deleted by the rule; what points here still knows what it was
)  # fmt: skip

sets = sa.Table(
    "sets", metadata, key(),
    to("lifters.id", "lifter_id", null=True),
    *words("lift", "squat", "bench", "deadlift"),
    text("variation"),
    sa.Column("load_kg", sa.Float),
    sa.Column("received_at", Instant, nullable=False, default=now, index=True),
    *words("source", *SOURCES, default="drop"),
    json("context"),
    flag("context_confirmed"),
    text("pasted_text"),
    *words("state", *SET_STATES, default="new"),
    *words("picked", *PICKS, default="none"),
    *words("waiting", *WAITS, default="none"),
    text("waiting_note"),
    at("archived_at"),
    # no foreign key: clips point at sets, and a circle could neither be filled nor erased in one pass
    sa.Column("main_clip_id", sa.String(32)),
    to("sets.id", "accepted_reference_set_id", null=True),
)  # fmt: skip

clips = sa.Table(
    "clips", metadata, key(),
    to("sets.id", "set_id"),
    to("blobs.sha256", "sha256"),
    text("received_name"),
    sa.Column("bytes", sa.BigInteger),
    sa.Column("duration_s", sa.Float),
    sa.Column("width_px", sa.Integer),
    sa.Column("height_px", sa.Integer),
    text("view_said"),
    sa.Column("position", sa.Integer, nullable=False, server_default="0", default=0),
    to("blobs.sha256", "frame_sha256", null=True),
    to("blobs.sha256", "proxy_sha256", null=True),
    to("blobs.sha256", "times_sha256", null=True),  # when each frame of the proxy stands, as JSON
    json("probe"),
    text("error"),
    at("added_at", stamped=True),
)  # fmt: skip

measurements = sa.Table(
    "measurements", metadata, key(),
    to("clips.id", "clip_id"),
    sa.Column("input_key", sa.String(64), nullable=False),
    json("step_versions"),
    sa.Column("repairs_to", sa.Integer, nullable=False, default=0, server_default="0"),
    sa.Column("folder", sa.Text, nullable=False),  # beneath the workspace, with forward slashes
    json("summary"),
    json("numbers"),
    # findings that this measurement could show, sorted, a space between them; NULL until somebody looked
    sa.Column("judged", sa.Text),
    sa.Column("view", sa.String(24)),
    flag("is_current", default=True),
    at("created_at", stamped=True),
    sa.UniqueConstraint("clip_id", "input_key"),
)  # fmt: skip
sa.Index(
    "uq_measurements_current", measurements.c.clip_id, unique=True,
    sqlite_where=measurements.c.is_current.is_(True), postgresql_where=measurements.c.is_current.is_(True),
)  # fmt: skip
# what could be judged in all sets is counted without reading the numbers beside it
sa.Index("ix_measurements_judged", measurements.c.clip_id, measurements.c.is_current, measurements.c.judged,
         measurements.c.view)  # fmt: skip

repairs = sa.Table(
    "repairs", metadata, key(),
    to("clips.id", "clip_id"),
    sa.Column("n", sa.Integer, nullable=False),
    sa.Column("kind", sa.String(24), nullable=False),
    json("body", null=False),
    at("at", stamped=True),
    at("undone_at"),
    sa.UniqueConstraint("clip_id", "n"),
)  # fmt: skip

review_edits = sa.Table(
    "review_edits", metadata, key(),
    to("sets.id", "set_id"),
    sa.Column("n", sa.Integer, nullable=False),
    sa.Column("edit_id", sa.String(64), nullable=False),
    json("edit", null=False),
    at("at", stamped=True),
    text("by"),
    sa.UniqueConstraint("set_id", "n"),
    sa.UniqueConstraint("set_id", "edit_id"),
)  # fmt: skip

cases = sa.Table(  # what was found in a set and what the coach made of it, with the figures of that day
    "cases", metadata, key(),
    to("sets.id", "set_id"),
    sa.Column("part_id", sa.String(128), nullable=False),
    sa.Column("finding", sa.String(64), nullable=False),
    *words("by", "measured", "coach", default="measured"),
    text("title"),
    sa.Column("threshold", sa.String(64)),  # NULL where no size was measured
    sa.Column("unit", sa.String(16)),
    sa.Column("size", sa.Float),
    sa.Column("sd", sa.Float),
    sa.Column("floor", sa.Float),  # the size that counted then, in this view
    # how many times the threshold's own floor that is
    sa.Column("times_floor", sa.Float, nullable=False, default=1.0, server_default="1"),
    *words("confidence", "sure", "likely", "hint"),
    sa.Column("rep", sa.Integer),
    sa.Column("at_s", sa.Float),
    *words("view", *VIEWS),
    flag("raised", default=True),  # false: the set as it is measured now does not show it
    *words("decision", *DECISIONS, default="open"),
    text("reason"),
    sa.Column("until", sa.Date),
    sa.Column("up_to_kg", sa.Float),
    at("noted_at", stamped=True),
    at("decided_at"),
    sa.UniqueConstraint("set_id", "part_id"),
    # counting over all sets reads these and no row
    sa.Index("ix_cases_counted", "finding", "by", "decision", "raised", "confidence", "set_id"),
)  # fmt: skip

changes = sa.Table(
    "changes", metadata, key(),
    to("sets.id", "set_id"),
    to("lifters.id", "lifter_id", null=True),
    sa.Column("part_id", sa.String(128), nullable=False),
    text("text"),
    json("prediction"),
    json("try_at"),
    at("opened_at", stamped=True),
    *words("state", *CHANGE_STATES, default="open"),
    at("closed_at"),
    sa.UniqueConstraint("set_id", "part_id"),
)  # fmt: skip

follow_ups = sa.Table(
    "follow_ups", metadata, key(),
    to("changes.id", "change_id"),
    to("sets.id", "set_id", null=True),  # the later set, once there is one
    sa.Column("due_on", sa.Date, index=True),
    *words("verdict", "held", "not_held", "cannot_tell"),
    json("detail"),
    at("asked_at"),
    at("done_at"),
)  # fmt: skip

consents = sa.Table(
    "consents", metadata, key(),
    to("lifters.id", "lifter_id", null=True),
    to("sets.id", "set_id", null=True),
    *words("use", *USES_STORED, null=False),
    text("wording"),
    at("given_at", stamped=True),
    *words("given_by", *GIVERS, default="lifter"),
    at("revoked_at"),
    sa.CheckConstraint("lifter_id IS NOT NULL OR set_id IS NOT NULL", name="of_somebody"),
)  # fmt: skip

takes = sa.Table(
    "takes", metadata, key(),
    to("sets.id", "set_id"),
    sa.Column("n", sa.Integer, nullable=False),
    to("blobs.sha256", "audio_sha256", null=True),  # NULL once deleted: the sound goes with the take
    json("events"),
    sa.Column("duration_s", sa.Float),
    sa.Column("covers_from_s", sa.Float),
    sa.Column("covers_to_s", sa.Float),
    to("takes.id", "replaces", null=True),
    at("created_at", stamped=True),
    at("deleted_at"),
    sa.UniqueConstraint("set_id", "n"),
)  # fmt: skip

publications = sa.Table(
    "publications", metadata, key(),
    to("sets.id", "set_id", null=True),
    to("editions.id", "edition_id", null=True),
    *words("kind", "lifter", "public", "edition", "open_set", default="lifter"),
    sa.Column("token", sa.String(64), nullable=False, unique=True),
    sa.Column("folder", sa.Text, nullable=False),
    json("audience"),
    at("published_at", stamped=True),
    at("revoked_at"),
)  # fmt: skip

editions = sa.Table(
    "editions", metadata, key(),
    text("title"),
    *words("state", "preparing", "ready", "exported", "archived", default="preparing"),
    sa.Column("planned_on", sa.Date),
    at("created_at", stamped=True),
)  # fmt: skip

edition_segments = sa.Table(
    "edition_segments", metadata, key(),
    to("editions.id", "edition_id"),
    sa.Column("position", sa.Integer, nullable=False),
    to("sets.id", "set_id", null=True),
    *words("kind", "review", "recap", "open", default="review"),
    sa.Column("target_s", sa.Float),
    json("script"),
)  # fmt: skip

open_sets = sa.Table(
    "open_sets", metadata, key(),
    to("sets.id", "set_id"),
    to("editions.id", "edition_id", null=True),
    at("opens_at"),
    at("closes_at"),
    sa.Column("token", sa.String(64), nullable=False, unique=True),
    *words("state", "preparing", "open", "closed", "recapped", "withdrawn", default="preparing"),
)  # fmt: skip

answers = sa.Table(
    "answers", metadata, key(),
    to("open_sets.id", "open_set_id"),
    sa.Column("token_hash", sa.String(64), nullable=False),
    at("at", stamped=True),
    json("body", null=False),
    *words("state", "held", "approved", "refused", default="held"),
    json("grouped"),
    sa.UniqueConstraint("open_set_id", "token_hash"),
)  # fmt: skip

links = sa.Table(
    "links", metadata, key(),
    sa.Column("token_hash", sa.String(64), nullable=False, unique=True),
    sa.Column("scope", sa.String(32), nullable=False),
    to("lifters.id", "lifter_id", null=True),
    json("limits"),
    at("created_at", stamped=True),
    at("expires_at"),
    at("revoked_at"),
    sa.Column("uses", sa.Integer, nullable=False, default=0, server_default="0"),
    sa.Column("max_uses", sa.Integer),
)  # fmt: skip

sessions = sa.Table(
    "sessions", metadata, key(),
    sa.Column("token_hash", sa.String(64), nullable=False, unique=True),
    text("who"),
    at("created_at", stamped=True),
    at("seen_at"),
    at("expires_at"),
    at("revoked_at"),
)  # fmt: skip

settings = sa.Table(
    "settings", metadata,
    sa.Column("key", sa.String(64), primary_key=True),
    json("value"),
)  # fmt: skip

jobs = sa.Table(
    "jobs", metadata, key(),
    sa.Column("kind", sa.String(24), nullable=False),
    sa.Column("key", sa.String(160), nullable=False),
    json("payload"),
    *words("state", *JOB_STATES, default="queued"),
    sa.Column("priority", sa.Integer, nullable=False, default=0, server_default="0"),
    sa.Column("attempt", sa.Integer, nullable=False, default=0, server_default="0"),
    sa.Column("max_attempts", sa.Integer, nullable=False, default=3, server_default="3"),
    at("lease_until"),
    at("heartbeat_at"),
    sa.Column("worker", sa.String(64)),
    sa.Column("fence", sa.Integer, nullable=False, default=0, server_default="0"),
    sa.Column("progress", sa.Float),
    text("message"),
    text("error"),
    json("result"),
    at("not_before"),
    at("cancel_asked_at"),
    at("created_at", stamped=True),
    at("started_at"),
    at("finished_at"),
)  # fmt: skip
sa.Index("ix_jobs_next", jobs.c.state, jobs.c.priority, jobs.c.created_at)
live = jobs.c.state.in_(("queued", "running"))
sa.Index("uq_jobs_live", jobs.c.kind, jobs.c.key, unique=True, sqlite_where=live, postgresql_where=live)

audit = sa.Table(
    "audit", metadata, key(),
    sa.Column("at", Instant, nullable=False, default=now, index=True),
    text("who"),
    sa.Column("what", sa.String(48), nullable=False),
    sa.Column("subject_kind", sa.String(32), nullable=False, default="", server_default=""),
    sa.Column("subject_id", sa.String(64), nullable=False, default="", server_default=""),
    json("detail"),
    sa.Index("ix_audit_subject", "subject_kind", "subject_id"),
)  # fmt: skip
