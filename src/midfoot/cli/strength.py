"""`midfoot strength`: numbers about load; `points`, `e1rm`, `plates`, `attempts`, `profile`."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import App, Parameter

strength = App(
    name="strength",
    help="Points, estimated maximum, attempts and plates.\n\n"
    "Example: midfoot strength e1rm --load 100kg --reps 5 --rpe 9",
    help_format="plaintext",
)
Flag = Parameter(negative=())


@strength.command
def points(
    *,
    sex: Literal["m", "f"],
    total: str,
    body_mass: str | None = None,
    lift: Literal["squat", "bench", "deadlift"] | None = None,
    equipped: Annotated[bool, Flag] = False,
    federation: str = "ipf",
    young: Annotated[bool, Flag] = False,
    json: Annotated[bool, Flag] = False,
) -> int:
    """DOTS, IPF GL, Wilks and Wilks 2020 of a result, and its body-mass class.

    Example: midfoot strength points --sex m --body-mass 83kg --total 600kg

    Parameters
    ----------
    sex
        m or f: the formulas exist for these two.
    total
        The total, or with --lift the best attempt of that lift.
    body_mass
        As weighed in, such as 83kg or 183lb.
    lift
        The result is of this lift alone.
    equipped
        Supportive equipment was worn; only IPF GL asks.
    federation
        Whose body-mass classes: ipf or wpc.
    young
        Also the classes that only juniors have.
    json
        Print as JSON.
    """
    from midfoot import strength as numbers
    from midfoot.cli.failures import UseError
    from midfoot.cli.strength_words import as_json, points_lines
    from midfoot.units import body_mass_kg, mass_kg

    if body_mass is None:
        raise UseError(
            "Without body mass neither DOTS, IPF GL, Wilks, Wilks 2020 nor the body-mass class can be computed; "
            "give --body-mass, such as --body-mass 83kg."
        )
    kg = body_mass_kg(body_mass)
    result = mass_kg(total, low_kg=1, high_kg=1500, what="a result")
    found = numbers.all_points(sex, kg, result, lift=lift or "total", equipped=equipped)
    body_class = numbers.class_of(federation, sex, kg, young=young)
    if json:
        asked = {"sex": sex, "body_mass_kg": kg, "result_kg": result, "lift": lift or "total"}
        as_json({**asked, "equipped": equipped, "points": found, "class": body_class})
    else:
        print("\n".join(points_lines(found, body_class)))
    return 0


@strength.command
def e1rm(
    *,
    load: str,
    reps: int,
    rpe: float | None = None,
    rir: float | None = None,
    table: Path | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Estimate the one-repetition maximum from one set near failure, with its spread.

    Example: midfoot strength e1rm --load 100kg --reps 5 --rpe 9

    Parameters
    ----------
    load
        What was on the bar, bar included, such as 100kg or 225lb.
    reps
        Completed repetitions, 1 to 10.
    rpe
        How hard it felt, to 10; without it and --rir the set counts as one to failure.
    rir
        Repetitions left in reserve, 0 to 3.
    table
        Your own table of effort, a TOML file.
    json
        Print as JSON.
    """
    from midfoot.cli.strength_sets import estimate_from
    from midfoot.cli.strength_words import as_json, one_rm_lines
    from midfoot.units import load_kg, unit_of

    found = estimate_from(load_kg(load), reps, rpe, rir, table)
    if json:
        as_json(found)
    else:
        print("\n".join(one_rm_lines(found, unit_of(load))))
    return 0


