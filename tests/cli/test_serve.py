"""`midfoot serve`: the pairing link leads in, a second server on one workspace is refused, Ctrl-C ends it."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest

from midfoot.cli.app import run
from midfoot.store import Workspace
from midfoot.web.sessions import set_password

PATIENCE_S = 40.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def desk(workspace: Workspace) -> Iterator[tuple[Path, int, subprocess.Popen[str], str]]:
    """A running desk: workspace, port, process, and what it printed first."""
    port = free_port()
    command = [sys.executable, "-m", "midfoot", "serve", "--workspace", str(workspace.path), "--workers", "0"]
    process = subprocess.Popen([*command, "--port", str(port)], stdout=subprocess.PIPE, text=True)
    assert process.stdout
    said = process.stdout.readline() + process.stdout.readline()
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.05)
    yield workspace.path, port, process, said
    if process.poll() is None:
        process.kill()
    process.communicate()


def test_the_printed_link_leads_in_and_two_servers_are_one_too_many(
    desk: tuple[Path, int, subprocess.Popen[str], str], capsys: pytest.CaptureFixture[str]
) -> None:
    path, port, process, said = desk
    link = re.search(r"http://127\.0\.0\.1:\d+/pair\?token=\S+", said)
    assert link

    with httpx2.Client(follow_redirects=True) as client:
        assert client.get(f"http://127.0.0.1:{port}/").status_code == 401
        assert client.get(link[0]).status_code == 200
        assert "Inbox" in client.get(f"http://127.0.0.1:{port}/").text

    assert run(["serve", "--workspace", str(path), "--port", str(free_port())]) == 1
    assert "is served already" in capsys.readouterr().err
    assert run(["serve", "--workspace", str(path), "--pair"]) == 0
    assert "/pair?token=" in capsys.readouterr().out
    process.send_signal(signal.SIGINT)
    assert process.wait(PATIENCE_S) == 0


def test_the_network_needs_a_password(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    """Without one the desk stays on this machine, and says what to do; with one it knows the machine's names."""
    from midfoot.cli.serve import _door

    assert run(["serve", "--workspace", str(workspace.path), "--lan", "--port", str(free_port())]) == 1
    assert "set one under Settings" in capsys.readouterr().err
    set_password(workspace, "a long enough one")
    door = _door(workspace, True, ("Desk.Local",))
    assert door.password
    assert {"127.0.0.1", "desk.local", socket.gethostname().lower()} <= set(door.hosts)


@pytest.mark.parametrize("wrong", [["--port", "0"], ["--port", "70000"], ["--workers", "-1"]])
def test_wrong_use(workspace: Workspace, wrong: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["serve", "--workspace", str(workspace.path), *wrong]) == 2
    assert "expected" in capsys.readouterr().err


def test_a_taken_port_is_said(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]

        assert run(["serve", "--workspace", str(workspace.path), "--port", str(port)]) == 1

    assert "give another one with --port" in capsys.readouterr().err
