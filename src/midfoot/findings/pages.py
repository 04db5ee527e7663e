"""The pages about findings, written from the definitions and thresholds.toml: one page per lift."""

from __future__ import annotations

from midfoot.findings.definition import FindingDefinition, PossibleCause, PossibleChange, Sign
from midfoot.findings.look import CLEAR_SDS, HINT_SHARE, LIKELY_SHARE, SURE_SDS
from midfoot.findings.registry import FINDINGS, findings_of
from midfoot.findings.scatter import CHANCE, CHANCE_TIRES
from midfoot.findings.thresholds import Limit, defaults
from midfoot.findings.words import UNIT_WORDS
from midfoot.records.base import LIFTS

HEAD = "<!-- Written by lab/gen_findings.py from src/midfoot/findings. Do not edit by hand. -->\n\n"
LIFT_WORDS = {"squat": "squat", "bench": "bench press", "deadlift": "deadlift"}


def pages() -> dict[str, str]:
    """Give the text of every page by its file name."""
    found = {"README.md": _overview()}
    for lift in LIFTS:
        found[f"{lift}.md"] = _lift_page(lift)
    return found


def _overview() -> str:
    lines = [
        HEAD + "# Findings",
        "",
        "A finding is something that was seen and is larger than what the clip can tell. The yardstick is first "
        "of "
        "all the lifter's own: differences are taken against the reference rep, which is the best rep of the set "
        "(nearest to its medians), unless the cleanest rep beats it by more than half the floor.",
        "",
        f"How sure: every finding must stand clear of its error ({CLEAR_SDS} sd). Sure: above the floor even when "
        f"{SURE_SDS} sd smaller. Likely: at least {LIKELY_SHARE} of the floor. Hint: at least {HINT_SHARE} of it. "
        "Differences use the random error alone, absolute values both kinds. Values that were inferred, that this "
        "view gives weakly, or that rest on a doubtful bar are never more than likely, and a sign that is never "
        "sure is a hint where it was inferred. In oblique views the floors of forward paths are doubled.",
        "",
        "People do not repeat a rep to the millimetre, so a difference must also stand out of what this lifter's "
        "reps differ by anyway. A step that stays, one odd rep and a drift over the set are looked for, each held "
        "against the scatter expected of someone who does nothing wrong, made smaller or larger by how steady the "
        f"set is. Chance alone must make one as clear in at most {100 * CHANCE['sure']:g} % of such sets (sure), "
        f"{100 * CHANCE['likely']:g} % (likely), {100 * CHANCE['hint']:g} % (hint). Of slowing, "
        "which is information and goes one way as people tire, it is asked before all whether the reps rise over "
        f"the set, and then chance may make it in {100 * CHANCE_TIRES['sure']:g}, "
        f"{100 * CHANCE_TIRES['likely']:g} and {100 * CHANCE_TIRES['hint']:g} %. Signs of one event (hips that "
        "rise first) are also asked together: what shows in all of them is clearer than in each. Where any of "
        "several signs may carry a finding, what chance is allowed is shared among those that the clip shows.",
        "",
        "Possible causes are held against the clip: what speaks for and against each. Nobody says that one is it. "
        "Changes carry a prediction that the next set can refute. At most three are proposed for a set; with pain "
        "no load and no drill; no load for a minor, after a missed rep or where no safeties were named; ten weeks "
        "before a competition one change, four weeks before nothing of grip, stance or bar position.",
        "",
        "The back's shape, the breath, bracing and foot pressure are measured by no camera: they are in the "
        "coach's "
        "vocabulary and stand beside these.",
        "",
        "## Your own thresholds",
        "",
        "`midfoot measure set.mp4 --lift squat --thresholds mine.toml --out set/` lays a file over the floors "
        "below. "
        "`floor` is the size from which on it counts, `natural` the scatter from rep to rep without a fault:",
        "",
        "```toml",
        "[forward_drift]",
        "floor = 20",
        "natural = 8",
        "```",
        "",
        "| threshold | floor | natural | oblique | from |",
        "| --- | --- | --- | --- | --- |",
        *(_limit_row(limit) for limit in defaults().values()),
        "",
        "## All findings",
        "",
        "| finding | id | thresholds |",
        "| --- | --- | --- |",
    ]
    for found in FINDINGS:
        limits = ", ".join(f"`{name}`" for name in dict.fromkeys(s.limit for s in found.signs))
        anchor = found.title.lower().replace(" ", "-").replace(",", "")
        lines.append(f"| [{found.title}]({found.lift}.md#{anchor}) ({found.lift}) | `{found.id}` | {limits} |")
    lines.append("")
    return "\n".join(lines)


