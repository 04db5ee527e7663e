"""The context file: every key that is taken, in which form, and one clear sentence for everything else."""

from __future__ import annotations

import difflib
import hashlib
import math
import tomllib
from datetime import date, datetime
from pathlib import Path
from typing import Any

from midfoot.records.base import LIFTS
from midfoot.records.context import FILMED, USES, Competition, Consent, Context
from midfoot.units import UnitError, body_mass_kg, length_mm, load_kg, unit_of

PLATE_LOW_MM, PLATE_HIGH_MM = 150.0, 520.0
KEYS = (
    "title", "lifter", "age", "sex", "body_mass", "height", "stature", "training_age", "lift", "variation", "load",
    "plate", "reps", "rpe", "rir", "equipment", "spotter", "safeties", "question", "working_on", "pain", "injury",
    "competition", "consents", "filmed", "depth_offset", "depth_offset_sd",
)  # fmt: skip
COMPETITION_KEYS = ("date", "rules", "name")
CONSENT_KEYS = ("wording", "date")
SEX_WORDS = {"female": "female", "f": "female", "woman": "female", "male": "male", "m": "male", "man": "male",
             "mx": "mx"}  # fmt: skip
HALF_A_REP = 0.5
"""RPE 8.5 is "one more, perhaps two": a count of reps left may differ from 10 - RPE by half a rep
(repetitions-in-reserve scale of Zourdos et al. 2016, JSCR 30:267-275, as remembered)."""
NONE_WORDS = ("", "no", "none", "nothing", "-")


class ContextError(ValueError):
    """A context makes no sense: the text names the key and says what would do."""


def read_context(path: Path | None, *, today: date | None = None) -> Context:
    """Read a context file; an empty context without one.

    Parameters
    ----------
    path : the TOML file, or None.
    today : the day it is read on; None takes the clock's.

    Raises
    ------
    ContextError, UnitError
        When it is not there, not TOML, has a key that is not known, or a value that cannot be. The text names the
        key and what would do.
    """
    if path is None:
        return Context()
    try:
        data = path.read_bytes()
    except OSError:
        raise ContextError(f"There is no context file {path}; check --context.") from None
    try:
        table = tomllib.loads(data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ContextError(
            f"{path.name} is not a TOML file ({error}); correct it or leave --context out."
        ) from None
    return context_from(table, sha256=hashlib.sha256(data).hexdigest(), today=today or date.today())


def context_from(table: dict[str, Any], *, sha256: str | None, today: date) -> Context:
    """Turn a table of a context file into the record.

    Raises
    ------
    ContextError, UnitError
        As `read_context`.
    """
    _known(table, KEYS, "the context file")
    lift = table.get("lift")
    if lift is not None and lift not in LIFTS:
        raise ContextError(f"lift in the context file must be {', '.join(LIFTS)}, or give --lift; got {lift!r}.")
    plate, load = _text(table, "plate"), _text(table, "load")
    rpe, rir = _halves(table, "rpe", 5, 10), _halves(table, "rir", 0, 5)
    if rpe is not None and rir is not None and abs(10 - rpe - rir) > HALF_A_REP:
        raise ContextError(
            f"rpe and rir in the context file disagree: an RPE of {rpe:g} leaves {10 - rpe:g} reps, rir says "
            f"{rir:g}; correct one or leave it out."
        )
    return Context(
        title=_text(table, "title"),
        lifter=_text(table, "lifter"),
        age_years=_whole(table, "age", 5, 110),
        sex=_sex(table),
        body_mass_kg=_body_mass(table),
        stature_m=_stature(table),
        training_age_years=_training_age(table),
        lift=lift,
        variation=_text(table, "variation"),
        load_kg=load_kg(load) if load else None,
        load_unit=unit_of(load) if load else None,
        plate_mm=length_mm(plate, low_mm=PLATE_LOW_MM, high_mm=PLATE_HIGH_MM, what="a plate diameter")
        if plate
        else None,
        reps=_whole(table, "reps", 1, 100),
        rpe=rpe,
        rir=rir,
        equipment=_list(table, "equipment"),
        spotter=_said(table, "spotter"),
        safeties=_said(table, "safeties"),
        question=_text(table, "question"),
        working_on=_list(table, "working_on"),
        pain=_said(table, "pain"),
        injury=_said(table, "injury"),
        competition=_competition(table.get("competition"), today),
        consents=_consents(table.get("consents")),
        filmed=_choice(table, "filmed", FILMED),
        depth_offset_mm=_offset(table, "depth_offset", -200.0),
        depth_offset_sd_mm=_offset(table, "depth_offset_sd", 0.0),
        read_on=today,
        sha256=sha256,
    )


def _known(table: dict[str, Any], keys: tuple[str, ...], where: str) -> None:
    """Refuse a key that nobody would read: a misspelt `pain` must not be lost."""
    for key in table:
        if key in keys:
            continue
        near = difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
        hint = f"the nearest known one is {near[0]}" if near else f"known are {', '.join(keys)}"
        raise ContextError(f"{key} is not a key of {where}; {hint}.")


def _text(table: dict[str, Any], key: str) -> str | None:
    value = table.get(key)
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ContextError(f'{key} in the context file must be text such as {key} = "..."; got {value!r}.')
    return str(value)


def _said(table: dict[str, Any], key: str) -> str | None:
    """Give words, "" where it was said that there is none; true and false are taken too."""
    value = table.get(key)
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list):
        value = ", ".join(_list(table, key))
    if value is None or isinstance(value, str):
        return (
            None if value is None else ("" if value.strip().lower().rstrip(".") in NONE_WORDS else value.strip())
        )
    raise ContextError(f'{key} in the context file must be text such as {key} = "..." or false; got {value!r}.')


