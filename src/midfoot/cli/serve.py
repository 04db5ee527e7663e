"""`midfoot serve`: the desk in a browser, with its workers, on this machine or on the coach's network."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from midfoot.store import Workspace
    from midfoot.web.security import Door

PORT = 8421
LARGEST_PORT = 65535
BEAT_S = 0.2
"""Between two looks at whether the server still runs; the end is heard of at once."""


def serve(
    *,
    workspace: Path | None = None,
    port: int = PORT,
    lan: Annotated[bool, Parameter(negative=())] = False,
    name: tuple[str, ...] = (),
    workers: int | None = None,
    pair: Annotated[bool, Parameter(negative=())] = False,
    intake_only: Annotated[bool, Parameter(negative=())] = False,
) -> int:
    """Open the desk: inbox, review, lifters, all in the browser, with local workers. Ctrl-C ends it.

    Example: midfoot serve

    Example of a small public instance: midfoot serve --intake-only --name send.example.org

    Parameters
    ----------
    workspace
        The folder of the workspace, made when there is none; the usual one without it.
    port
        Where the desk answers.
    lan
        Answer on your own network too; needs the password that is set under Settings.
    name
        A further name by which the desk is reached, such as desk.local; may be given several times.
    workers
        So many clips are worked on at a time; without it as many as the machine takes.
    pair
        Print a new pairing link. While the desk runs already, only that is done.
    intake_only
        Answer only what links open: the page for sending a set, and the desk that fetches from here. On every
        address of this machine; put a server that speaks https before it.
    """
    from midfoot.cli.failures import CannotSay, UseError
    from midfoot.store import StoreError, Workspace
    from midfoot.web.serve import is_free, pairing_link

    if not 1 <= port <= LARGEST_PORT:
        raise UseError(f"--port: expected 1 to {LARGEST_PORT}, got {port}.")
    if workers is not None and not 0 <= workers <= 64:
        raise UseError(f"--workers: expected 0 to 64, got {workers}.")
    with Workspace.create(workspace) as opened:
        try:
            with opened.hold("serve"):
                host = "0.0.0.0" if lan or intake_only else "127.0.0.1"
                if not is_free(host, port):
                    raise CannotSay(f"Port {port} is taken by another program; give another one with --port.")
                door = _public(name) if intake_only else _door(opened, lan, name)
                _run(opened, door, host, port, workers, pair, intake_only=intake_only)
        except StoreError as error:
            if not pair or "served already" not in str(error):
                raise
            print(f"Open this once, within a quarter of an hour: {pairing_link(opened, port=port)}")
    return 0


def _run(
    workspace: Workspace, door: Door, host: str, port: int, workers: int | None, pair: bool, *,
    intake_only: bool = False,
) -> None:  # fmt: skip
    from midfoot.cli.failures import CannotSay
    from midfoot.cli.stopping import stoppable
    from midfoot.desk.daily import Daily
    from midfoot.desk.fetching import Fetcher
    from midfoot.desk.watching import Watcher
    from midfoot.jobs import Supervisor, default_workers
    from midfoot.web.serve import log_to, pairing_link, server_of
    from midfoot.web.sessions import has_sessions

    log_to(workspace.log)
    server = server_of(workspace, host=host, port=port, door=door, intake_only=intake_only)
    supervisor = Supervisor(workspace, default_workers() if workers is None else workers)
    if intake_only:
        print(f"Sets are taken in at port {port} (workspace {workspace.path}); Ctrl-C ends it.", flush=True)
        print("Give the desk a link to fetch by: midfoot inbox link --fetch", flush=True)
    else:
        print(f"The desk is at http://127.0.0.1:{port} (workspace {workspace.path}); Ctrl-C ends it.", flush=True)
    if door.password:
        names = [n for n in door.hosts if n not in ("127.0.0.1", "localhost", "[::1]")]
        print(f"On your network: {', '.join(f'http://{n}:{port}' for n in names)}, with the password.", flush=True)
    if not intake_only and (pair or not has_sessions(workspace)):
        print(f"Open this once, within a quarter of an hour: {pairing_link(workspace, port=port)}", flush=True)
    if supervisor.workers:
        supervisor.start()
    beside = (Watcher(workspace), Daily(workspace), *(() if intake_only else (Fetcher(workspace),)))
    for one in beside:
        one.start()
    thread = threading.Thread(target=server.run, name="desk")
    try:
        with stoppable() as stop:
            thread.start()
            while thread.is_alive() and not stop.wait(BEAT_S):
                pass
        server.should_exit = True
        thread.join()
    finally:
        server.should_exit = True
        for one in beside:
            one.stop()
        supervisor.stop()
    if not server.started:
        raise CannotSay(f"The desk could not start; {workspace.log / 'serve.log'} says why.")


def _public(names: tuple[str, ...]) -> Door:
    from midfoot.web.security import Door

    machine = socket.gethostname().lower()
    own = (*Door().hosts, machine, *_addresses(machine), *(n.lower() for n in names))
    return Door(hosts=tuple(dict.fromkeys(own)))


def _door(workspace: Workspace, lan: bool, names: tuple[str, ...]) -> Door:
    from midfoot.cli.failures import CannotSay
    from midfoot.web.security import Door
    from midfoot.web.sessions import has_password

    own = Door().hosts
    if not lan:
        return Door(hosts=(*own, *(n.lower() for n in names)))
    if not has_password(workspace):
        raise CannotSay(
            "There is no password yet, and without one the desk is not opened to a network; run midfoot serve, "
            "set one under Settings, then run midfoot serve --lan."
        )
    machine = socket.gethostname().lower()
    found = (machine, f"{machine.partition('.')[0]}.local", *_addresses(machine), *(n.lower() for n in names))
    return Door(hosts=tuple(dict.fromkeys((*own, *found))), password=True)


def _addresses(machine: str) -> list[str]:
    """Give this machine's own addresses (IPv4), as far as it knows them."""
    found = set()
    with suppress(OSError):
        found = {str(info[4][0]) for info in socket.getaddrinfo(machine, None, socket.AF_INET)}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
        probe.connect(("192.0.2.1", 9))  # nothing is sent: it tells which of our addresses would be used
        found.add(probe.getsockname()[0])
    return sorted(a for a in found if not a.startswith("127."))
