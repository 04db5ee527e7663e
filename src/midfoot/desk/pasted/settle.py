"""Several hits for one field: the same twice, a list, or a contradiction, which is a doubt and sets nothing."""

from __future__ import annotations

from datetime import date

from attrs import evolve

from midfoot.desk.pasted.words import Doubt, Said
from midfoot.units import load_words

MANY = ("variation", "equipment", "working_on", "question", "file", "pain", "injury")
WORDS = {
    "lift": "lift", "load_kg": "load", "reps": "reps", "rpe": "RPE", "rir": "reps in reserve",
    "body_mass_kg": "body mass", "stature_m": "height", "age_years": "age", "sex": "sex", "name": "name",
    "competition": "competition", "training_age_years": "years of training", "plate_mm": "plate", "view": "view",
    "under_18": "age", "filmed": "who is filmed", "safeties": "safeties", "spotter": "spotter",
}  # fmt: skip
HALF = 0.5
"""RPE and reps left may differ by half a rep: 8.5 is "one more, perhaps two"."""


def settled(hits: list[Said]) -> tuple[tuple[Said, ...], tuple[Doubt, ...]]:
    """Give one answer for each field; two that differ are a doubt and set nothing."""
    found: list[Said] = []
    doubts: list[Doubt] = []
    for field in dict.fromkeys(h.field for h in hits):
        own = [h for h in hits if h.field == field]
        if field in ("pain", "injury"):
            real = _distinct([h for h in own if h.value])
            found += [_joined(real)] if real else own[:1]
            if real and len(real) < len(own):
                doubts.append(Doubt(field, f"It is said that there is {field} and that there is none: ask."))
        elif field == "question":
            found.append(_joined(_distinct(own)))
        elif field in MANY:
            found += _distinct(own)
        elif len(values := _distinct(own)) > 1 and not _same(field, values):
            options = tuple(dict.fromkeys(_in_words(v) for v in values))
            doubts.append(
                Doubt(field, f"More than one {WORDS.get(field, field)} is named: {', '.join(options)}.", options)
            )
        else:
            found.append(max(own, key=lambda h: (h.sure, -own.index(h))))
    rpe = next((h for h in found if h.field == "rpe"), None)
    rir = next((h for h in found if h.field == "rir"), None)
    if rpe and rir and abs(10 - rpe.value - rir.value) > HALF:
        found = [h for h in found if h.field not in ("rpe", "rir")]
        doubts.append(
            Doubt(
                "rpe",
                f"RPE {rpe.value:g} leaves {10 - rpe.value:g} reps and {rir.value:g} are said to be left: ask.",
            )
        )
    return tuple(found), tuple(doubts)


def _distinct(own: list[Said]) -> list[Said]:
    return list(
        {(str(h.value).lower() if isinstance(h.value, str) else h.value): h for h in reversed(own)}.values()
    )[::-1]


def _same(field: str, values: list[Said]) -> bool:
    if field == "load_kg":
        return bool(max(v.value[0] for v in values) - min(v.value[0] for v in values) < 1.0)  # 140 kg and 308 lb
    if field in ("body_mass_kg",):
        return bool(max(v.value for v in values) - min(v.value for v in values) < 1.0)
    if field == "stature_m":
        return bool(max(v.value for v in values) - min(v.value for v in values) < 0.015)
    if field == "name":
        names = sorted((v.value for v in values), key=len)
        return all(names[-1].lower().startswith(n.lower()) for n in names)
    return False


def _joined(own: list[Said]) -> Said:
    text = (
        " ".join(h.value if h.value.endswith(("?", ".")) else f"{h.value}." for h in own) if len(own) > 1 else None
    )
    if text is None:
        return own[0]
    return evolve(own[0], value=text, words="; ".join(h.words for h in own))


def _in_words(said: Said) -> str:
    if said.field == "load_kg":
        return load_words(*said.value)
    if said.field == "body_mass_kg":
        return f"{said.value:g} kg"
    if isinstance(said.value, date):
        return said.value.isoformat()
    return str(said.value)