def _list(table: dict[str, Any], key: str) -> tuple[str, ...]:
    value = table.get(key)
    if value is None:
        return ()
    if isinstance(value, str):
        return (value.strip(),) if value.strip() else ()
    if isinstance(value, list) and all(isinstance(v, str) for v in value):
        return tuple(v.strip() for v in value if v.strip())
    raise ContextError(
        f'{key} in the context file must be text or a list such as {key} = ["...", "..."]; got {value!r}.'
    )


def _whole(table: dict[str, Any], key: str, low: int, high: int) -> int | None:
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise ContextError(
            f"{key} in the context file must be a whole number from {low} to {high}; got {value!r}."
        )
    return value


def _halves(table: dict[str, Any], key: str, low: float, high: float) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    number = not isinstance(value, bool) and isinstance(value, (int, float)) and math.isfinite(value)
    if not number or not low <= value <= high or (2 * value) % 1:
        raise ContextError(f"{key} in the context file must be from {low:g} to {high:g} in halves; got {value!r}.")
    return float(value)


def _choice(table: dict[str, Any], key: str, allowed: tuple[str, ...]) -> str | None:
    value = table.get(key)
    if value is not None and value not in allowed:
        raise ContextError(f"{key} in the context file must be one of {', '.join(allowed)}; got {value!r}.")
    return None if value is None else str(value)


def _sex(table: dict[str, Any]) -> str | None:
    value = table.get("sex")
    if value is None:
        return None
    word = SEX_WORDS.get(value.strip().lower()) if isinstance(value, str) else None
    if word is None:
        raise ContextError(f"sex in the context file must be female, male or mx; got {value!r}.")
    return word


def _body_mass(table: dict[str, Any]) -> float | None:
    text = _text(table, "body_mass")
    if not text:
        return None
    try:
        return body_mass_kg(text)
    except UnitError as error:
        raise ContextError(f"body_mass in the context file: {error}") from None


def _stature(table: dict[str, Any]) -> float | None:
    found = {}
    for key in ("height", "stature"):
        text = _text(table, key)
        if text:
            found[key] = length_mm(text, low_mm=1000, high_mm=2400, what=f"a {key}") / 1000
    if len(found) == 2 and abs(found["height"] - found["stature"]) > 0.0005:
        raise ContextError("height and stature in the context file differ and mean the same; give one of them.")
    return next(iter(found.values()), None)


def _training_age(table: dict[str, Any]) -> float | None:
    value = table.get("training_age")
    if value is None:
        return None
    years: float | None = None
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        years = float(value)
    elif isinstance(value, str):
        words = value.split()
        unit = words[1].lower().rstrip("s") if len(words) == 2 else "year" if len(words) == 1 else ""
        try:
            years = float(words[0].replace(",", ".")) / {"year": 1.0, "month": 12.0}[unit]
        except (ValueError, KeyError, IndexError):
            years = None
    if years is None or not 0 <= years <= 80:
        raise ContextError(
            f'training_age in the context file must be years such as 3 or "18 months"; got {value!r}.'
        )
    return years


def _offset(table: dict[str, Any], key: str, low_mm: float) -> float | None:
    text = _text(table, key)
    return length_mm(text, low_mm=low_mm, high_mm=200.0, what=f"a {key}") if text else None


def _date(value: Any, key: str) -> date | None:
    if value is None:
        return None
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            value = None
    if isinstance(value, datetime):
        value = value.date()
    if not isinstance(value, date):
        raise ContextError(f"{key} in the context file must be a day such as 2031-05-24.")
    return value


def _competition(value: Any, today: date) -> Competition | None:
    if value is None:
        return None
    if not isinstance(value, dict):
        value = {"date": value}
    _known(value, COMPETITION_KEYS, "[competition] in the context file")
    on = _date(value.get("date"), "date of the competition")
    if on is not None and (on.year - today.year) > 20:
        raise ContextError(f"date of the competition in the context file is more than 20 years away; got {on}.")
    rules = _text(value, "rules") or None
    if rules is not None:
        from midfoot.rules import RulesError, load

        try:
            load(rules)
        except RulesError as error:
            raise ContextError(f"rules of the competition in the context file: {error}") from None
    return Competition(on, rules, _text(value, "name") or "")


def _consents(value: Any) -> tuple[Consent, ...]:
    """Give what is allowed: a list of uses, or a table of use = true or { wording, date }."""
    if value is None:
        return ()
    if isinstance(value, str):
        value = [value]
    if isinstance(value, list):
        if not all(isinstance(v, str) for v in value):
            raise ContextError(f"consents in the context file must name uses: {', '.join(USES)}.")
        value = {use: True for use in value}
    if not isinstance(value, dict):
        raise ContextError(f"consents in the context file must be a list or a table of: {', '.join(USES)}.")
    _known(value, USES, "consents in the context file")
    given = []
    for use, said in value.items():
        if isinstance(said, dict):
            _known(said, CONSENT_KEYS, f"the consent {use} in the context file")
            given.append(Consent(use, _text(said, "wording") or "", _date(said.get("date"), f"date of {use}")))
        elif not isinstance(said, bool):
            raise ContextError(
                f"the consent {use} in the context file must be true, false or a table; got {said!r}."
            )
        elif said:
            given.append(Consent(use))
    return tuple(given)
