"""Laws of the workspace: a log only grows, the newest word on a consent counts, and nothing is lost or left over
whatever comes after what."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
)

from midfoot.desk.consent import note, standing, take_back
from midfoot.desk.erase import erase_lifter, erase_set
from midfoot.desk.keeping import put_back, retire
from midfoot.records.context import Competition, Consent, Context
from midfoot.records.review import EDITS, LENGTHS, MEANINGS, NEEDS, POINTS_OF, SECTIONS, Edit
from midfoot.store import Workspace, context_from_json, context_to_json, tables
from midfoot.store.backup import back_up
from midfoot.store.deep import look_through
from midfoot.store.retention import collect
from midfoot.store.rows import EditClash, append_edit, edits_of, note_blob

START = datetime(2031, 1, 1, tzinfo=UTC)
FEW = settings(max_examples=5, stateful_step_count=20, deadline=None, derandomize=True,
               suppress_health_check=list(HealthCheck))  # fmt: skip
words = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=12)
numbers = st.floats(-1e4, 1e4, allow_subnormal=False).map(lambda x: round(x, 6) + 0.0)
days = st.dates(date(2000, 1, 1), date(2100, 1, 1))


@st.composite
def edits(draw: st.DrawFn) -> Edit:
    """Any edit that the record allows."""
    kind = draw(st.sampled_from(EDITS))
    needed = {name for k, name in NEEDS if k == kind}
    meaning = draw(st.sampled_from(MEANINGS)) if "meaning" in needed or draw(st.booleans()) else None
    points = POINTS_OF[meaning] if meaning else 0
    return Edit(
        id=draw(words), kind=kind,
        part=draw(words) if "part" in needed or draw(st.booleans()) else "",
        reps=tuple(draw(st.lists(st.integers(1, 20), max_size=3))),
        at_s=tuple(draw(st.lists(numbers, min_size="at_s" in needed, max_size=3))),
        length=draw(st.sampled_from(LENGTHS)),
        text=draw(words) if "text" in needed or draw(st.booleans()) else "",
        reason=draw(words) if "reason" in needed or draw(st.booleans()) else "",
        until=draw(days) if kind == "accept" or draw(st.booleans()) else None,
        up_to_kg=draw(st.none() | numbers),
        section=draw(st.sampled_from(SECTIONS)) if "section" in needed or draw(st.booleans()) else None,
        about=draw(st.just("") | words), try_text=draw(st.just("") | words), meaning=meaning,
        points_px=tuple(draw(st.lists(st.tuples(numbers, numbers), min_size=points, max_size=points))),
        order=tuple(draw(st.lists(words, min_size="order" in needed, max_size=4))),
        undoes=draw(words) if "undoes" in needed else "",
    )  # fmt: skip


@st.composite
def contexts(draw: st.DrawFn) -> Context:
    """What may be said of a set."""
    maybe = st.none() | words
    return Context(
        title=draw(maybe), lifter=draw(maybe), age_years=draw(st.none() | st.integers(10, 90)),
        body_mass_kg=draw(st.none() | numbers), lift=draw(st.sampled_from((None, "squat", "bench", "deadlift"))),
        load_kg=draw(st.none() | numbers), rpe=draw(st.sampled_from((None, 7.5, 10.0))),
        equipment=tuple(draw(st.lists(words, max_size=2))), spotter=draw(maybe), pain=draw(st.just("") | maybe),
        working_on=tuple(draw(st.lists(words, max_size=2))), question=draw(maybe),
        competition=draw(st.none() | st.builds(Competition, st.none() | days, st.none() | words, words)),
        consents=tuple(draw(st.lists(st.builds(Consent, st.sampled_from(("public", "face")), words,
                                               st.none() | days), max_size=2))),
        read_on=draw(st.none() | days),
    )  # fmt: skip


@pytest.fixture(scope="module")
def one(empty_workspace: Path, tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("laws") / "w"
    shutil.copytree(empty_workspace, folder)
    with Workspace.open(folder) as opened:
        yield opened


@given(edit=edits())
def test_an_edit_comes_back_as_it_went_in(one: Workspace, edit: Edit) -> None:
    own = hashlib.sha256(os.urandom(8)).hexdigest()[:16]
    with one.write() as c:
        c.execute(tables.sets.insert().values(id=own))
        append_edit(c, own, edit)

    with one.read() as c:
        assert edits_of(c, own) == (edit,)


@given(said=contexts(), pasted=words)
def test_what_was_said_comes_back_as_it_went_in(one: Workspace, said: Context, pasted: str) -> None:
    own = hashlib.sha256(os.urandom(8)).hexdigest()[:16]
    with one.write() as c:
        c.execute(tables.sets.insert().values(id=own, context=context_to_json(said), pasted_text=pasted))

    with one.read() as c:
        row = c.execute(sa.select(tables.sets).where(tables.sets.c.id == own)).one()
        assert context_from_json(row.context) == said
        assert row.pasted_text == pasted


@given(instants=st.lists(st.datetimes(datetime(1, 1, 2), datetime(9999, 12, 30), timezones=st.timezones()),
                         min_size=2, max_size=6))  # fmt: skip
def test_instants_sort_in_the_database_as_they_do_in_time(one: Workspace, instants: list[datetime]) -> None:
    with one.write() as c:
        c.execute(tables.audit.delete())
        c.execute(tables.audit.insert(), [{"what": "x", "at": i} for i in instants])

    with one.read() as c:
        back = list(c.execute(sa.select(tables.audit.c.at).order_by(tables.audit.c.at)).scalars())
    assert back == sorted(i.astimezone(UTC) for i in instants)


class Log(RuleBasedStateMachine):
    """Edits of two sets against two plain lists, with units that fail, edits sent twice and reopening between."""

    template: Path

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        shutil.copytree(self.template, self.folder / "w")
        self.workspace = Workspace.open(self.folder / "w")
        self.model: dict[str, list[Edit]] = {"s1": [], "s2": []}
        with self.workspace.write() as c:
            c.execute(tables.sets.insert(), [{"id": "s1"}, {"id": "s2"}])

    @rule(own=st.sampled_from(("s1", "s2")), edit=edits())
    def add(self, own: str, edit: Edit) -> None:
        known = {e.id: e for e in self.model[own]}
        try:
            with self.workspace.write() as c:
                n = append_edit(c, own, edit)
        except EditClash:
            assert known[edit.id] != edit
            return
        if edit.id in known:
            assert known[edit.id] == edit
        else:
            self.model[own].append(edit)
            assert n == len(self.model[own])

    @rule(own=st.sampled_from(("s1", "s2")), data=st.data())
    def send_again(self, own: str, data: st.DataObject) -> None:
        if self.model[own]:
            n = data.draw(st.integers(1, len(self.model[own])))
            with self.workspace.write() as c:
                assert append_edit(c, own, self.model[own][n - 1]) == n

    @rule(own=st.sampled_from(("s1", "s2")), edit=edits())
    def fail_in_the_middle(self, own: str, edit: Edit) -> None:
        with pytest.raises((ZeroDivisionError, EditClash)), self.workspace.write() as c:
            append_edit(c, own, edit)
            raise ZeroDivisionError

    @rule()
    def reopen(self) -> None:
        self.workspace.close()
        self.workspace = Workspace.open(self.folder / "w")

    @invariant()
    def is_the_list(self) -> None:
        with self.workspace.read() as c:
            for own, expected in self.model.items():
                assert list(edits_of(c, own)) == expected

    def teardown(self) -> None:
        if hasattr(self, "workspace"):
            self.workspace.close()
            shutil.rmtree(self.folder)


class Said(RuleBasedStateMachine):
    """Consents of two sets of one lifter: the newest word counts, and taking back never gives anything."""

    template: Path
    which = st.sampled_from(("s1", "s2"))
    uses = st.sampled_from(("public_page", "edition", "face"))

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        shutil.copytree(self.template, self.folder / "w")
        self.workspace = Workspace.open(self.folder / "w")
        self.word: dict[tuple[str, str], str] = {}
        with self.workspace.write() as c:
            c.execute(tables.lifters.insert().values(id="l1", name="One"))
            c.execute(tables.sets.insert(), [{"id": s, "lifter_id": "l1"} for s in ("s1", "s2")])

    @rule(own=which, use=uses)
    def allow(self, own: str, use: str) -> None:
        with self.workspace.write() as c:
            note(c, own, use)
        self.word[own, use] = "given"

    @rule(use=uses)
    def allow_for_all(self, use: str) -> None:
        with self.workspace.write() as c:
            c.execute(tables.consents.insert().values(lifter_id="l1", use=use, given_by="lifter", wording="yes"))
        self.word |= {("s1", use): "given", ("s2", use): "given"}

    @rule(own=which, use=uses)
    def take_it_back(self, own: str, use: str) -> None:
        with self.workspace.write() as c:
            take_back(c, own, use)
        other = "s2" if own == "s1" else "s1"
        self.word[own, use] = "back"
        if self.word.get((other, use)) == "given":
            self.word[other, use] = "either"  # given for all it is taken back for all, given for itself it stands

    @invariant()
    def the_newest_word_counts(self) -> None:
        with self.workspace.read() as c:
            for own in ("s1", "s2"):
                stands = standing(c, own, "l1", Context())
                for use in ("public_page", "edition", "face"):
                    word = self.word.get((own, use), "back")
                    assert word == "either" or (use in stands) == (word == "given")

    @invariant()
    def every_word_is_kept_with_its_time(self) -> None:
        with self.workspace.read() as c:
            rows = c.execute(sa.select(tables.consents)).all()
        assert all(r.wording and r.given_at and r.given_by for r in rows)
        assert all(r.revoked_at is None or r.revoked_at >= r.given_at for r in rows)

    def teardown(self) -> None:
        if hasattr(self, "workspace"):
            self.workspace.close()
            shutil.rmtree(self.folder)


class Keeping(RuleBasedStateMachine):
    """Clips come in, sets are used or not, lifters go, time passes, copies are made and put back.

    Against a model of which set has which content: what is pointed at is there, what was erased is nowhere, and
    the workspace looked through is sound.
    """

    template: Path

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        shutil.copytree(self.template, self.folder / "w")
        self.workspace = Workspace.open(self.folder / "w")
        self.now = START
        self.lifters: set[str] = set()
        self.sets: dict[str, tuple[str, bytes, datetime, bool]] = {}
        self.gone: set[str] = set()
        self.erased: set[str] = set()
        self.count = 0

    def _id(self, what: str) -> str:
        self.count += 1
        return f"{what}-{self.count:04d}-{hashlib.sha256(str(self.count).encode()).hexdigest()[:8]}"

    @rule()
    def lifter(self) -> None:
        own = self._id("lifter")
        with self.workspace.write() as c:
            c.execute(tables.lifters.insert().values(id=own, name=f"Name of {own}"))
        self.lifters.add(own)

    @precondition(lambda self: self.lifters)
    @rule(data=st.data(), content=st.sampled_from((b"one", b"two", b"three")), used=st.booleans())
    def receive(self, data: st.DataObject, content: bytes, used: bool) -> None:
        of = data.draw(st.sampled_from(sorted(self.lifters)))
        own = self._id("set")
        sha256 = self.workspace.blobs.put([content])
        with self.workspace.write() as c:
            note_blob(c, sha256, len(content))
            c.execute(tables.blobs.update().values(created_at=START))
            c.execute(tables.sets.insert().values(id=own, lifter_id=of, received_at=self.now,
                                                  picked="review" if used else "none"))  # fmt: skip
            c.execute(tables.clips.insert().values(id=f"clip-of-{own}", set_id=own, sha256=sha256))
            c.execute(tables.sets.update().where(tables.sets.c.id == own).values(main_clip_id=f"clip-of-{own}"))
        self.workspace.review(own).mkdir(parents=True)
        (self.workspace.review(own) / "script.txt").write_text(own)
        self.sets[own] = (of, content, self.now, used)
        self.gone.discard(sha256)

    @precondition(lambda self: self.sets)
    @rule(data=st.data())
    def one_set_goes(self, data: st.DataObject) -> None:
        own = data.draw(st.sampled_from(sorted(self.sets)))
        erase_set(self.workspace, own)
        del self.sets[own]
        self.erased.add(own)

    @precondition(lambda self: self.lifters)
    @rule(data=st.data())
    def a_lifter_goes(self, data: st.DataObject) -> None:
        who = data.draw(st.sampled_from(sorted(self.lifters)))
        erase_lifter(self.workspace, who)
        mine = {s for s, row in self.sets.items() if row[0] == who}
        self.erased |= {who, *mine}
        self.lifters.discard(who)
        self.sets = {s: row for s, row in self.sets.items() if s not in mine}

    @rule(by=st.integers(1, 200))
    def time_passes(self, by: int) -> None:
        self.now += timedelta(days=by)
        retire(self.workspace, self.now, after=timedelta(0))
        late = {s for s, (_, _, at, used) in self.sets.items() if not used and self.now - at > timedelta(days=90)}
        self.erased |= late
        self.sets = {s: row for s, row in self.sets.items() if s not in late}
        for content in {row[1] for row in self.sets.values()}:
            last = max(row[2] for row in self.sets.values() if row[1] == content)
            if self.now - last > timedelta(days=365):
                self.gone.add(hashlib.sha256(content).hexdigest())

    @rule()
    def clean(self) -> None:
        for sha256 in self.workspace.blobs.all():
            os.utime(self.workspace.blobs.path(sha256), (time.time() - 7200,) * 2)
        collect(self.workspace)

    @rule(name=st.sampled_from(("copies", "one.tar")))
    def copy_and_put_back(self, name: str) -> None:
        (self.folder / "one.tar").unlink(missing_ok=True)
        assert back_up(self.workspace, self.folder / name, keep=2).bad == ()
        self.workspace.close()
        shutil.rmtree(self.folder / "w")
        put_back(self.folder / name, self.folder / "w")
        self.workspace = Workspace.open(self.folder / "w")

    @invariant()
    def nothing_is_lost(self) -> None:
        if not hasattr(self, "workspace"):
            return
        with self.workspace.read() as c:
            assert set(c.execute(sa.select(tables.sets.c.id)).scalars()) == set(self.sets)
            assert set(c.execute(sa.select(tables.lifters.c.id)).scalars()) == self.lifters
        for _, content, _, _ in self.sets.values():
            sha256 = hashlib.sha256(content).hexdigest()
            assert self.workspace.blobs.has(sha256) == (sha256 not in self.gone)

    @invariant()
    def nothing_is_wrong(self) -> None:
        if hasattr(self, "workspace"):
            assert [t for t in look_through(self.workspace) if t.kind == "wrong"] == []

    @invariant()
    def nothing_erased_is_found(self) -> None:
        if not getattr(self, "erased", None):
            return
        for path in (p for p in (self.folder / "w").rglob("*") if p.is_file() and "blobs" not in p.parts):
            content = path.read_bytes()
            assert not [e for e in self.erased if e.encode() in content], path

    def teardown(self) -> None:
        if hasattr(self, "workspace"):
            self.workspace.close()
            shutil.rmtree(self.folder)


@pytest.mark.parametrize("machine", [Log, Said, Keeping])
def test_whatever_comes_after_what(machine: type[RuleBasedStateMachine], empty_workspace: Path) -> None:
    from hypothesis.stateful import run_state_machine_as_test

    machine.template = empty_workspace
    run_state_machine_as_test(machine, settings=FEW)
