"""Messages to copy into whatever the coach writes with: asking for a re-film, asking for the follow-up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from attrs import frozen
from sqlalchemy.engine import Connection

from midfoot.desk.due import Window
from midfoot.measures.views import VIEW_WORDS
from midfoot.store.rows import setting
from midfoot.web.words import LIFT_NAMES

HOW_TO_FILM = (
    "Put the phone at knee height on a stand, level, with the whole plate and all of you in the picture from "
    "before the first rep to after the last. Whoever spots does not film."
)


@frozen
class Signed:
    """How the coach's messages begin, and who signs them ("" for nobody)."""

    hello: str = "Hello"
    name: str = ""

    def hello_to(self, lifter: str) -> str:
        """Greet."""
        return f"{self.hello} {lifter}," if lifter else f"{self.hello},"

    def under(self, text: str) -> str:
        """Put the name under a text."""
        return f"{text}\n{self.name}" if self.name else text


PLAIN = Signed()


def signed_by(connection: Connection) -> Signed:
    """Give what the settings say."""
    return Signed(
        str(setting(connection, "hello", "") or "Hello"), str(setting(connection, "coach_name", "") or "")
    )


def refilm_message(
    lifter: str, lift: str | None, summary: dict[str, Any] | None, why: str = "", signed: Signed = PLAIN
) -> str:
    """Ask for another clip, saying what could not be judged and from where it could."""
    ways = (summary or {}).get("judged", {}).get("film", [])
    how = [str(way["how"]) for way in ways if str(way["how"]).startswith("film ")]
    words = [f"{signed.hello_to(lifter)} thank you for the {_lift(lift)}."]
    words.append(f"{why.strip().rstrip('.')}." if why.strip() else "I could not judge all of it from this clip.")
    if how:
        words.append(f"Would you {_lower(how[0])} next time?")
    else:
        words.append("Would you film the next set once more, from the side?")
    words.append(HOW_TO_FILM)
    return signed.under(" ".join(words))


def follow_up_message(
    lifter: str, lift: str | None, changes: Sequence[str], signed: Signed = PLAIN, window: Window | None = None
) -> str:
    """Ask for the set that shows whether the changes worked, as like the first one as it must be to tell."""
    words = [f"{signed.hello_to(lifter)} how did it go with the {_lift(lift)}?"]
    if changes:
        said = "; ".join(c.strip().rstrip(".") for c in changes)
        words.append(f"Last time we changed this: {said}.")
    words.append("Send me the next set, and I will see what came of it.")
    words.append(_like_last_time(window or Window()))
    words.append("If anything hurts, stop, and tell me before you lift on.")
    return signed.under(" ".join(words))


def _like_last_time(window: Window) -> str:
    """Say from where to film, with how much and how hard: what is more unlike cannot be held against the first."""
    view = VIEW_WORDS.get(window.view, "")
    where = f"film it {view} again, the phone where it stood last time" if view else "film it from the same place"
    load = "take about the same load"
    if window.loads is not None:
        low, high = window.loads
        load = f"take between {low:g} and {high:g} {window.unit}"
    hard = "tell me how hard it was (RPE)"
    if window.efforts is not None:
        low, high = window.efforts
        hard = f"stop at an effort of {low:g} to {high:g} of 10 (RPE), and tell me which it was"
    return f"So that the two can be compared: {where}, {load}, and {hard}."


def _lift(lift: str | None) -> str:
    return LIFT_NAMES.get(lift or "", "set").lower()


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
