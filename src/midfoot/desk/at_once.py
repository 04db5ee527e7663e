"""What a sender is told of a clip at once, from a first look: what can be judged in it, what to film again.

Pure. Counts are the most that the view gives; what this very clip shows, `glance.judged` says once it is measured.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from attrs import evolve

from midfoot.findings.registry import findings_of
from midfoot.measures.views import VIEW_WORDS, rules
from midfoot.records.base import Value

if TYPE_CHECKING:
    from midfoot.glimpse import Glimpse
    from midfoot.records.bar import View

SIDE_DEG, OBLIQUE_DEG = 10.0, 60.0
"""Where the classes of a view meet, as `bar.view` draws them."""
CUT_SHARE = 0.2
"""Share of the looks in which plate or lifter must be over the picture's edge before that is said."""
UNSURE_DEG = 20.0
"""A first look that leaves the camera open by more than this says nothing of the view."""
LEFT_OPEN = (
    "From which side it was filmed a first look could not tell; what can be judged is said once it is measured."
)


def said_of(seen: Glimpse) -> dict[str, Any]:
    """Put a first look into words and counts, as plain JSON.

    Returns
    -------
    dict
        view (a sentence with its doubt), can and of (None where the view is open; `can` is the most that the view
        gives), without [{how, what[]}] of what cannot be judged from there, hidden (a sentence), again [sentences
        on what to film otherwise].
    """
    view = seen.view
    told: dict[str, Any] = {"view": LEFT_OPEN, "can": None, "of": None, "without": [], "hidden": "", "again": []}
    if view is not None and view.view_class != "unknown" and view.yaw_deg.sd <= UNSURE_DEG:
        told["view"] = _view_words(view)
        told |= _judged(seen.lift, view)
        told["hidden"] = _hidden(seen.hidden)
    told["again"] = _again(seen)
    return told


def _view_words(view: View) -> str:
    """Say where it was filmed from, and what else the first look leaves open."""
    classes = {_class_at(view.yaw_deg.value + k * view.yaw_deg.sd) for k in (-1.0, 0.0, 1.0)}
    first = VIEW_WORDS[view.view_class]
    other = sorted(VIEW_WORDS[c] for c in classes - {view.view_class})
    if not other:
        return f"It seems to be filmed {first}."
    return f"It seems to be filmed {first}, or {' or '.join(other)}: a first look is not surer than that."


def _class_at(yaw_deg: float) -> str:
    if abs(yaw_deg) <= SIDE_DEG:
        return "side"
    end = "front" if yaw_deg > 0 else "rear"
    return f"{end}_oblique" if abs(yaw_deg) <= OBLIQUE_DEG else end


def _judged(lift: str, view: View) -> dict[str, Any]:
    """Count the findings whose measures this view gives, and say how to film for the others."""
    can, of = 0, 0
    film: dict[str, list[str]] = {}
    # a first look is surer of the side than of the lifter's way: what needs his way is not counted out for it
    view = evolve(view, yaw_deg=Value(view.yaw_deg.value, 0.0))
    for definition in findings_of(lift):
        found = [rules()[s.measure] for s in definition.signs]
        of += 1
        if any(rule.grade(view) != "none" for rule in found):
            can += 1
        else:
            film.setdefault(found[0].film, []).append(definition.title)
    ways = sorted(film.items(), key=lambda item: -len(item[1]))
    return {"can": can, "of": of, "without": [{"how": how, "what": what} for how, what in ways]}


def _hidden(joints: tuple[str, ...]) -> str:
    """Say which joints a first look hardly saw."""
    if not joints:
        return ""
    named = f"{', '.join(joints[:-1])} and {joints[-1]}" if len(joints) > 1 else joints[0]
    return f"Hidden most of the time, on the camera's side: {named}. What rests on that may be missing."


def _again(seen: Glimpse) -> list[str]:
    """Say what to film otherwise the next time."""
    out = []
    if seen.plate_cut >= CUT_SHARE:
        out.append("The plate leaves the picture at its edge: a big step farther back with the phone.")
    if seen.lifter_cut >= CUT_SHARE:
        out.append("Not all of you is in the picture: from feet to hands, at the top and at the bottom.")
    if seen.lifter == "not_seen":
        out.append("You could not be made out at a first look: all of you in the picture, and enough light.")
    elif seen.small:
        out.append("You are small in the picture: nearer with the phone, no zoom.")
    if seen.plate == "not_seen":
        out.append("No plate could be made out: with the whole plate in the picture every length is surer.")
    if seen.moves:
        out.append("The phone moves: stand it on something, so that nobody has to hold it.")
    if seen.dark:
        out.append("It is dark: more light on plate and lifter.")
    return out
