"""From measures and what was said of a set to its findings. Pure: no clip, no clock, no file."""

from __future__ import annotations

from midfoot.findings.advice import advise
from midfoot.findings.causes import causes_of
from midfoot.findings.definition import FindingDefinition
from midfoot.findings.held import held
from midfoot.findings.look import Look, Seen, Shown, at_most, rank
from midfoot.findings.moments import moment
from midfoot.findings.registry import findings_of
from midfoot.findings.scatter import CHANCE, CHANCE_TIRES, EXPECTED_REPS, EXPECTED_STEPS
from midfoot.findings.thresholds import Limits, defaults
from midfoot.findings.words import amount, deviation, listed, reps_words, sentence
from midfoot.records.base import Warned
from midfoot.records.context import Context
from midfoot.records.findings import Evidence, Finding, Found, Size
from midfoot.records.measures import Measured, SetData


def find(
    data: SetData,
    measured: Measured,
    context: Context = Context(),  # noqa: B008  (frozen)
    warnings: tuple[Warned, ...] = (),
    limits: Limits | None = None,
) -> Found:
    """Find what there is to say of a set.

    Parameters
    ----------
    data : the set: lift, view, how the bar was followed, reps.
    measured : its measures; what was not seen raises nothing.
    context : what was said of the set. It decides what may be advised, and what explains slowing.
    warnings : of the measurement; doubts about lift, bar or clock make findings less sure.
    limits : thresholds, None for the package's own.

    Returns
    -------
    Found
        Findings, the surest and largest first, with at most three changes proposed among them all; the good of the
        set; what the context held back. Empty for a set without reps.
    """
    if not data.reps.reps or not measured.reps:
        return Found()
    look = Look(data, measured, context, warnings, limits if limits is not None else defaults())
    raised = [r for r in (_raise(d, look) for d in findings_of(data.asked.lift)) if r is not None]
    raised.sort(key=lambda r: (rank(r.finding.confidence), r.finding.nature != "fault", -r.times))
    findings, notes = advise([(r.definition, r.finding, r.main) for r in raised], look)
    return Found(findings=findings, held=held(look, findings), notes=notes)


def parameters(limits: Limits | None = None) -> dict[str, object]:
    """Give the numbers that findings depend on, for their provenance."""
    used = limits if limits is not None else defaults()
    own = {limit.id: limit.natural for limit in used.values() if limit.own}
    return {
        "floors": {limit.id: limit.floor for limit in used.values()},
        "own_thresholds": sorted(own),
        **({"own_natural": own} if own else {}),
        "scatter": {
            "chance": CHANCE,
            "chance_tires": CHANCE_TIRES,
            "expected_reps": EXPECTED_REPS,
            "expected_steps": EXPECTED_STEPS,
        },
    }


class _Raised:
    """A finding with the sign that carries it and how many times its floor it is."""

    def __init__(self, definition: FindingDefinition, finding: Finding, main: Shown, times: float) -> None:
        self.definition, self.finding, self.main, self.times = definition, finding, main, times


def shown_of(definition: FindingDefinition, look: Look) -> list[Shown]:
    """Give what every sign of a definition shows in a set, in their order."""
    # A missed or helped rep has no lockout to be short of, and its time is not the lifter's.
    completed = definition.part == "finish" or definition.nature == "information"
    event = definition.signs if definition.one_event else ()
    signs = definition.signs if definition.join == "strongest" else ()
    return [look.shown(sign, completed=completed, event=event, signs=signs) for sign in definition.signs]


