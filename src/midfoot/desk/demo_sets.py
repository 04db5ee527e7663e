"""Who and what is in the demo's workspace: invented lifters, and fourteen sets of theirs over a month, as data."""

from __future__ import annotations

from typing import Any

from attrs import field, frozen

from midfoot.units import KG_PER_LB


@frozen(kw_only=True)
class Kept:
    """A set that was taken in before: a bundled one as it is, or some of its reps as a film of their own.

    Attributes
    ----------
    name : str
        The bundled set.
    reps : tuple of int or None
        First and last rep of the part; None is the whole set, measured already.
    load_kg, rpe, question, working_on
        What was said of a part; the whole set brings its own words.
    picked : str
        What the coach picked it for.
    own_words : tuple of str
        What he answered in his own words where nothing that is measured answers, one after the other.
    """

    name: str
    lifter: str
    days_ago: float
    reps: tuple[int, int] | None = None
    load_kg: float = 0.0
    rpe: float = 7.0
    question: str = ""
    working_on: tuple[str, ...] = ()
    picked: str = "none"
    publish: bool = False
    own_words: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """The bundled set's name, for a part with its reps."""
        return self.name if self.reps is None else f"{self.name} {self.reps[0]}-{self.reps[1]}"


@frozen(kw_only=True)
class New:
    """A set that has just come in: a part of a bundled clip (shares of its length) and the message with it."""

    name: str
    part: tuple[float, float]
    file: str
    text: str
    hours_ago: float
    waiting: str = ""


@frozen(kw_only=True)
class Person:
    """An invented lifter: what the coach keeps of him, and what he allows."""

    name: str
    kept: dict[str, Any] = field(factory=dict)
    uses: tuple[str, ...] = ("review",)


PEOPLE = (
    Person(name="Runa Tveit", uses=("review", "public_page", "name"),
           kept={"sex": "female", "stature_m": 1.68, "notes": "Low bar, trains alone in a garage."}),
    Person(name="Mattis Holm", uses=("review", "edition", "public_page"), kept={"sex": "male", "stature_m": 1.79}),
    Person(name="Teo Aldana", kept={"sex": "male", "stature_m": 1.81, "notes": "Thinks in pounds."}),
    Person(name="Ines Falk", kept={"sex": "female"}),
    Person(name="Jory Penn", uses=(),
           kept={"minor": True, "guardian": "Sam Penn, father", "notes": "Ask the father first."}),
    Person(name="Sanne Lind", kept={"sex": "female", "notes": "First meet ahead."}),
)  # fmt: skip
"""Six lifters; nothing here is about a person that there is."""

KEPT = (
    Kept(name="bench", lifter="Mattis Holm", reps=(1, 3), load_kg=65.0, days_ago=30,
         question="Is the pause long enough?"),
    Kept(name="deadlift", lifter="Teo Aldana", reps=(1, 1), load_kg=205 * KG_PER_LB, days_ago=29,
         question="Is it locked out?"),
    Kept(name="squat", lifter="Runa Tveit", reps=(3, 5), load_kg=75.0, rpe=7.5, days_ago=22, publish=True,
         question="Does the bar stay over the foot?", working_on=("a calm walkout",),
         own_words=("The walkout looks settled: you stand still before you breathe in. I would not touch it.",)),
    Kept(name="bench", lifter="Mattis Holm", days_ago=16, picked="edition", publish=True,
         own_words=("You asked where it starts to change: hold the fifth rep against the first.",)),
    Kept(name="deadlift", lifter="Teo Aldana", days_ago=2.5, picked="review"),
    Kept(name="bench", lifter="Mattis Holm", reps=(1, 4), load_kg=70.0, rpe=7.5, days_ago=1.5, picked="review",
         question="I counted every pause this time. Is it better?", working_on=("the same pause in every rep",)),
    Kept(name="squat", lifter="Runa Tveit", days_ago=0.5, picked="review"),
)  # fmt: skip
"""Runa's and Mattis's earlier reviews went out with changes to try; their later sets show what came of them."""

NEW = (
    New(name="squat", part=(0.42, 0.98), file="IMG_5120.MOV", hours_ago=2.0,
        text="Ines Falk here, 24F, 61 kg bw. Squat 75 kg x 3 @8.5, belt. My left knee hurts a bit coming up since "
             "last week. One spotter, safeties set. Should I change my stance?"),
    New(name="bench", part=(0.30, 0.62), file="PXL_3301.mp4", hours_ago=3.5,
        text="Name: Jory Penn\nBench 55 kg x 3, RPE 7, no pain. I'm 16 years old. My dad spotted me. Is my pause "
             "long enough?"),
    New(name="deadlift", part=(0.45, 1.0), file="VID_0091.mp4", hours_ago=5.0,
        text="Hi, Sanne Lind here. 102,5 x 1 @9 today, no pain. Meet in 3 weeks. Was it locked out?"),
    New(name="squat", part=(0.0, 0.45), file="IMG_5098.MOV", hours_ago=26.0,
        text="Sanne Lind here. Low bar squat 80kg x 2 @7, no pain. Working on bracing before I unrack."),
    New(name="bench", part=(0.0, 0.36), file="bench day.mp4", hours_ago=30.0,
        waiting="The plate was cut off at the left: the phone a metre farther away, please.",
        text="Ines Falk: bench 42.5kg x 2, no pain, no spotter"),
    New(name="deadlift", part=(0.0, 0.55), file="IMG_0007.MOV", hours_ago=49.0,
        text="Teo Aldana, deadlift 90 kg x 1, RPE 7, warm-up single, no pain"),
)  # fmt: skip
BROKEN = "IMG_5121.MOV"
"""A film whose transfer broke off: the fourteenth set."""
