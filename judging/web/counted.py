"""Counts made of late: a sheet that is signed, or a step that is taken, does not have every band counted again."""

import hashlib
import pickle
from collections import OrderedDict
from threading import Lock

from judging.piece import Piece
from judging.striking import Count, CountingRules, StrikeLog, count_striking


class Counted:
    """Counts striking, and gives the very same count where log, piece and rules are the same as before.

    Parameters
    ----------
    most : int
        How many are kept, the oldest unused going first; one of a few hundred rows takes some hundred kilobytes.
    """

    def __init__(self, most: int = 64) -> None:
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[bytes, Count] = OrderedDict()

    def __call__(self, log: StrikeLog, piece: Piece, rules: CountingRules, *, name: str = "") -> Count:
        """Return the count of a log; see `count_striking`. What is refused is refused each time, by its own name."""
        # All that a count is made from, to the byte: nobody is ever given the count of anything else.
        key = hashlib.sha256(pickle.dumps((log, piece, rules))).digest()
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        count = count_striking(log, piece, rules, name=name)
        with self._lock:
            self._kept[key] = count
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return count
