"""How often strangers may ask: a window that slides over the last hour, for each link, page and address.

All of it lies in the memory of the one server and is gone with it. An address is never kept: what stands for it,
for as long as the window, is a mark made with a key that is drawn when the server starts; of IPv6 a mark of the
first 64 bits, since a household has as many addresses as it likes.
"""

from __future__ import annotations

import hashlib
import ipaddress
import math
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable

from attrs import frozen

WINDOW_S = 3600.0
MOST_KEYS = 50_000
"""Of so many links and addresses the uses are remembered; beyond, those that were quiet longest are forgotten."""


@frozen
class Limit:
    """So many uses of one kind within the window, by one link or page, and by one address."""

    by_link: int
    by_address: int


LIMITS = {
    "send": Limit(240, 600),
    "part": Limit(3000, 6000),
    "answer": Limit(5000, 120),
    "fetch": Limit(100_000, 100_000),
    "wrong": Limit(10**9, 60),
}
"""Common practice, no source. What is sent by a lifter's link beside the parts of its clips (4 MB each: 12 GB an
hour); answers to an open set (a whole club may answer from one address); what a desk asks; links that are none."""


class Pace:
    """Uses of the last hour; `take` counts one more or says how long to wait."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._key, self._lock = clock, secrets.token_bytes(32), threading.Lock()
        self._times: dict[tuple[str, str], deque[float]] = {}

    def take(self, kind: str, *, link: str = "", address: str = "") -> float:
        """Count a use; gives 0, or the seconds after which it would be taken. One that is refused does not count.

        Parameters
        ----------
        kind : of `LIMITS`.
        link : id of the link, or token of the page; "" for none.
        address : as the server has it; this machine, and what is no address, counts by link alone.
        """
        at, limit = self._clock(), LIMITS[kind]
        own = [((kind, f"link {link}"), limit.by_link)] if link else []
        if mark := self._mark(address):
            own.append(((kind, mark), limit.by_address))
        with self._lock:
            wait = max((self._wait(key, most, at) for key, most in own), default=0.0)
            if not wait:
                for key, _ in own:
                    self._times.setdefault(key, deque()).append(at)
                if len(self._times) > MOST_KEYS:
                    self._forget(at)
        return wait

    def full(self, kind: str, *, address: str) -> float:
        """Give the seconds after which a use would be taken, 0 for at once, without counting one."""
        mark = self._mark(address)
        with self._lock:
            return self._wait((kind, mark), LIMITS[kind].by_address, self._clock()) if mark else 0.0

    def _wait(self, key: tuple[str, str], most: int, at: float) -> float:
        times = self._times.get(key)
        while times and at - times[0] >= WINDOW_S:
            times.popleft()
        if times is not None and not times:
            del self._times[key]
        return WINDOW_S - (at - times[-most]) if times and len(times) >= most else 0.0

    def _forget(self, at: float) -> None:
        """Forget what is past, and what was quiet longest where that is not enough."""
        for key in [k for k, times in self._times.items() if at - times[-1] >= WINDOW_S]:
            del self._times[key]
        quiet = sorted(self._times, key=lambda k: self._times[k][-1])
        for key in quiet[: max(0, len(quiet) - MOST_KEYS)]:
            del self._times[key]

    def _mark(self, address: str) -> str:
        try:
            found = ipaddress.ip_address(address)
        except ValueError:
            return ""
        if isinstance(found, ipaddress.IPv6Address):
            found = found.ipv4_mapped or found
        if found.is_loopback:
            return ""
        whose = found.packed[:8] if isinstance(found, ipaddress.IPv6Address) else found.packed
        return hashlib.blake2b(whose, key=self._key, digest_size=16).hexdigest()


def in_words(wait_s: float) -> str:
    """Say how long to wait: 1 minute, 24 minutes."""
    minutes = max(1, math.ceil(wait_s / 60))
    return f"{minutes} minute{'s' if minutes > 1 else ''}"
