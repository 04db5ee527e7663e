"""Time and memory of the main job beside what cannot be spared.

`python -m lab.bench_run CLIP --lift squat [--times 10] [--short-side 1080]` prints seconds for the numbers and
for the pictures as shares of the duration, and the peak memory summed over the process tree. `perfect_s` is one
plain decoding and all calls of the networks (their own processor time, read while they run), shared out over two
cores without a gap; `processor_per_perfect` is the whole job's own processor time shared out likewise, which
other work on the machine does not change much. With `--times N` the clip is also joined N times to itself, to
show that memory does not grow; `--only-long` leaves the clip itself out. With `--short-side PX` the clip is
first scaled to that and encoded anew (H.264). `--steps` reads the processor time of every step's own thread too.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import av

PROGRAM = """
import functools, importlib, json, sys, threading, time
from pathlib import Path
start = time.perf_counter()
from midfoot import outputs, pipeline
from midfoot.records.clip import Asked, Reading
clip, lift, out, video = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3]), sys.argv[4] == "video"
import onnxruntime
from ai_edge_litert.interpreter import Interpreter
spent, lock = {}, threading.Lock()
def timed(whose, name, step):
    call = getattr(whose, name)
    def run(*args, **more):
        before = time.thread_time()
        try:
            return call(*args, **more)
        finally:
            with lock:
                had = spent.get(step, (0.0, 0))
                spent[step] = had[0] + time.thread_time() - before, had[1] + 1
    setattr(whose, name, run)
timed(Interpreter, "invoke", "networks")
timed(onnxruntime.InferenceSession, "run", "networks")
for step, place in json.loads(sys.argv[5]).items():
    module, _, names = place.partition(":")
    *owner, name = names.split(".")
    timed(functools.reduce(getattr, owner, importlib.import_module(module)), name, step)
ready, before = time.perf_counter(), time.process_time()
found = pipeline.measure_clip(pipeline.Request(clip=clip, asked=Asked(lift)))
outputs.write_numbers(found, out)
numbers, processor = time.perf_counter(), time.process_time() - before
called = dict(spent)
before = time.process_time()
if video:
    outputs.write_pictures(found, clip, Reading(), out)
print(json.dumps({"start_up_s": ready - start, "numbers_s": numbers - ready,
                  "processor_s": processor, "networks_s": called["networks"][0],
                  "network_calls": called["networks"][1],
                  "steps_s": {step: round(called[step][0], 2) for step in called},
                  "pictures_s": time.perf_counter() - numbers,
                  "pictures_processor_s": time.process_time() - before, "duration_s": found.data.clip.duration_s,
                  "reps": len(found.data.reps.reps), "bar": found.data.track.status}))
"""

CORES = 2

STEPS = {
    "first look: discs and camera": "midfoot.bar:Scout.see",
    "of it the camera": "midfoot.bar.scene:CameraMotion.see",
    "first look: people": "midfoot.body:PeopleScout.see",
    "first look: cuts and light": "midfoot.footage:Watch.see",
    "first look: lines of the room": "midfoot.bar:TiltScout.see",
    "linking": "midfoot.bar:link",
    "learning both ends": "midfoot.bar:BothEnds.learn",
    "laying both ends": "midfoot.bar:BothEnds.see",
    "the lifter's body": "midfoot.body:LifterPose.see",
    "colour": "midfoot.records.clip:Frame.rgb",
}
"""What `--steps` reads, each on its own thread; networks are part of those that run them, `colour` of whoever asks
first. Decoding is on threads of its own and is not among them; the chosen frames' is part of learning."""


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("clip", type=Path)
    parser.add_argument("--lift", default="squat")
    parser.add_argument("--times", type=int, default=1)
    parser.add_argument("--no-video", action="store_true")
    parser.add_argument("--only-long", action="store_true")
    parser.add_argument("--steps", action="store_true")
    parser.add_argument("--short-side", type=int)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        clip = args.clip
        if args.short_side:
            clip = Path(folder) / f"{args.clip.stem}-{args.short_side}.mp4"
            scaled(args.clip, clip, args.short_side)
        if not args.only_long:
            row = measured(clip, args.lift, video=not args.no_video, steps=args.steps)
            print(json.dumps({"clip": clip.name, **row}), flush=True)
        if args.times > 1:
            longer = Path(folder) / f"{args.times}-times.mp4"
            repeat(clip, longer, args.times)
            print(json.dumps({"clip": longer.name, **measured(longer, args.lift, video=False)}))


