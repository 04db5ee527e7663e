"""Of a followed body: where its head is, and whether what was taken for a face is one of its hands or knees."""

from __future__ import annotations

import numpy as np

from midfoot.body.regions import BODY_PER_SIDE
from midfoot.body.search import HIPS, JOINTS, SHOULDERS
from midfoot.records.body import INDEX, PersonTrack
from midfoot.records.heads import HeadTrack

HEAD_LANDMARKS = list(range(11))
EARS = (INDEX["left_ear"], INDEX["right_ear"])
LIMBS = [INDEX[f"{side}_{joint}"] for side in ("left", "right") for joint in ("wrist", "index", "knee", "ankle")]
SIDES = [(INDEX[f"{side}_shoulder"], INDEX[f"{side}_hip"]) for side in ("left", "right")]
CHEST = (0.3, 0.6, 0.9)
"""Where on the way from the shoulder to the hip prints on a shirt and belts are looked for."""
LIMB_S, MOSTLY = 0.25, 0.6
LEAST_PEAK, CLEAREST = 0.5, 6
"""Least mean peak of somebody's six clearest joints: under it are doubles and shapes of the room."""
DOUBTED_PEAK = 0.4
HEAD_PER_BODY = 0.17
"""Radius of a head with some room over the distance from the hips to the body's far end: a head is about 0.13 of
the stature (segment tables, from memory) and the hips lie about half way."""
BETWEEN_EARS = 1.3
PEAK = 0.3
"""Peak of the heat map from which a landmark of the head is believed; else the shoulders say where the head is."""


def clear(person: PersonTrack) -> bool:
    """Tell whether somebody was made out; folded doubles of a person are not."""
    clearest = np.sort(person.peak[:, list(JOINTS)], axis=1)[:, -CLEAREST:]
    return bool(clearest.mean() >= LEAST_PEAK)


def may_be_somebody(person: PersonTrack) -> bool:
    """Tell whether somebody may be there who was not made out."""
    clearest = np.sort(person.peak[:, list(JOINTS)], axis=1)[:, -CLEAREST:]
    return bool(DOUBTED_PEAK <= clearest.mean() < LEAST_PEAK)


def on_a_body(head: HeadTrack, people: list[PersonTrack]) -> bool:
    """Tell whether what was taken for a face is somebody's hand, knee, foot or shirt for most of its time."""
    found = []
    for t_s, xy, radius in zip(head.t_s, head.xy_px, head.radius_px, strict=True):
        hit = False
        for person in people:
            row = int(np.argmin(np.abs(person.t_s - t_s)))
            if abs(person.t_s[row] - t_s) > LIMB_S:
                continue
            at, peak = person.xy_px[row], person.peak[row]
            away = np.hypot(*(at[LIMBS] - xy).T)
            chest = [at[a] + share * (at[b] - at[a]) for a, b in SIDES for share in CHEST]
            clear_chest = [min(peak[a], peak[b]) >= 0.5 for a, b in SIDES for _ in CHEST]
            away = np.concatenate([away, np.hypot(*(np.array(chest) - xy).T)])
            seen = np.concatenate([peak[LIMBS] >= 0.5, clear_chest])
            own = np.hypot(*(at[HEAD_LANDMARKS].mean(axis=0) - xy))
            hit |= bool(((away < 0.7 * radius) & seen).any() and own > 1.5 * radius)
        found.append(hit)
    return bool(found) and float(np.mean(found)) >= MOSTLY


def head_of(person: PersonTrack) -> HeadTrack:
    """Give the head of a followed body: by its landmarks where they are believed, else above its shoulders."""
    body = person.region[:, 2] * BODY_PER_SIDE
    points, peak = person.xy_px[:, HEAD_LANDMARKS], person.peak[:, HEAD_LANDMARKS]
    weight = np.clip(peak, 1e-3, None)[..., None]
    by_face = (points * weight).sum(axis=1) / weight.sum(axis=1)
    shoulders = person.xy_px[:, list(SHOULDERS)].mean(axis=1)
    spine = shoulders - person.xy_px[:, list(HIPS)].mean(axis=1)
    long = np.maximum(np.hypot(*spine.T), 1e-6)[:, None]
    by_trunk = shoulders + spine / long * (0.28 * body)[:, None]
    believed = (peak.max(axis=1) >= PEAK)[:, None]
    ears = np.hypot(*(person.xy_px[:, EARS[0]] - person.xy_px[:, EARS[1]]).T)
    radius = np.maximum(HEAD_PER_BODY * body, np.minimum(BETWEEN_EARS * ears, 0.3 * body))
    radius = np.where(believed[:, 0], radius, 1.3 * radius)
    hips = person.xy_px[:, list(HIPS)].mean(axis=1)
    return HeadTrack("body", person.t_s, np.where(believed, by_face, by_trunk), radius, hips)
