"""The pages about the measures, written from the definitions and views.toml: one page per lift."""

from __future__ import annotations

from midfoot.measures.definition import Definition, RepMeasure
from midfoot.measures.registry import rep_measures, set_measures
from midfoot.measures.views import ViewRule, rules
from midfoot.records.base import LIFTS

UNIT_WORDS = {
    "mm": "mm", "s": "s", "m_s": "m/s", "deg": "degrees", "ratio": "a ratio", "pct": "per cent",
    "count": "a count",
}  # fmt: skip
GOOD_WORDS = {
    "more": "more", "less": "less", "zero": "nearer to zero",
    "same": "nearer to the lifter's best rep of the set (no way is better as such)",
}  # fmt: skip
VIEWS = ("side", "front_oblique", "rear_oblique", "front", "rear")
HEAD = "<!-- Written by lab/gen_measures.py from src/midfoot/measures. Do not edit by hand. -->\n\n"


def pages() -> dict[str, str]:
    """Give the text of every page by its file name."""
    found = {"README.md": _overview()}
    for lift in LIFTS:
        found[f"{lift}.md"] = _lift_page(lift)
    return found


def _overview() -> str:
    lines = [
        HEAD + "# Measures",
        "",
        "Every number has a value, a unit, a random error (`sd`, differs from rep to rep), a common error "
        "(`sd_common`, the same for the whole clip; it drops out of differences), a status and a basis. "
        "What a clip "
        "does not show is `not_seen`, with the reason and what would help.",
        "",
        "Which view gives what: + good, ~ weak (errors widened), - not at all. An oblique view is named "
        "with the yaw "
        "from which it becomes weak or gives nothing.",
        "",
        "| measure | lifts | side | front oblique | rear oblique | front | rear |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    shown: dict[str, list[str]] = {}
    for lift in LIFTS:
        for m in (*rep_measures(lift), *set_measures(lift)):
            shown.setdefault(m.id, []).append(lift)
    for measure_id, lifts in shown.items():
        grades = " | ".join(_grade_words(rules()[measure_id], view) for view in VIEWS)
        which = "all" if len(lifts) == len(LIFTS) else ", ".join(lifts)
        lines.append(f"| `{measure_id}` | {which} | {grades} |")
    lines += ["", "Pages: " + ", ".join(f"[{lift}]({lift}.md)" for lift in LIFTS) + ".", ""]
    return "\n".join(lines)


def _lift_page(lift: str) -> str:
    lines = [HEAD + f"# Measures of the {'bench press' if lift == 'bench' else lift}", "", "## Per rep", ""]
    for m in rep_measures(lift):
        lines += _section(m)
    lines += ["## Of the whole set", ""]
    for s in set_measures(lift):
        lines += _section(s)
    return "\n".join(lines)


def _section(m: Definition) -> list[str]:
    rule = rules()[m.id]
    counts = " It counts when the best rep is chosen." if isinstance(m, RepMeasure) and m.typical else ""
    grades = "; ".join(f"{view.replace('_', ' ')} {_grade_words(rule, view, words=True)}" for view in VIEWS)
    return [
        f"### {m.title}",
        "",
        f"`{m.id}`, in {UNIT_WORDS[m.unit]}. Better: {GOOD_WORDS[m.good]}.{counts}",
        "",
        m.what,
        "",
        f"- Formula: {m.formula}",
        f"- Views: {grades}.",
        f"- When it lies: {m.lies}",
        f"- How to film: {m.film}.",
        f"- Source: {m.source}.",
        "",
    ]


def _grade_words(rule: ViewRule, view: str, *, words: bool = False) -> str:
    grade = rule.grades[view]
    mark = grade if words else {"good": "+", "weak": "~", "none": "-"}[grade]
    if view not in ("front_oblique", "rear_oblique") or grade == "none":
        return mark
    limits = []
    if rule.weak_from_deg is not None and grade == "good":
        limits.append(f"{'weak' if words else '~'} from {rule.weak_from_deg:g}°")
    if rule.none_from_deg is not None and rule.none_from_deg < 60:
        limits.append(f"{'none' if words else '-'} from {rule.none_from_deg:g}°")
    return f"{mark}, {', '.join(limits)}" if limits else mark
