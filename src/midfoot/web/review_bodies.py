"""What the review's half of a set's page sends: edits, observations, wordings, keys, verdicts."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, Field

Row = dict[str, Any]
MOST_EDITS = 100


class Edits(BaseModel):
    """Edits in the form of review.json, the oldest first."""

    edits: list[Row] = Field(min_length=1, max_length=MOST_EDITS)


class Named(BaseModel):
    """A request's own name: sent twice it counts once."""

    name: str = Field(default="", pattern=r"^[0-9a-zA-Z]{0,24}$")


class Answer(BaseModel):
    """What the coach answers to a question after measuring again."""

    edit: str = Field(min_length=1, max_length=64)
    choice: str = Field(min_length=1, max_length=16)


class Seen(BaseModel):
    """What the coach saw at the frame that stands: an observation of his vocabulary, or words of his own."""

    rep: int = Field(ge=1, le=10_000)
    t_s: float = Field(ge=0, le=86_400, allow_inf_nan=False)
    observation: str = Field(default="", max_length=64)
    words: str = Field(default="", max_length=500)
    good: bool = False
    id: str = Field(default="", pattern=r"^[0-9a-zA-Z_-]{0,24}$")


class Wording(BaseModel):
    """Which part's words are the coach's from now on, and for whom."""

    part: str = Field(min_length=1, max_length=128)
    to: Literal["lifter", "on_air"] = "lifter"


class Forget(BaseModel):
    """A wording that is no longer kept."""

    about: str = Field(max_length=128)
    kind: str = Field(max_length=32)
    to: Literal["lifter", "on_air"]
    sentence: str = Field(max_length=4000)


class Key(BaseModel):
    """An observation and the key that marks it from now on."""

    observation: str = Field(min_length=1, max_length=64)
    key: str = Field(min_length=1, max_length=1)


class Verdict(BaseModel):
    """The coach's own word on whether a change held; "" leaves it to the figures."""

    change: str = Field(min_length=1, max_length=32)
    verdict: Literal["", "held", "not_held", "cannot_tell"]
    why: str = Field(default="", max_length=500)
