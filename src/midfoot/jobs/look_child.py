"""The first look at an upload, in a process of its own with limits: `python -m midfoot.jobs.look_child CLIP OUT`.

An upload is hostile until it was decoded. What breaks here (a decoder that hangs, eats memory, writes without end
or dies) breaks this process and nothing else. Files are written into OUT; what was found goes to stdout as JSON.
"""

from __future__ import annotations

import json
import math
import os
import resource
import sys
import threading
from pathlib import Path
from typing import Any

MEGABYTE = 1 << 20
CPU_S = 1800
MEMORY_MB = 3000
"""Of addresses: decoders with several threads reserve far more than they use."""
FILE_MB = 4000
FRAME_AT = 0.35
"""Share of the clip at which the thumbnail is taken: the set is under way there more often than at its start."""
FRAME_LONG_SIDE_PX = 640
PROXY, FRAME, TIMES = "proxy.mp4", "frame.jpg", "frames.json"


def main(argv: list[str]) -> int:
    """Look at a clip; prints one JSON object: what was found, or `error` with the sentence."""
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    clip, out = Path(argv[0]), Path(argv[1])
    # the libraries are there before the limits: these are for the upload alone
    import av  # noqa: F401
    import cv2  # noqa: F401

    from midfoot.footage import FootageError

    _limit()

    try:
        found = look(clip, out)
    except FootageError as error:
        found = {"error": str(error)}
    except MemoryError:
        found = {
            "error": f"{clip.name} needs more memory to be read than a video should; send the phone's own file."
        }
    print(json.dumps(found), flush=True)
    return 0


def look(clip: Path, out: Path) -> dict[str, Any]:
    """Probe, take the thumbnail, write the proxy; gives what was found."""
    import cv2

    from midfoot.footage import frames_at, probe, write_proxy
    from midfoot.records.clip import Reading

    long_clip = False
    try:
        info = probe(clip)
    except Exception as error:
        if "--from and --to" not in str(error):
            raise
        info, long_clip = probe(clip, Reading(from_s=0.0, to_s=60.0)), True

    def told(t_s: float) -> None:
        print(f"{t_s:.3f} {info.duration_s:.3f}", file=sys.stderr, flush=True)

    proxy = write_proxy(clip, out / PROXY, progress=_seldom(told))
    duration_s = proxy.times_s[-1] + info.frame_interval_median_s
    at_s = proxy.times_s[int(FRAME_AT * (len(proxy.times_s) - 1))]
    frame = next(iter(frames_at(clip, [max(0.0, at_s - 1e-3)])))
    zoom = min(1.0, FRAME_LONG_SIDE_PX / max(frame.luma.shape))
    small = cv2.resize(frame.rgb(), None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    done, coded = cv2.imencode(".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 85])
    if not done:
        raise MemoryError
    (out / FRAME).write_bytes(coded.tobytes())
    (out / TIMES).write_text(json.dumps({"times_s": [round(t, 6) for t in proxy.times_s]}))
    return {
        "duration_s": duration_s, "frames": len(proxy.times_s), "width_px": info.width_px,
        "height_px": info.height_px, "codec": info.codec, "bit_depth": info.bit_depth, "hdr": info.hdr,
        "rotation_deg": info.rotation_deg, "variable_rate": info.variable_rate,
        "frame_interval_s": {"median": info.frame_interval_median_s, "max": info.frame_interval_max_s},
        "location_data": info.location_data, "truncated": info.truncated,
        "time_base_doubtful": info.time_base_doubtful, "long": long_clip,
        "proxy": {"width_px": proxy.width_px, "height_px": proxy.height_px}, "frame_at_s": at_s,
    }  # fmt: skip


def _limit() -> None:
    """Allow so much more than is used now of processor time, addresses, and so much for each file written."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    for what, most in (
        (resource.RLIMIT_CPU, math.ceil(used.ru_utime + used.ru_stime) + _told("MIDFOOT_LOOK_CPU_S", CPU_S)),
        (resource.RLIMIT_AS, _addresses() + _told("MIDFOOT_LOOK_MEMORY_MB", MEMORY_MB) * MEGABYTE),
        (resource.RLIMIT_FSIZE, FILE_MB * MEGABYTE),
        (resource.RLIMIT_CORE, 0),
    ):
        _, hard = resource.getrlimit(what)
        if hard != resource.RLIM_INFINITY:
            most = min(most, hard)
        try:
            resource.setrlimit(what, (most, most))
        except (OSError, ValueError):  # not every system limits addresses
            continue


def _told(name: str, default: int) -> int:
    return int(os.environ.get(name, default))


def _addresses() -> int:
    try:
        return int(Path("/proc/self/statm").read_text().split()[0]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, IndexError):
        return 4096 * MEGABYTE


def _leave_with_parent() -> None:
    while os.read(0, 4096):  # ends when the process that started this one is gone
        pass
    os._exit(3)


def _seldom(tell: Any) -> Any:
    last = [-1.0]

    def told(t_s: float) -> None:
        if t_s - last[0] >= 0.5:
            last[0] = t_s
            tell(t_s)

    return told


if __name__ == "__main__":
    status = main(sys.argv[1:])
    sys.stdout.flush()
    os._exit(status)  # threads of a decoder that hangs are not waited for
