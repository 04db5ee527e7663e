"""Bar heights made from formulas, with every rep's moments by the rule from the dense noise-free path.

Movements are minimum-jerk, optionally with a sticking region; time is dense (1 ms) until `sampled` picks frames
and adds errors. Deadlifts are written upside down: a `rep` of negative depth goes up from the floor and returns.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from midfoot.records.bar import BarPath
from midfoot.records.body import BodyTrack
from midfoot.records.clip import ClipInfo

STEP_S = 0.001
BAND_MM = 10.0


@dataclass
class Made:
    """A path in the making: dense heights, forward places, and the reps' moments."""

    height_mm: float = 1300.0
    forward_mm: float = 0.0
    up: list[np.ndarray] = field(default_factory=list)
    forward: list[np.ndarray] = field(default_factory=list)
    spans: list[tuple[int, int, int, int]] = field(default_factory=list)

    @property
    def n(self) -> int:
        return sum(len(p) for p in self.up)

    def _add(self, up: np.ndarray, forward_to: float | None = None) -> Made:
        if not len(up):
            return self
        goal = self.forward_mm if forward_to is None else forward_to
        self.up.append(up)
        self.forward.append(self.forward_mm + (goal - self.forward_mm) * _quintic(np.linspace(0, 1, len(up))))
        self.height_mm, self.forward_mm = float(up[-1]), goal
        return self

    def hold(self, seconds: float) -> Made:
        return self._add(np.full(round(seconds / STEP_S), self.height_mm))

    def move(self, by_mm: float, seconds: float, *, stick: float = 0.0, forward_by: float = 0.0) -> Made:
        """Go to another height; `stick` 0..1 is the share of the speed lost around the middle of the way."""
        share = _quintic(np.linspace(0, 1, round(seconds / STEP_S)))
        if stick:
            speed = np.gradient(share)
            speed *= 1 - stick * np.exp(-(((share - 0.45) / 0.13) ** 2))
            share = np.cumsum(speed)
            share = (share - share[0]) / (share[-1] - share[0])
        return self._add(self.height_mm + by_mm * share, self.forward_mm + forward_by)

    def swing(self, amplitude_mm: float, hertz: float, seconds: float) -> Made:
        """Plates that bounce and die away about the height at which the bar is."""
        t = np.arange(round(seconds / STEP_S)) * STEP_S
        wave = np.sin(2 * np.pi * hertz * t) * np.exp(-t / (seconds / 4))
        return self._add(self.height_mm + amplitude_mm * wave)

    def steps(self, count: int, jolt_mm: float = 25.0, pace_s: float = 0.6, forward_by: float = -150.0) -> Made:
        """Walk with the bar: it jolts down and up once a step."""
        t = np.arange(round(count * pace_s / STEP_S)) * STEP_S
        up = self.height_mm - jolt_mm * np.sin(np.pi * t / pace_s) ** 2
        return self._add(up, self.forward_mm + forward_by)

    def rep(
        self, depth_mm: float = 600.0, down_s: float = 1.5, pause_s: float = 0.2, up_s: float = 1.4,
        stick: float = 0.0, short_mm: float = 0.0,
    ) -> Made:  # fmt: skip
        """Go down by `depth_mm` and come back up, `short_mm` short (deadlift: negative depth, up and down)."""
        a = self.n
        self.move(-depth_mm, down_s)
        b = self.n
        self.hold(pause_s)
        c = self.n
        self.move(depth_mm - short_mm, up_s, stick=stick)
        self.spans.append((a, b, c, self.n))
        return self

    @property
    def dense(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        up, forward = np.concatenate(self.up), np.concatenate(self.forward)
        return np.arange(len(up)) * STEP_S, up, forward

    def moments(self) -> list[tuple[float, float, float, float]]:
        """Start, extreme's start and end, end of every rep by the rule."""
        t, up, _ = self.dense
        out = []
        for a, b, c, d in self.spans:
            sign = 1.0 if up[b] < up[a] else -1.0
            x = sign * up
            extreme = x[a:d].min() + BAND_MM
            start = a + np.flatnonzero(x[a:b] >= x[a] - BAND_MM)[-1]
            first = a + np.flatnonzero(x[a : c + 1] <= extreme)[0]
            last = b + np.flatnonzero(x[b:d] <= extreme)[-1] if (x[b:d] <= extreme).any() else first
            end = c + np.flatnonzero(x[c:d] < x[d - 1] - BAND_MM)[-1] + 1
            out.append((float(t[start]), float(t[first]), float(t[last]), float(t[end])))
        return out


def _quintic(s: np.ndarray) -> np.ndarray:
    return s**3 * (10 - 15 * s + 6 * s**2)


def correlated(n: int, interval_s: float, sd: float, tau_s: float, rng: np.random.Generator) -> np.ndarray:
    """First-order autoregressive errors with a correlation time."""
    keep = np.exp(-interval_s / tau_s)
    kicks = rng.normal(size=n) * sd * np.sqrt(1 - keep**2)
    out = np.empty(n)
    out[0] = rng.normal() * sd
    for i in range(1, n):
        out[i] = keep * out[i - 1] + kicks[i]
    return out


def sampled(
    made: Made, *, rate_hz: float = 30.0, noise_mm: float = 0.0, tau_s: float = 0.15, sway_mm: float = 0.0,
    px_mm: float = 0.0, jitter: float = 0.0, lost: float = 0.0, seed: int = 0,
    cut: tuple[float, float] | None = None, source: str = "plate",
    hidden: tuple[tuple[float, float], ...] = (), said_sd_mm: float | None = None,
) -> tuple[BarPath, ClipInfo]:  # fmt: skip
    """Pick frames from a made path and add the errors of a real one.

    `jitter` shifts frames by a share of the interval, `lost` drops a share of the frames, `px_mm` rounds heights
    to pixels, `cut` keeps only a part of the time, `hidden` are spans where the bar is not seen (NaN).
    """
    rng = np.random.default_rng(seed)
    t, up, forward = made.dense
    first, last = cut or (0.0, float(t[-1]))
    times = np.arange(first, last, 1 / rate_hz)
    times = np.sort(times + jitter / rate_hz * rng.uniform(-0.5, 0.5, len(times)))
    times = times[(rng.uniform(size=len(times)) >= lost) & (times >= first) & (times <= last)]
    heights = np.interp(times, t, up)
    heights += sway_mm * np.sin(2 * np.pi * 0.4 * times + rng.uniform(0, 6))
    if noise_mm:
        heights += correlated(len(times), 1 / rate_hz, noise_mm, tau_s, rng)
    if px_mm:
        heights = np.round(heights / px_mm) * px_mm
    seen = np.ones(len(times), bool)
    for a, b in hidden:
        seen &= ~((times >= a) & (times <= b))
    heights = np.where(seen, heights, np.nan)
    sd = np.full(len(times), max(0.3, noise_mm) if said_sd_mm is None else said_sd_mm)
    path = BarPath(
        t_s=times, forward_mm=np.where(seen, np.interp(times, t, forward), np.nan), up_mm=heights,
        sd_forward_mm=sd, sd_up_mm=sd, seen=seen, scale_pct=1.0, yaw_deg=2.0, roll_deg=1.5, source=source,
    )  # fmt: skip
    return path, info_of(times)


def info_of(times: np.ndarray, cuts_s: tuple[float, ...] = ()) -> ClipInfo:
    """A clip with these timestamps."""
    steps = np.diff(times)
    return ClipInfo(
        name="made.mp4", sha256="0" * 64, duration_s=float(times[-1]), frames=len(times), width_px=1280,
        height_px=720, rotation_deg=0, mirrored=False, variable_rate=False,
        frame_interval_median_s=float(np.median(steps)), frame_interval_max_s=float(steps.max()), codec="h264",
        bit_depth=8, hdr=False, cuts_s=cuts_s,
    )  # fmt: skip


def nobody() -> BodyTrack:
    """No body seen."""
    rows = np.zeros((0, 33))
    return BodyTrack(
        status="not_seen", model="none", t_s=np.zeros(0), xy_px=np.zeros((0, 33, 2)), sd_px=rows, state=rows,
        peak=rows, depth_m=rows, world_m=np.zeros((0, 33, 3)), reason="made without a body",
    )  # fmt: skip
