"""So many requests a second and no more, each sender for itself: a key that is stuck must not stop the other pads."""

import time
from threading import Lock


class Turnstile:
    """Lets each sender through at a steady rate, and a burst at first.

    Parameters
    ----------
    rate : float
        Requests a second, in the long run.
    burst : float
        Requests at once.
    """

    def __init__(self, rate: float = 20.0, burst: float = 100.0) -> None:
        self._rate = rate
        self._burst = burst
        self._lock = Lock()
        self._left: dict[int, tuple[float, float]] = {}

    def admits(self, sender: int) -> bool:
        """Whether one more request of a sender may pass now."""
        now_s = time.monotonic()
        with self._lock:
            left, since_s = self._left.get(sender, (self._burst, now_s))
            left = min(left + (now_s - since_s) * self._rate, self._burst)
            may_pass = left >= 1.0
            self._left[sender] = (left - may_pass, now_s)
        return may_pass
