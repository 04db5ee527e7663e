"""What was said of a set as fields of a form: from the record to words that can be corrected, and back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from attrs import evolve, frozen

from midfoot.desk.confirming import Reading
from midfoot.desk.context_file import context_from
from midfoot.records.context import Context
from midfoot.web.words import load


@frozen(kw_only=True)
class Field:
    """One field: its name (the key of a context file), its label, what may stand in it.

    `choices` are pairs of value and words; without them it is a line of text, with `long` several lines.
    """

    name: str
    label: str
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    long: bool = False
    first: bool = False
    kind: str = "text"


LIFTS = (("", "not said"), ("squat", "Squat"), ("bench", "Bench press"), ("deadlift", "Deadlift"))
SEXES = (("", "not said"), ("female", "female"), ("male", "male"), ("mx", "mx"))
FIELDS = (
    Field(name="lifter", label="Lifter", first=True),
    Field(name="lift", label="Lift", choices=LIFTS, first=True),
    Field(name="load", label="Load", hint="140 kg or 315 lb", first=True),
    Field(name="reps", label="Reps", first=True, kind="number"),
    Field(name="rpe", label="Effort (RPE)", hint="5 to 10 in halves", first=True),
    Field(name="variation", label="Variation", hint="paused, sumo, high bar", first=True),
    Field(name="question", label="What they ask", long=True, first=True),
    Field(name="pain", label="Pain", hint="leave empty when not said; none when there is none", first=True),
    Field(name="safeties", label="Safeties", hint="pins, arms, straps", first=True),
    Field(name="spotter", label="Spotter", first=True),
    Field(name="rir", label="Reps left (RIR)", hint="0 to 5 in halves"),
    Field(name="working_on", label="Working on", hint="with commas between"),
    Field(name="injury", label="Injury", hint="none when there is none"),
    Field(name="competition_date", label="Competition on", hint="2031-05-24", kind="date"),
    Field(name="competition_name", label="Its name"),
    Field(name="competition_rules", label="Its rules"),
    Field(name="plate", label="Largest plate", hint="450 mm"),
    Field(name="equipment", label="Equipment", hint="belt, sleeves"),
    Field(name="age", label="Age", kind="number"),
    Field(name="sex", label="Sex", choices=SEXES),
    Field(name="body_mass", label="Body mass", hint="82 kg"),
    Field(name="height", label="Height", hint="178 cm"),
    Field(
        name="filmed", label="Who was filmed",
        choices=(("", "not said"), ("self", "the sender"), ("permission", "somebody else, with permission")),
    ),
)  # fmt: skip
NAMES = tuple(f.name for f in FIELDS)
FIELD_OF = {
    "name": "lifter", "load_kg": "load", "age_years": "age", "body_mass_kg": "body_mass", "stature_m": "height",
    "plate_mm": "plate", "competition": "competition_date",
}  # fmt: skip
"""Under which field of the form stands what was read, where the name differs."""
LISTS = ("working_on", "equipment")
WHOLE = ("reps", "age")
HALVES = ("rpe", "rir")


def values_of(context: Context, unit: str = "kg") -> dict[str, str]:
    """Give every field's text, "" where nothing was said."""
    meet = context.competition
    return {
        "lifter": context.lifter or "",
        "lift": context.lift or "",
        "load": load(context.load_kg, context.load_unit or unit),
        "reps": str(context.reps or ""),
        "rpe": _number(context.rpe),
        "variation": context.variation or "",
        "question": context.question or "",
        "pain": _said(context.pain),
        "safeties": _said(context.safeties),
        "spotter": _said(context.spotter),
        "rir": _number(context.rir),
        "working_on": ", ".join(context.working_on),
        "injury": _said(context.injury),
        "competition_date": meet.on.isoformat() if meet and meet.on else "",
        "competition_name": meet.name if meet else "",
        "competition_rules": (meet.rules or "") if meet else "",
        "plate": f"{context.plate_mm:g} mm" if context.plate_mm else "",
        "equipment": ", ".join(context.equipment),
        "age": str(context.age_years or ""),
        "sex": context.sex or "",
        "body_mass": load(context.body_mass_kg),
        "height": f"{context.stature_m * 100:g} cm" if context.stature_m else "",
        "filmed": context.filmed or "",
    }


def read_from(reading: Reading | None) -> dict[str, list[tuple[str, str]]]:
    """Give for every field the words that it was read from, each with what was assumed ("" when nothing was)."""
    found: dict[str, list[tuple[str, str]]] = {}
    for said in reading.pasted.said if reading is not None and reading.pasted is not None else ():
        name = FIELD_OF.get(said.field, said.field)
        note = said.note if said.note or said.sure else "assumed"
        found.setdefault(name, []).append((said.words, note))
    return found


def table_of(fields: Mapping[str, str]) -> dict[str, Any]:
    """Turn the form's texts into the table of a context file; empty fields say nothing."""
    table: dict[str, Any] = {}
    meet: dict[str, Any] = {}
    for name in NAMES:
        text = fields.get(name, "").strip()
        if not text:
            continue
        if name.startswith("competition_"):
            meet[name.removeprefix("competition_")] = text
        elif name in LISTS:
            table[name] = [part.strip() for part in text.split(",")]
        elif name in WHOLE:
            table[name] = int(text) if text.isdecimal() else text
        elif name in HALVES:
            table[name] = _float(text)
        else:
            table[name] = text
    if meet:
        table["competition"] = meet
    return table


def context_of_form(fields: Mapping[str, str], kept: Context, today: date) -> Context:
    """Give the context that a form says; what the form has no field for stays as it was kept.

    Raises
    ------
    ValueError
        When a field makes no sense: one sentence that names it.
    """
    try:
        said = context_from(table_of(fields), sha256=kept.sha256, today=today)
    except ValueError as error:  # it is worded for a context file
        raise ValueError(str(error).replace(" in the context file", "")) from None
    return evolve(
        said, title=kept.title, training_age_years=kept.training_age_years, consents=kept.consents,
        depth_offset_mm=kept.depth_offset_mm, depth_offset_sd_mm=kept.depth_offset_sd_mm,
    )  # fmt: skip


def _said(words: str | None) -> str:
    return "none" if words == "" else words or ""


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _float(text: str) -> Any:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return text
