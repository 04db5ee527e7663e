"""PostgreSQL by URL is not made impossible: its dialect writes every table and shared query (no server here)."""

from __future__ import annotations

from datetime import UTC, datetime

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from midfoot.store.columns import Instant
from midfoot.store.retention import pointed_at, used
from midfoot.store.tables import measurements, metadata, sets

PG = postgresql.dialect()


def test_every_table_and_index_can_be_written() -> None:
    for table in metadata.sorted_tables:
        made = str(CreateTable(table).compile(dialect=PG))
        assert table.name in made
        for index in table.indexes:
            assert str(CreateIndex(index).compile(dialect=PG)).startswith("CREATE")
    live = next(i for i in metadata.tables["jobs"].indexes if i.name == "uq_jobs_live")
    assert "WHERE state IN ('queued', 'running')" in str(CreateIndex(live).compile(dialect=PG))
    assert "TIMESTAMP WITH TIME ZONE" in str(CreateTable(sets).compile(dialect=PG))


def test_instants_are_instants_there() -> None:
    moment = datetime(2031, 5, 24, tzinfo=UTC)

    assert Instant().process_bind_param(moment, PG) == moment
    assert Instant().process_result_value(moment, PG) == moment


def test_shared_queries_can_be_written() -> None:
    level = measurements.c.numbers["levels"]["range_of_motion_mm"]
    for query in (sa.select(sets).where(used()), pointed_at(), sa.select(level)):
        assert "SELECT" in str(query.compile(dialect=PG))
