"""What stays sharp where all else is blurred: laws of the outline of a made lifter and a made bar."""

from __future__ import annotations

import numpy as np
import pytest
from attrs import evolve

from midfoot.publish.blur import veil_of
from midfoot.publish.sharp import NOTHING, Outline, Sharp, sharp_of
from midfoot.publish.tiles import flattened
from midfoot.records.bar import BarTrack
from midfoot.records.base import Value
from midfoot.records.body import INDEX, SEEN, BodyTrack
from midfoot.records.heads import Heads, HeadTrack

T = np.arange(0, 4, 0.1)
WIDTH, HEIGHT = 640, 480
PLACES = {"shoulder": (300, 180), "hip": (290, 280), "knee": (340, 340), "ankle": (300, 420), "heel": (290, 430),
          "foot_index": (340, 430), "elbow": (330, 230), "wrist": (350, 180), "index": (356, 170)}  # fmt: skip
HEAD = (310.0, 130.0, 30.0)


def body(dx: float = 0.0) -> BodyTrack:
    """Somebody from the side, standing in the left half of the picture; px by hand."""
    xy, state = np.full((len(T), 33, 2), np.nan), np.zeros((len(T), 33))
    for name, (x, y) in {**PLACES, "": HEAD[:2]}.items():
        for side in ("left", "right"):
            key = INDEX[f"{side}_{name}"] if name else INDEX["nose"]
            xy[:, key], state[:, key] = [x + dx, y], SEEN
    flat = np.where(state > 0, 0.9, 0.0)
    return BodyTrack(status="seen", model="full", t_s=T, xy_px=xy, sd_px=flat, state=state, peak=flat,
                     depth_m=flat, world_m=np.zeros((len(T), 33, 3)))  # fmt: skip


def bar() -> BarTrack:
    count = len(T)
    return BarTrack(status="found", source="plate", t_s=T, xy_px=np.tile([352.0, 182.0], (count, 1)),
                    steady_px=np.tile([352.0, 182.0], (count, 1)), sd_px=np.ones((count, 2)),
                    seen=np.ones(count, bool), far_xy_px=np.full((count, 2), np.nan), diameter_px=Value(140, 2),
                    aspect=Value(0.9, 0.02), axis_deg=80.0)  # fmt: skip


def sharp() -> Sharp:
    return sharp_of(body(), bar(), T, np.tile(HEAD, (len(T), 1)))


def test_the_lifter_and_the_plate_stay_sharp_and_nothing_far_from_them() -> None:
    outline = sharp().at(2.0)
    for x, y in (*PLACES.values(), HEAD[:2], (352, 182), (352, 245)):
        assert outline.holds(x, y), (x, y)
    for x, y in ((200, 130), (430, 120), (300, 60), (100, 400), (450, 300)):
        assert not outline.holds(x, y), (x, y)