@strength.command
def profile(
    *folders: Path,
    lift: Literal["squat", "bench", "deadlift"] | None = None,
    set_: Annotated[list[str] | None, Parameter(name="--set")] = None,
    last: str | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Draw the load-velocity line through a lifter's own sets, and read off the maximum.

    Example: midfoot strength profile --lift squat --set 60kg@0.85 --set 100kg@0.55 --set 120kg@0.40

    Parameters
    ----------
    folders
        Measured sets (what midfoot measure wrote): load as told, velocity of the fastest completed repetition.
    lift
        One lift, one lifter; measured sets know theirs.
    set_
        Load and mean velocity (m/s) of the set's fastest repetition, LOAD@VELOCITY or LOAD@VELOCITY+-SD; once
        a set.
    last
        This lifter's own velocity in a true maximum, VELOCITY or VELOCITY+-SD.
    json
        Print as JSON.
    """
    from midfoot.cli.failures import CannotSay
    from midfoot.cli.strength_sets import sets_of
    from midfoot.cli.strength_words import as_json, profile_lines, velocity_from
    from midfoot.records.base import NotMeasured
    from midfoot.strength import profile as line

    sets, named = sets_of(folders, set_ or [], lift)
    found = line(sets, named, last=velocity_from(last, "--last") if last else None)
    if isinstance(found, NotMeasured):
        raise CannotSay(f"{found.reason} {found.remedy}")
    if json:
        as_json(found)
    else:
        print("\n".join(profile_lines(found)))
    return 0


@strength.command
def plates(
    *,
    load: str,
    set_: Annotated[str, Parameter(name="--set")] = "competition",
    bar: str | None = None,
    collars: str | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Say which plates go on each side; with no exact way, the nearest below and above.

    Example: midfoot strength plates --load 142.5kg

    Parameters
    ----------
    load
        Everything together: bar, collars and plates, such as 142.5kg or 315lb.
    set_
        competition, records, gym, pounds, or your own TOML file.
    bar
        What the bar weighs, such as 15kg or 45lb.
    collars
        What each collar weighs, such as 2.5kg.
    json
        Print as JSON.
    """
    from attrs import evolve

    from midfoot.cli.strength_words import as_json, plates_lines
    from midfoot.strength import loaded, plate_set
    from midfoot.units import load_kg, mass_kg

    mine = plate_set(set_)
    if bar is not None:
        mine = evolve(mine, bar=bar, bar_kg=mass_kg(bar, low_kg=1, high_kg=50, what="a bar"))
    if collars is not None:
        mine = evolve(mine, collar=collars, collar_kg=mass_kg(collars, low_kg=0, high_kg=5, what="a collar"))
    found = loaded(load_kg(load), mine)
    if json:
        as_json(found)
    else:
        print("\n".join(plates_lines(found, load)))
    return 0 if found.exact is not None else 1


@strength.command
def attempts(
    *,
    one_rm: str | None = None,
    sd: str = "0kg",
    load: str | None = None,
    reps: int | None = None,
    rpe: float | None = None,
    rir: float | None = None,
    age: float | None = None,
    pain: str | None = None,
    competition: str | None = None,
    context: Path | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Opener, second and third attempt, each as low, target and high; none with pain or for a minor.

    Example: midfoot strength attempts --load 140kg --reps 3 --rpe 9

    Parameters
    ----------
    one_rm
        An estimated maximum, with --sd; or leave it out and give a set.
    sd
        How unsure the estimated maximum is.
    load
        Load of a set near failure.
    reps
        Its repetitions.
    rpe
        How hard it felt, to 10.
    rir
        Repetitions left in reserve.
    age
        The lifter's age in years.
    pain
        What hurts, if anything.
    competition
        Its day, YYYY-MM-DD.
    context
        TOML file with what the lifter said (docs/context.md): load, reps, rpe or rir, age, pain, injury and
        competition are taken from it where the option is left out.
    json
        Print as JSON.
    """
    from midfoot.cli.failures import CannotSay, UseError
    from midfoot.cli.strength_sets import day_from, estimate_from
    from midfoot.cli.strength_words import as_json, attempts_lines
    from midfoot.desk.context_file import read_context
    from midfoot.records.base import NotMeasured
    from midfoot.records.strength import OneRm
    from midfoot.strength import attempts as plan
    from midfoot.strength import weeks_to
    from midfoot.units import load_kg, mass_kg

    said = read_context(context)
    hurts = [what for what in (pain, said.pain, said.injury) if what]
    age = said.age_years if age is None else age
    if age is not None and not 5 <= age <= 110:
        raise UseError(f"--age is the lifter's age in years, from 5 to 110; got {age:g}.")
    day = day_from(competition) if competition else said.competition_ahead
    until = weeks_to(day, date.today()) if day is not None else None
    if one_rm is not None:
        kg = load_kg(one_rm)
        unsure = mass_kg(sd, low_kg=0, high_kg=100, what="an sd")
        estimate = OneRm(kg, unsure, kg, kg, float("nan"), (), "as given")
    elif (load is not None or said.load_kg is not None) and (reps is not None or said.reps is not None):
        told = rpe is not None or rir is not None
        estimate = estimate_from(
            load_kg(load) if load is not None else float(said.load_kg or 0.0), reps or int(said.reps or 0),
            rpe if told else said.rpe, rir if told else said.rir,
        )  # fmt: skip
    else:
        raise UseError(
            "Give a set (--load, --reps and --rpe, or --context) or an estimated maximum (--one-rm and --sd)."
        )
    found = plan(estimate, pain=", ".join(hurts) or None, age_years=age)
    if isinstance(found, NotMeasured):
        raise CannotSay(f"{found.reason} {found.remedy}")
    if json:
        as_json({"plan": found, "competition": until})
    else:
        print("\n".join(attempts_lines(found, until)))
    return 0