def _limit_row(limit: Limit) -> str:
    unit = UNIT_WORDS[limit.unit]
    natural = f"{limit.natural:g}{unit}" if limit.natural else "–"
    oblique = f"× {limit.oblique:g}" if limit.oblique != 1 else "–"
    return f"| `{limit.id}` | {limit.floor:g}{unit} | {natural} | {oblique} | {limit.source} |"


def _lift_page(lift: str) -> str:
    lines = [HEAD + f"# Findings of the {LIFT_WORDS[lift]}", ""]
    for found in findings_of(lift):
        lines += _section(found)
    return "\n".join(lines)


def _section(found: FindingDefinition) -> list[str]:
    kind = " Information, no fault by itself." if found.nature == "information" else ""
    lines = [
        f"## {found.title}",
        "",
        f"`{found.id}`.{kind} {found.what}",
        "",
        f"**Why it matters.** {found.why}",
        "",
        "**How it is measured.**",
        "",
        *(_sign(sign) for sign in found.signs),
    ]
    if len(found.signs) > 1:
        lines.append(
            "- Of these the first that the clip shows carries it."
            if found.join == "first_seen"
            else "- It is one event: the sign that shows most carries it."
        )
    lines += [f"- {view[:1].upper()}{view[1:]}: {words}." for view, words in found.how]
    lines += ["", f"**When it is wrong.** {found.lies}", ""]
    if found.causes:
        lines += ["**Possible causes.**", "", *(_cause(cause) for cause in found.causes), ""]
    if found.changes:
        lines += ["**What to try.**", "", *(_change(change) for change in found.changes), ""]
    lines += [f"**Sources.** {'; '.join(found.sources)}.", ""]
    return lines


def _sign(sign: Sign) -> str:
    limit = defaults()[sign.limit]
    way = {"more": "more", "less": "less", "away": "to either side"}[sign.worse]
    against = "against the reference rep" if sign.against == "reference" else "by itself"
    most = f", at most {sign.most}" if sign.most != "sure" else ""
    pct = " of its value" if sign.as_pct else ""
    if sign.due is not None:
        against = f"against {sign.due:g}{UNIT_WORDS[limit.unit]}, where the set was said to ask for it"
    return (
        f"- `{sign.measure}` ({sign.words}), {way}, {against}, from {limit.floor:g}{UNIT_WORDS[limit.unit]}{pct}"
        f"{most}."
    )


def _cause(cause: PossibleCause) -> str:
    tests = [f"`{clue.measure}`" for clue in cause.clues if hasattr(clue, "measure")]
    said = ["what was said of the set"] if len(tests) < len(cause.clues) else []
    return f"- {cause.text} (held against {', '.join(dict.fromkeys(tests + said))})."


def _change(change: PossibleChange) -> str:
    light = []
    if change.max_load_pct is not None:
        light.append(f"at most {change.max_load_pct:g} % of the set's load")
    if change.max_rpe is not None:
        light.append(f"RPE {change.max_rpe:g}")
    first = f" First: {', '.join(light)}." if light else ""
    return f"- {change.kind.capitalize()}: {change.text}{first} Should show in `{change.measure}`."
