"""The application: verbs, and how every failure becomes one sentence and an exit status."""

from __future__ import annotations

import os
import re
import sys

from cyclopts import App, CycloptsError
from rich.console import Console

from midfoot import __version__

OK, COULD_NOT, WRONG_USE = 0, 1, 2

EPILOGUE = (
    "A heavy bar can hurt: lift with safeties or spotters, stop on pain, and let the referee and the "
    "clinician decide what is theirs to decide."
)
VERBS = (
    "measure", "serve", "inbox", "archive", "worker", "remeasure", "review", "compare", "mechanics", "demo",
    "strength", "backup", "restore", "check", "models",
)  # fmt: skip
STOPPED = "Stopped; files that were whole are kept and nothing is half-written."


def build() -> App:
    """Build the application; each verb's module is imported here, heavy libraries inside the verbs."""
    from midfoot.cli.archive import archive
    from midfoot.cli.backup import backup, restore
    from midfoot.cli.check import check
    from midfoot.cli.compare import compare
    from midfoot.cli.demo import demo
    from midfoot.cli.inbox import inbox
    from midfoot.cli.measure import measure
    from midfoot.cli.mechanics import mechanics
    from midfoot.cli.models import models
    from midfoot.cli.review import review
    from midfoot.cli.serve import serve
    from midfoot.cli.strength import strength
    from midfoot.cli.worker import remeasure, worker

    app = App(
        name="midfoot",
        help="Measure a barbell set from a phone's video, and say how sure every number is.",
        help_epilogue=EPILOGUE,
        version=__version__,
        help_format="plaintext",
        suppress_keyboard_interrupt=False,  # it would leave without a word
    )
    for verb in (
        measure, serve, inbox, archive, worker, remeasure, review, compare, mechanics, demo, strength, backup,
        restore, check, models,
    ):  # fmt: skip
        app.command(verb)
    return app


def run(argv: list[str]) -> int:
    """Run one command line; gives the exit status, prints at most one sentence on failure."""
    errors = Console(stderr=True, highlight=False)
    try:
        result = build()(argv, exit_on_error=False, print_error=False, result_action="return_value")
    except CycloptsError as error:
        verb = next((a for a in argv[:1] if a in VERBS), "")
        return _say(errors, f"{_one_line(str(error))} See {f'midfoot {verb}'.strip()} --help.", WRONG_USE)
    except KeyboardInterrupt:
        return _say(errors, STOPPED, COULD_NOT)
    except BrokenPipeError:
        # Who read our output has gone: nothing can be said to them, and Python must not try again at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return COULD_NOT
    except SystemExit as leave:
        return leave.code if isinstance(leave.code, int) else COULD_NOT
    except Exception as error:
        return _failed(errors, error)
    return result if isinstance(result, int) else OK


def _failed(errors: Console, error: Exception) -> int:
    from midfoot.cli.failures import is_could_not, is_stopped, is_wrong_use

    if is_wrong_use(error):
        return _say(errors, str(error), WRONG_USE)
    if is_stopped(error):
        return _say(errors, STOPPED, COULD_NOT)
    if is_could_not(error):
        return _say(errors, str(error), COULD_NOT)
    text = f"Something in midfoot went wrong ({type(error).__name__}: {_one_line(str(error))})."
    if os.environ.get("MIDFOOT_DEBUG"):
        errors.print_exception()
    return _say(
        errors, f"{text} Please report it with the command you ran; MIDFOOT_DEBUG=1 shows where.", COULD_NOT
    )


def _say(errors: Console, text: str, status: int) -> int:
    errors.print(f"midfoot: {_one_sentence(text)}", markup=False, soft_wrap=True)
    return status


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _one_sentence(text: str) -> str:
    """Join sentences by semicolons, so that what stands in the way and the remedy are one."""
    return re.sub(r"[.?] ([A-Z`])(?=[a-z `])", lambda m: f"; {m[1].lower()}", _one_line(text))
