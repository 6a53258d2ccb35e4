"""Whatever a log holds, the count is made or refused in words: nothing else happens."""

import json
from contextlib import suppress

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import human, plain_bob, rounds

from judging.errors import NothingHeard
from judging.piece.piece import Piece
from judging.striking import SCHEMES, CountingRules, Marked, StrikeLog, count_document, count_striking

CALLS = Piece(
    "calls",
    np.array([[1, 2, 3, 4], [1, 2, 4, 3], [1, 4, 2, 3], [1, 2, 3, 4]], dtype=np.int8),
    opening=1,
    free_lengths=True,
)
PIECES = [rounds(4, 2), rounds(4, 9), plain_bob(4, 2), plain_bob(4, 3, opening=0), CALLS]


def counted(log: StrikeLog, piece: Piece, rules: CountingRules) -> None:
    with suppress(NothingHeard):
        document = count_document(count_striking(log, piece, rules))
        json.dumps(document, allow_nan=False)
        assert document["total_faults"] == sum(blow["charge"] for blow in document["blows"] + document["blows_before"])
        laid = [blow for blow in document["blows"] + document["blows_before"] if blow["time_s"] is not None]
        assert len(laid) <= len(log)


@given(
    steps=st.lists(st.sampled_from([0.0, 0.01, 0.2, 0.3, 0.3, 0.3, 0.35, 0.6, 2.0, 40.0]), min_size=0, max_size=60),
    bells=st.lists(st.integers(0, 4), min_size=60, max_size=60),
    piece=st.sampled_from(PIECES),
    scheme=st.sampled_from(sorted(SCHEMES)),
    marked=st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_any_blows_at_all(
    steps: list[float],
    bells: list[int],
    piece: Piece,
    scheme: str,
    marked: bool,  # noqa: FBT001  # hypothesis hands arguments by name
) -> None:
    times = np.cumsum(np.array(steps, dtype=np.float64))
    log = StrikeLog(times, np.array(bells[: len(times)], dtype=np.int8), np.full(len(times), 3.0))
    counted(
        log,
        piece,
        CountingRules(scheme=SCHEMES[scheme], marked=Marked(pull_off=marked, opening=marked, closing=marked)),
    )


@given(
    seed=st.integers(0, 10_000),
    lost=st.lists(st.integers(0, 60), max_size=12),
    unknown=st.lists(st.integers(0, 60), max_size=8),
    mistaken=st.lists(st.tuples(st.integers(0, 60), st.integers(0, 4)), max_size=8),
    piece=st.sampled_from(PIECES[1:4]),
    doubtful=st.sampled_from(["count", "lower", "leave out"]),
)
@settings(max_examples=120, deadline=None)
def test_any_mishearing_of_a_real_touch(
    seed: int,
    lost: list[int],
    unknown: list[int],
    mistaken: list[tuple[int, int]],
    piece: Piece,
    doubtful: str,
) -> None:
    log = human(piece, seed, spread_ms=50)
    bells = log.bells.copy()
    for blow in unknown:
        bells[blow % len(bells)] = 0
    for blow, bell in mistaken:
        bells[blow % len(bells)] = bell
    keep = np.setdiff1d(np.arange(len(log)), lost)
    counted(
        StrikeLog(log.times_s[keep], bells[keep], np.full(len(keep), 8.0)),
        piece,
        CountingRules(doubtful=doubtful),  # type: ignore[arg-type]  # drawn from the three ways
    )
