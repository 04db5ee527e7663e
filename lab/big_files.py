"""A file of 3 GB through every door of the desk: what is said, the server's memory, what lies there afterwards.

python -m lab.big_files [--bytes N] [--place DIR]
"""

from __future__ import annotations

import argparse
import base64
import http.client
import json
import resource
import shutil
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
PORT = 18_947
SERVER = """
import sys
from midfoot.desk import links
from midfoot.store import Workspace
from midfoot.web.serve import server_of
workspace = Workspace.create(sys.argv[1])
print(links.make(workspace, links.SEND)[1], flush=True)
server_of(workspace, port=int(sys.argv[2]), token="t" * 43).run()
"""


def valid(path: Path, size: int) -> None:
    """Write a real video and behind it a `free` box up to the size (ISO/IEC 14496-12, 4.2 and 8.1.2); sparse."""
    from clips import write_clip

    write_clip(path, times_s=np.arange(60) / 30)
    with path.open("ab") as file:
        file.write(struct.pack(">I4sQ", 1, b"free", size - path.stat().st_size))
        file.truncate(size)


def zeros(path: Path, size: int) -> None:
    """Write a file for which room was made and nothing else; sparse."""
    with path.open("wb") as file:
        file.truncate(size)


def lies(workspace: Path) -> str:
    """Say what lies in a workspace, and what of it is half-written."""
    held = sum(p.stat().st_blocks * 512 for p in workspace.rglob("*") if p.is_file())
    begun = [p for place in ("blobs/parts", "uploads") for p in (workspace / place).glob("*")]
    return f"{held / 1e6:.0f} MB, {len(begun)} begun"


def memory(pid: int) -> str:
    """Give the most memory that a process ever held, MB (VmHWM of proc(5))."""
    rows = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines() if ":" in line)
    return f"server's most {int(rows['VmHWM'].split()[0]) / 1e3:.0f} MB"


def asked(method: str, path: str, body: object = None, **headers: str) -> tuple[int, dict[str, str], str]:
    """Send a request; a file goes out in pieces."""
    from midfoot.web.security import COOKIE

    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=600)
    named = {k.replace("_", "-"): v for k, v in headers.items()}
    own = {"Cookie": f"{COOKIE}={'t' * 43}", "Origin": f"http://127.0.0.1:{PORT}", **named}
    line.request(method, path, body, own)  # type: ignore[arg-type]
    got = line.getresponse()
    return got.status, dict(got.getheaders()), got.read(400).decode()


def by_command(file: Path, workspace: Path) -> None:
    """`midfoot inbox add`."""
    begun = time.monotonic()
    command = [sys.executable, "-m", "midfoot", "inbox", "add", str(file), "--workspace", str(workspace)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
    print(f"inbox add {file.name}: {time.monotonic() - begun:.0f} s, exit {done.returncode}, {most:.0f} MB; "
          f"{(done.stderr or done.stdout).strip()}; {lies(workspace)}", flush=True)  # fmt: skip


def by_drop(file: Path, workspace: Path, pid: int) -> None:
    """Dropped on the desk."""
    begun = time.monotonic()
    with file.open("rb") as body:
        size = {"content_length": str(file.stat().st_size)}
        status, _, text = asked("PUT", f"/inbox/clips?name={file.name}", body, **size)
    print(f"dropped {file.name}: {time.monotonic() - begun:.0f} s, {status} {text}; {memory(pid)}; "
          f"{lies(workspace)}", flush=True)  # fmt: skip


def by_link(file: Path, workspace: Path, token: str, pid: int) -> None:
    """Sent by a link, resumable (tus 1.0.0)."""
    begun = time.monotonic()
    said = {"fields": {"lift": "squat", "load": "100 kg", "question": "Depth?"}, "uses": ["review"], "mine": True}
    status, _, text = asked("POST", f"/send/{token}/sets", json.dumps(said), content_type="application/json")
    set_id = json.loads(text)["set"] if status == 201 else ""
    meta = ",".join(f"{k} {base64.b64encode(v.encode()).decode()}" for k, v in
                    (("set", set_id), ("filename", file.name)))  # fmt: skip
    tus = {"tus_resumable": "1.0.0"}
    size = str(file.stat().st_size)
    status, head, text = asked("POST", f"/send/{token}/files", upload_length=size, upload_metadata=meta, **tus)
    if status == 201:
        kind = {"content_type": "application/offset+octet-stream", "upload_offset": "0", "content_length": size}
        with file.open("rb") as body:
            status, _, text = asked("PATCH", head["location"], body, **kind, **tus)
    print(f"by link {file.name}: {time.monotonic() - begun:.0f} s, {status} {text}; {memory(pid)}; "
          f"{lies(workspace)}", flush=True)  # fmt: skip


def main() -> None:
    """Run all of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bytes", type=int, default=3_000_000_000)
    parser.add_argument("--place", type=Path, default=None)
    options = parser.parse_args()
    sys.path.insert(0, str(ROOT / "tests"))
    with tempfile.TemporaryDirectory(dir=options.place) as folder:
        files = [Path(folder) / "zeros.mov", Path(folder) / "valid.mp4"]
        zeros(files[0], options.bytes)
        valid(files[1], options.bytes)
        workspace = Path(folder) / "workspace"
        for file in files:
            by_command(file, workspace)
        for door in ("drop", "link"):
            shutil.rmtree(workspace)
            server = subprocess.Popen(
                [sys.executable, "-c", SERVER, str(workspace), str(PORT)], stdout=subprocess.PIPE, text=True,
                stderr=subprocess.DEVNULL,
            )  # fmt: skip
            token = server.stdout.readline().strip() if server.stdout else ""
            time.sleep(3)
            try:
                for file in files:
                    if door == "drop":
                        by_drop(file, workspace, server.pid)
                    else:
                        by_link(file, workspace, token, server.pid)
            finally:
                server.terminate()
                server.wait(20)


if __name__ == "__main__":
    main()