def measured(clip: Path, lift: str, *, video: bool, steps: bool = False) -> dict[str, float]:
    """Run the main job in a process of its own; gives its times, its ratio to decoding, and the peak memory."""
    decode_s, decode_processor_s = decoding(clip)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-c", PROGRAM, str(clip), lift, folder, "video" if video else "numbers"]
        command.append(json.dumps(STEPS if steps else {}))
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        peak = [0.0]
        watcher = threading.Thread(target=_watch, args=(process, peak), daemon=True)
        watcher.start()
        out, _ = process.communicate()
        watcher.join()
    row = json.loads(out.strip().splitlines()[-1])
    row["decode_s"] = decode_s
    row["numbers_per_duration"] = row["numbers_s"] / row["duration_s"]
    row["perfect_s"] = (decode_processor_s + row["networks_s"]) / CORES
    row["numbers_per_perfect"] = row["numbers_s"] / row["perfect_s"]
    row["processor_per_perfect"] = row["processor_s"] / CORES / row["perfect_s"]
    row["numbers_per_decode"] = row["numbers_s"] / decode_s
    row["pictures_per_duration"] = row["pictures_s"] / row["duration_s"]
    row["peak_memory_mb"] = peak[0]
    return {k: round(v, 3) if isinstance(v, float) else v for k, v in row.items()}


def decoding(clip: Path) -> tuple[float, float]:
    """Seconds that plain decoding of the clip takes with all threads, and its processor time, s."""
    start, before = time.perf_counter(), time.process_time()
    with av.open(str(clip)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        for _ in container.decode(stream):
            pass
    return time.perf_counter() - start, time.process_time() - before


def scaled(clip: Path, to: Path, short_side_px: int) -> None:
    """Scale a clip so that its shorter side has so many pixels, and encode it as phones' clips are shared."""
    with av.open(str(clip)) as source, av.open(str(to), "w") as out:
        stream = source.streams.video[0]
        share = short_side_px / min(stream.width, stream.height)
        target = out.add_stream("libx264", rate=stream.average_rate, options={"crf": "20", "preset": "veryfast"})
        target.width, target.height = (round(v * share / 2) * 2 for v in (stream.width, stream.height))
        target.pix_fmt = "yuv420p"
        for frame in source.decode(stream):
            out.mux(target.encode(frame.reformat(target.width, target.height, interpolation="BICUBIC")))
        out.mux(target.encode(None))


def repeat(clip: Path, longer: Path, times: int) -> None:
    """Join a clip to itself without encoding it again."""
    with av.open(str(longer), "w") as out:
        target, offset = None, 0
        for _ in range(times):
            with av.open(str(clip)) as source:
                stream = source.streams.video[0]
                if target is None:
                    target = out.add_stream_from_template(stream)
                last = 0
                for packet in source.demux(stream):
                    if packet.dts is None:
                        continue
                    last = max(last, packet.pts + (packet.duration or 0))
                    packet.pts, packet.dts = packet.pts + offset, packet.dts + offset
                    packet.stream = target
                    out.mux(packet)
                offset += last


def _watch(process: subprocess.Popen[str], peak: list[float]) -> None:
    while process.poll() is None:
        peak[0] = max(peak[0], sum(_resident_mb(pid) for pid in _tree(process.pid)))
        time.sleep(0.1)


def _tree(root: int) -> list[int]:
    found = [root]
    for pid in found:
        try:
            found += [int(c) for c in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
        except OSError:
            continue
    return found


def _resident_mb(pid: int) -> float:
    try:
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return float(line.split()[1]) / 1024
    except OSError:
        pass
    return 0.0


if __name__ == "__main__":
    main()