def _raise(definition: FindingDefinition, look: Look) -> _Raised | None:
    if definition.needs_bar and not look.has_bar:
        return None
    shown = shown_of(definition, look)
    if definition.join == "first_seen":
        seen = next((s for s in shown if s.by_rep), None)
        shown = [] if seen is None else [seen]
    raised = [s for s in shown if s.worst is not None]
    # What was due anyway is said only where the reps do not show it against each other.
    raised = [s for s in raised if s.sign.due is None] or raised
    if not raised:
        return None
    main = min(raised, key=_order)
    worst = main.worst
    assert worst is not None
    top = main.by_rep[worst]
    assert top.confidence is not None
    reps = _reps(raised, top.confidence)
    finding = Finding(
        id=definition.id,
        by="measured",
        title=definition.title,
        text=_text(main, [s for s in raised if s is not main], reps, look),
        why=definition.why,
        reps=tuple(look.reps[i].n for i in reps),
        at_s=tuple(moment(definition.part, main.sign.measure, look, i) for i in reps),
        size=Size(top.size, main.limit.unit, top.sd, 1.96 * top.sd),
        worst_rep=look.reps[worst].n,
        confidence=top.confidence,
        nature=definition.nature,
        doubts=top.doubts,
        possible_causes=causes_of(definition.causes, look, worst, main.reference),
        evidence=_evidence(definition, main, shown, look),
    )
    return _Raised(definition, finding, main, top.size / main.floor)


def _order(shown: Shown) -> tuple[int, float]:
    worst = shown.worst
    assert worst is not None
    seen = shown.by_rep[worst]
    return rank(seen.confidence), -seen.size / shown.floor


def _reps(raised: list[Shown], confidence: str) -> list[int]:
    """Reps that show it at least likely, or for a hint at least that."""
    least = at_most(confidence, "likely") or confidence
    found = {i for s in raised for i, seen in s.by_rep.items() if rank(seen.confidence) <= rank(least)}
    return sorted(found)


def _text(main: Shown, others: list[Shown], reps: list[int], look: Look) -> str:
    """In rep 3 the bar went 47 mm (sd 1) farther forward than in rep 1. Rep 2: 22 mm."""
    worst = main.worst
    assert worst is not None
    text = sentence(f"in {_name(look, worst)} {_said(main, worst, look, sd=True)}")
    rest = [i for i in reps if i != worst and i in main.by_rep and main.by_rep[i].confidence is not None]
    if rest:
        sizes = [amount(main.by_rep[i].size, main.by_rep[i].sd, main.limit.unit) for i in rest]
        if main.sign.close is not None and main.by_rep[worst].confidence == "hint":
            sizes = ["likewise"]
        which = reps_words([look.reps[i].n for i in rest])
        text += " " + sentence(f"{which}: {listed(sizes)}")
    for other in others:
        at = other.worst
        assert at is not None
        text += " " + sentence(f"in {_name(look, at)} {_said(other, at, look)}")
    return text


def _name(look: Look, i: int) -> str:
    return reps_words([look.reps[i].n])


def _said(shown: Shown, i: int, look: Look, *, sd: bool = False) -> str:
    seen: Seen = shown.by_rep[i]
    size = amount(abs(seen.size), seen.sd, shown.limit.unit)
    if sd and seen.sd > 0:
        size += f" (sd {deviation(seen.sd, seen.size)})"
    if shown.sign.close is not None and seen.confidence == "hint":
        return "the hip did not stand clearly below the knee at the low, as far as this clip can tell"
    reference = _name(look, shown.reference) if shown.reference is not None else ""
    if seen.gone:
        return shown.sign.gone.format(ref=reference)
    return shown.sign.said.format(size=size, ref=reference, way=shown.sign.ways[0 if seen.above else 1])


def _evidence(definition: FindingDefinition, main: Shown, shown: list[Shown], look: Look) -> tuple[Evidence, ...]:
    reference = look.reps[main.reference].n if main.reference is not None else None
    wanted = [(main.sign.measure, main.sign.words)]
    wanted += [(s.sign.measure, s.sign.words) for s in shown if s is not main]
    wanted += list(definition.beside)
    found = []
    for measure_id, words in dict(wanted).items():
        read = [look.read(measure_id, i) for i in range(len(look.reps))]
        whole = look.whole(measure_id)
        if whole is not None:
            read = [whole, *[None] * (len(look.reps) - 1)]
        if all(m is None for m in read):
            continue
        found.append(
            Evidence(
                measure=measure_id,
                title=words,
                unit=next(m.unit for m in read if m is not None),
                values=tuple(None if m is None else m.value for m in read),
                sds=tuple(None if m is None else m.sd for m in read),
                reference_rep=reference,
            )
        )
    return tuple(found)