def test_the_drawn_mask_is_the_outline() -> None:
    outline = sharp().at(2.0)
    mask = outline.mask((HEIGHT, WIDTH), 1.0)
    rng = np.random.default_rng(4)
    points = rng.integers([0, 0], [WIDTH, HEIGHT], (3000, 2))
    held = np.array([outline.holds(float(x), float(y)) for x, y in points])
    drawn = mask[points[:, 1], points[:, 0]] > 0.5
    assert np.mean(held != drawn) < 0.01  # the soft rim and whole pixels
    half = outline.mask((HEIGHT // 2, WIDTH // 2), 0.5)
    assert abs(half.mean() - mask.mean()) < 0.01


def test_a_mirrored_outline_is_the_outline_mirrored() -> None:
    outline = sharp().at(2.0)

    def turn(p: tuple[float, float]) -> tuple[float, float]:
        return WIDTH - 1 - p[0], p[1]

    mirrored = Outline(
        limbs=tuple((turn(a), turn(b), half) for a, b, half in outline.limbs),
        discs=tuple((turn(m), axes, 180.0 - angle) for m, axes, angle in outline.discs),
    )
    apart = np.abs(mirrored.mask((HEIGHT, WIDTH), 1.0)[:, ::-1] - outline.mask((HEIGHT, WIDTH), 1.0))
    assert apart.mean() < 0.004


@pytest.mark.parametrize(
    ("rows", "moved_px", "held"), [((18, 21), 60.0, True), ((10, 30), 0.0, True), ((10, 30), 60.0, False)]
)
def test_a_pause_is_bridged_when_it_is_short_or_the_landmark_comes_back_where_it_was(
    rows: tuple[int, int], moved_px: float, held: bool
) -> None:
    seen = body()
    state, xy = seen.state.copy(), seen.xy_px.copy()
    hands = [INDEX[f"{side}_{j}"] for side in ("left", "right") for j in ("wrist", "index")]
    state[np.ix_(range(*rows), hands)] = 0
    xy[np.ix_(range(rows[1], len(T)), hands, [0])] += moved_px
    one = sharp_of(evolve(seen, state=state, xy_px=xy), None, T, np.tile(HEAD, (len(T), 1)))

    x, y = PLACES["index"]
    assert any(one.at(2.0).holds(x + dx, y) for dx in (0.0, moved_px / 2)) is held


def hidden(*joints: str) -> Sharp:
    """The same, some joints never made out on either side."""
    seen = body()
    state = seen.state.copy()
    state[:, [INDEX[f"{side}_{j}"] for side in ("left", "right") for j in joints]] = 0
    return sharp_of(evolve(seen, state=state), bar(), T, np.tile(HEAD, (len(T), 1)))


def test_a_lifter_whose_shoulders_a_plate_hides_throughout_stays_sharp() -> None:
    """The trunk goes from the hips to the head or the bar, the legs stay, and nothing grows out of its place."""
    for joints in (("shoulder",), ("shoulder", "elbow", "wrist", "index"), ("hip",)):
        outline = hidden(*joints).at(2.0)
        for x, y in ((300, 420), (340, 340), (305, 240), HEAD[:2]):
            assert outline.holds(x, y), (joints, x, y)
        for x, y in ((200, 130), (450, 120), (300, 60), (100, 400), (450, 300)):
            assert not outline.holds(x, y), (joints, x, y)


def test_where_nothing_was_seen_nothing_stays_sharp() -> None:
    empty = evolve(body(), status="not_seen", reason="no one")
    assert sharp_of(empty, None, T[:0], np.zeros((0, 3))).at(1.0) == NOTHING
    assert sharp().at(9.0) == NOTHING
    assert NOTHING.mask((20, 30), 1.0).max() == 0


@pytest.mark.parametrize("side_px", [24, 60, 100])
def test_of_a_face_in_the_blurred_part_at_most_six_tiles_are_left(side_px: int) -> None:
    """Two pictures that differ only in finer detail than that come out alike: no detail comes through."""
    base = np.full((720, 1280, 3), 128, np.uint8)
    out = []
    for fine in (0, 1):
        picture = base.copy()
        squares = (np.indices((side_px, side_px)) // 2).sum(axis=0) % 2 == fine
        picture[300 : 300 + side_px, 500 : 500 + side_px] = np.where(squares, 250, 5)[..., None]
        out.append(flattened(picture, NOTHING.mask((720, 1280), 1.0)).astype(int))
    assert np.abs(out[0] - out[1]).max() <= 14  # of 245 before


def test_what_is_not_surely_a_face_is_not_covered_on_the_lifter_and_the_plate() -> None:
    """A knee and a plate taken for faces with a middling score; with a high one, or beside him, they are."""
    for x, y in (PLACES["knee"], (352.0, 240.0)):
        for score, away, count in ((0.72, 0, 0), (0.95, 0, 1), (0.72, 150, 1)):
            track = HeadTrack("face", T, np.tile([x + away, y], (len(T), 1)), np.full(len(T), 20.0), score=score)
            veil = veil_of(Heads(0, 4, (track,), WIDTH, HEIGHT), body(), with_lifter=False, bar=bar())
            assert len(veil.circles(2.0)) == count


def test_known_heads_stay_covered_also_before_the_lifter_and_he_is_left_alone() -> None:
    rng = np.random.default_rng(2)
    frame = rng.integers(0, 255, (HEIGHT, WIDTH, 3)).astype(np.uint8)
    face = HeadTrack("face", T, np.tile([300.0, 240.0], (len(T), 1)), np.full(len(T), 20.0))
    veil = veil_of(Heads(0, 4, (face,), WIDTH, HEIGHT), body(), with_lifter=False, bar=bar(), wide=True)
    out = veil.over(frame, 2.0)
    same = (out == frame).all(axis=2)
    assert veil.wide
    assert same[120:140, 300:320].mean() > 0.95  # his face
    assert same[230:250, 292:308].mean() < 0.1  # the known head
    assert same[60:100, 100:160].mean() < 0.05  # the room
    hidden = veil_of(Heads(0, 4, (), WIDTH, HEIGHT), body(), with_lifter=True, bar=bar(), wide=True)
    assert (hidden.over(frame, 2.0) == frame).all(axis=2)[115:145, 295:325].mean() < 0.1


def taken(x: float, y: float, often_hz: float, *, radius: float = 20.0, score: float = 0.95) -> HeadTrack:
    """What was taken for a face at a place so often a second."""
    seen = np.arange(0.1, 3.9, 1 / often_hz)
    return HeadTrack("face", T, np.tile([x, y], (len(T), 1)), np.full(len(T), radius), score=score, seen_s=seen)


@pytest.mark.parametrize(
    ("track", "others", "covered"),
    [
        (taken(*PLACES["knee"], 1.0), (), 0),
        (taken(*PLACES["wrist"], 1.5), (), 0),
        (taken(*PLACES["knee"], 6.0), (), 1),  # seen as often as a face is
        (taken(430.0, 240.0, 1.0), (), 1),  # beside him
        (taken(352.0, 240.0, 1.0), (), 1),  # between him and the plate, where a bystander's face once lay
    ],
)
def test_a_limb_that_surely_looked_like_a_face_now_and_then_is_his(
    track: HeadTrack, others: tuple[HeadTrack, ...], covered: int
) -> None:
    veil = veil_of(Heads(0, 4, (track, *others), WIDTH, HEIGHT), body(), with_lifter=False, bar=bar())
    assert len(veil.circles(2.0)) == covered


def test_a_face_on_his_limb_is_covered_where_somebody_elses_body_has_its_head() -> None:
    """Of a spotter who is followed as a body: hips far from the lifter's."""
    knee = np.tile(PLACES["knee"], (len(T), 1)).astype(float)
    spotter = HeadTrack("body", T, knee, np.full(len(T), 20.0), hips_px=knee + [200.0, 80.0])
    alone = Heads(0, 4, (taken(*PLACES["knee"], 1.0),), WIDTH, HEIGHT)
    assert veil_of(alone, body(), with_lifter=False, bar=bar()).circles(2.0) == []
    both = evolve(alone, tracks=(*alone.tracks, spotter))
    assert len(veil_of(both, body(), with_lifter=False, bar=bar()).circles(2.0)) == 2


def test_his_chest_is_no_second_face_beside_his_own() -> None:
    """Two faces where his head is: one may be somebody's behind him, unless it lies on his trunk all the time."""
    own = taken(*HEAD[:2], 6.0, radius=30.0)
    chest, behind = taken(300.0, 172.0, 6.0, radius=36.0), taken(270.0, 118.0, 6.0, radius=36.0)
    for second, covered in ((chest, 0), (behind, 1)):
        found = Heads(0, 4, (own, second), WIDTH, HEIGHT)
        veil = veil_of(found, body(), with_lifter=False, bar=bar())
        assert len(veil.mine) == 2, "both are near his head"
        assert len(veil.circles(2.0)) == covered
        hidden = veil_of(found, body(), with_lifter=True, bar=bar())
        assert len(hidden.circles(2.0)) >= 2, "where he is to be covered nothing of his is spared"
