"""Hearing with the voices kept at a tower, and without them where they do not fit.

Where the piece has changes, the ear itself refuses what other bells' voices make of it. Rounds alone go down the scale
whichever bell leads, so that voices of bells a note higher would call every bell by its neighbour's name: there it is
heard without voices as well, and what the recording says by itself goes first.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from judging.ear import Heard, Voices, listen, voices_from_bytes
from judging.ear.listen import Progress
from judging.errors import InputError, NothingHeard
from judging.piece import Piece

#: Times of one blow heard twice are nearer than this (s); so many changes say which bell is which.
_SAME_S, _FEWEST_CHANGES = 0.05, 4
#: Of one touch heard twice nearly all blows have the same name, and hardly any where the names are shifted.
_SAME_NAMES = 0.5
#: With other bells' voices a bell answers its neighbour's blows: made-up bells a note higher are told apart by 0.36, by
#: voices that fit 0.83 and more.
_POORLY_APART = 0.5


@dataclass(frozen=True, slots=True)
class HeardWith:
    """What was heard, and with what.

    Parameters
    ----------
    heard : Heard
        As `judging.ear.listen` gives it.
    with_voices : bool
        Whether the kept voices were used.
    why_without : str
        Why not, in words; empty where none were given.
    """

    heard: Heard
    with_voices: bool = False
    why_without: str = ""


def listen_with(
    kept: bytes,
    path: Path,
    piece: Piece,
    *,
    progress: Progress,
    first_blow_s: float | None = None,
    between_s: tuple[float, float] | None = None,
) -> HeardWith:
    """Hear a recording with kept voices, or without where they do not fit.

    Parameters
    ----------
    kept : bytes
        As `judging.ear.voices_to_bytes` writes voices; empty for none.
    path, piece, progress, first_blow_s, between_s
        As `judging.ear.listen` takes them.

    Returns
    -------
    HeardWith

    Raises
    ------
    InputError
        The recording cannot be used.
    NothingHeard
        It holds no ringing of the piece, with the voices or without.
    """
    voices, why_without = _readable(kept, piece)
    if voices is None:
        heard = listen(path, piece, progress=progress, first_blow_s=first_blow_s, between_s=between_s)
        return HeardWith(heard, why_without=why_without)
    return listen_with_these(voices, path, piece, progress=progress, first_blow_s=first_blow_s, between_s=between_s)


def listen_with_these(
    voices: Voices,
    path: Path,
    piece: Piece,
    *,
    progress: Progress,
    first_blow_s: float | None = None,
    between_s: tuple[float, float] | None = None,
) -> HeardWith:
    """Hear a recording with voices, or without where they do not fit; as `listen_with`.

    Raises
    ------
    InputError
        The recording cannot be used, or the voices are of another number of bells.
    NothingHeard
        It holds no ringing of the piece, with the voices or without.
    """
    alone = partial(listen, path, piece, progress=progress, between_s=between_s)
    try:
        known = alone(first_blow_s=first_blow_s, voices=voices)
    except NothingHeard:
        why = "they do not fit what this recording holds"
        return HeardWith(alone(first_blow_s=first_blow_s), why_without=why)
    if int((piece.rows != piece.rows[0]).any(axis=1).sum()) >= _FEWEST_CHANGES or first_blow_s is not None:
        return HeardWith(known, with_voices=True)
    return _beside_itself(known, alone)


def _readable(kept: bytes, piece: Piece) -> tuple[Voices | None, str]:
    """Return voices that can be tried, or why there are none."""
    if not kept:
        return None, ""
    try:
        voices = voices_from_bytes(kept, "the kept voices")
    except InputError as error:
        return None, str(error)
    if len(voices) != piece.bells:
        return None, f"they are of {len(voices)} bells, and the piece is for {piece.bells}"
    return voices, ""


def _beside_itself(known: Heard, hear_alone: Callable[[], Heard]) -> HeardWith:
    """Hold what was heard of rounds with voices against what is heard without."""
    try:
        alone = hear_alone()
    except NothingHeard:
        alone = replace(known, start_is_sure=False)
    if alone.start_is_sure and _share_of_same_names(known, alone) < _SAME_NAMES:
        return HeardWith(alone, why_without="they call the bells by other names than this recording itself")
    told = min((one.apart for one in known.clarity if one.most_like), default=1.0)
    if not alone.start_is_sure and told < _POORLY_APART:
        doubt = "it is not sure that the voices kept at this tower are of these bells; say when the first blow is"
        known = replace(known, start_is_sure=False, notes=(*known.notes, doubt))
    return HeardWith(known, with_voices=True)


def _share_of_same_names(one: Heard, other: Heard) -> float:
    """Share of the blows heard both times that have the same name both times; 0 where there are none."""
    after = np.searchsorted(other.log.times_s, one.log.times_s)
    sides = [np.clip(after + step, 0, len(other.log) - 1) for step in (-1, 0)]
    apart = np.stack([np.abs(other.log.times_s[side] - one.log.times_s) for side in sides])
    nearest = np.where(apart[0] <= apart[1], *sides)
    both = (apart.min(axis=0) < _SAME_S) & (one.log.bells > 0) & (other.log.bells[nearest] > 0)
    return float((one.log.bells == other.log.bells[nearest])[both].mean()) if both.any() else 0.0
