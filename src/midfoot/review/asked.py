"""What the lifter asked and works on, answered from what was measured; or left open for the coach's own words."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from midfoot.records.measures import Measure, Measurement
from midfoot.records.review import Part
from midfoot.records.rules import RuleCheck
from midfoot.review.library import Picker
from midfoot.review.topics import Topic, topics_of
from midfoot.review.words import listed, reps_words

VERDICTS = {
    "clear": "met",
    "close": "too close for a camera to call",
    "not_met": "not met",
    "not_seen": "not seen",
}
MOST_RULES = 4


def asked_parts(
    measurement: Measurement,
    picker: Picker,
    values: Mapping[str, str],
    changes: Sequence[Part],
) -> list[Part]:
    """Draft the answers: first the question, then what the lifter is working on.

    Parameters
    ----------
    measurement, picker, values : the set, where sentences come from, what stands in their braces.
    changes : the changes drafted for this set, the most important first.
    """
    out = []
    question = measurement.context.question
    if question:
        text, about, open_ = _answer(question, measurement, picker, values, changes)
        out.append(
            Part(id="asked:question", section="asked", about=about, text=text, caption=f"“{question}”",
                 quiet=True, needs_words=open_)
        )  # fmt: skip
    for k, thing in enumerate(measurement.context.working_on):
        text, about, open_ = _progress(thing, measurement, picker, values, changes)
        out.append(
            Part(id=f"asked:working_on_{k + 1}", section="asked", about=about, text=text,
                 caption=f"You are working on: {thing}", quiet=True, needs_words=open_)
        )  # fmt: skip
    return out


def needs_another_view(parts: Sequence[Part]) -> bool:
    """Tell whether an answer is left open for how the set was filmed, and says how to film instead."""
    return any(p.section == "asked" and re.search(r"\bfilm from\b", p.text) for p in parts)


def _answer(
    question: str,
    measurement: Measurement,
    picker: Picker,
    values: Mapping[str, str],
    changes: Sequence[Part],
) -> tuple[str, str, bool]:
    said: list[str] = []
    about = ""
    for topic in topics_of(question)[:2]:
        text, of = _on(topic, measurement, picker, values, changes, told=about)
        if text:
            said.append(text)
            about = about or of
    if said:
        return " ".join(dict.fromkeys(said)), about, False
    return picker.pick("asked_open", "answer", "lifter", values) or OPEN, "", True


OPEN = "(Answer this one in your own words.)"


def _on(
    topic: Topic,
    measurement: Measurement,
    picker: Picker,
    values: Mapping[str, str],
    changes: Sequence[Part],
    *,
    told: str,
) -> tuple[str, str]:
    """Answer one subject: by the rules, by a change below, by what held, by a figure, or by why it is not seen."""
    said = []
    about = ""
    if topic.rules:
        text = _by_rules(topic, measurement, picker, values)
        said += [text] if text else []
    covered = [p for p in changes if p.about and topic.covers(p.about)]
    if covered and covered[0].about == told:
        return " ".join(said), told
    if covered:
        about = covered[0].about
        first = covered[0]
        title = f"{first.caption[:1].lower()}{first.caption[1:]}"
        of = {**values, "title": title, "reps": reps_words(first.reps)}
        said.append(picker.pick("asked", "answer", "lifter", of) or f"Again {title}, on {reps_words(first.reps)}.")
    elif not said:
        said.append(_by_measures(topic, measurement, picker, values))
    return " ".join(s for s in said if s), about


def _by_rules(topic: Topic, measurement: Measurement, picker: Picker, values: Mapping[str, str]) -> str:
    meant = reps_meant(measurement.context.question or "", [r.n for r in measurement.data.reps.reps])
    checks = [c for c in measurement.rule_checks if "*" in topic.rules or c.id in topic.rules]
    checks = [c for c in checks if not meant or c.rep is None or c.rep in meant]
    if not checks:
        return ""
    seen = [c for c in checks if c.verdict != "not_seen"]
    rulebook = checks[0].rulebook.partition(",")[0]
    if not seen:
        reason = next((c.reason for c in checks if c.reason), "").rstrip(".")
        return picker.pick("asked_rule_unseen", "answer", "lifter", {**values, "reason": reason})
    said = {**values, "rule": rulebook, "things": _rule_words(seen)}
    return picker.pick("asked_rule", "answer", "lifter", said)


ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def reps_meant(question: str, numbers: list[int]) -> tuple[int, ...]:
    """Give the reps that a question names ("the second one", "rep 3", "the last"); none where it names none."""
    plain = question.casefold()
    meant = {
        numbers[k] for k, word in enumerate(ORDINALS) if k < len(numbers) and re.search(rf"\b{word}\b", plain)
    }
    meant |= {int(n) for n in re.findall(r"\brep(?:etition)? ?#?(\d+)", plain) if int(n) in numbers}
    last = re.search(r"\blast (two|three|2|3)?", plain)
    if last and numbers:
        count = {"two": 2, "2": 2, "three": 3, "3": 3}.get(last[1] or "", 1)
        meant |= set(numbers[-count:])
    return tuple(sorted(meant))


def _rule_words(checks: list[RuleCheck]) -> str:
    """Say each rule once, by verdict: "not met: depth (rep 4); too close for a camera to call: pause (rep 1)"."""
    groups = []
    left = MOST_RULES
    for verdict in ("not_met", "close"):
        by_rule: dict[str, list[int]] = {}
        for check in checks:
            if check.verdict == verdict:
                by_rule.setdefault(check.title.partition(";")[0].strip() or check.id, []).append(check.rep or 0)
        words = [f"{title} ({reps_words(tuple(reps))})" if all(reps) else title for title, reps in by_rule.items()]
        if words[:left]:
            groups.append(f"{VERDICTS[verdict]}: {listed(words[:left])}")
        left -= len(words[:left])
    return "; ".join(groups) or "everything that this view shows is met"


def _by_measures(topic: Topic, measurement: Measurement, picker: Picker, values: Mapping[str, str]) -> str:
    said = {**values, "thing": topic.thing}
    held = measurement.found.held
    if held is not None and any(e.measure in topic.measures for e in held.evidence):
        return picker.pick("asked_held", "answer", "lifter", said)
    for measure_id in topic.measures:
        row = [m for m in _row(measurement, measure_id) if m.value is not None]
        if row:
            return picker.pick("asked_seen", "answer", "lifter", said)
    for measure_id in topic.measures:
        reason = next((m.reason for m in _row(measurement, measure_id) if m.reason), "")
        if reason:
            return picker.pick("asked_unseen", "answer", "lifter", {**said, "reason": reason.rstrip(".")})
    return ""


def _row(measurement: Measurement, measure_id: str) -> list[Measure]:
    found = (measurement.measured.of(k, measure_id) for k in range(len(measurement.measured.reps)))
    return [m for m in found if m is not None]


def _progress(
    thing: str, measurement: Measurement, picker: Picker, values: Mapping[str, str], changes: Sequence[Part]
) -> tuple[str, str, bool]:
    said = {**values, "thing": thing}
    subjects = topics_of(thing)
    for topic in subjects:
        for part in changes:
            if part.about and topic.covers(part.about):
                said["reps"] = reps_words(part.reps)
                text = picker.pick("working_on_fault", "answer", "lifter", said)
                return text or f"Not yet, see {reps_words(part.reps)}.", part.about, False
    held = measurement.found.held
    for topic in subjects:
        if held is not None and any(e.measure in topic.measures for e in held.evidence):
            return picker.pick("working_on_held", "answer", "lifter", said) or "It held.", "held", False
    return picker.pick("working_on_open", "answer", "lifter", said) or OPEN, "", True
