"""The same ear on a sound that is still coming in: it notices ringing begin, and each stand, and hears what was rung.

Blocks go in, moments come out. A stretch of ringing is cut from what is remembered, with some quiet before it, and is
heard by `judging.ear.listen.hear` as a recording of its own. Memory is bounded however long the evening: a few seconds
of quiet, or the beginning of what is being rung.
"""

from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

from judging.ear.decode import HIGHEST_RATE_HZ, LOWEST_RATE_HZ, Sound
from judging.ear.features import FRAME_S as ONSETS_FRAME_S
from judging.ear.features import RATE_HZ, onsets, steady_out
from judging.ear.lines import FRAME_S, NewLines
from judging.ear.listen import Heard, hear
from judging.ear.voices import Voices
from judging.errors import InputError, JudgingError, NothingHeard
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog

#: Ringing has begun when so many lines were new in a second: three bells make 27 in the poorest of rooms, talk 6.
_BEGINS, _BEGUN_S = 12, 1.0
#: A blow makes at least so many; the first blow is this near to where they are first seen, and this plain an onset.
_A_BLOW, _NEAR_S, _PLAIN = 3, 0.25, 0.25
#: It is over when fewer than this were new in the last seconds: ringing makes 27 and more, bells humming on 11 at most.
_GOES_ON, _STAND_S = 15, 2.5
#: What is remembered of the quiet before ringing, and what of it, and of the hum after, goes with the ringing.
_QUIET_S, _BEFORE_S, _AFTER_S = 4.0, 1.5, 1.0
#: Ringing that is heard within this long of the first sample began before it.
_JUST_BEGUN_S = 1.0
#: Shorter than two rows of three bells at the fastest pace, so no ringing: a clock striking, one bell tried.
_SHORTEST_S = 2.0
#: A microphone that works is never quieter than this for so long.
_SILENT, _SILENT_S = 1e-5, 5.0
_FULL_SCALE = 0.999
#: Longest stretch that is remembered, unless less is enough.
KEPT_S = 600.0

Block = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Begun:
    """Ringing has begun.

    Parameters
    ----------
    time_s : float
        When, on the stream's clock.
    """

    time_s: float


@dataclass(frozen=True, slots=True)
class Stood:
    """Ringing has stopped, and was heard.

    Parameters
    ----------
    began_s, noticed_s : float
        When it began, and how much of the stream had come in when the stand was noticed.
    heard : Heard or None
        Every blow, on the stream's clock; None where it could not be heard.
    problem : str
        Why it could not, in words.
    instead : Piece or None
        What was rung instead, where that was one of the other pieces thought of.
    too_short : bool
        Whether it was no more than a clock striking, or one bell tried.
    """

    began_s: float
    noticed_s: float
    heard: Heard | None = None
    problem: str = ""
    instead: Piece | None = None
    too_short: bool = False


class LiveEar:
    """An ear for a stream.

    Parameters
    ----------
    piece : Piece
        What is rung each time, or begun with.
    rate_hz : int
        Of the stream.
    kept_s : float
        How much of each stretch of ringing is heard, from its beginning; the rest is forgotten.
    voices : Voices, optional
        Of these bells through this microphone, kept from before. They are learnt otherwise, and learnt again whenever
        more is rung at once than ever before.
    others : sequence of Piece
        What may be rung instead, such as the same on other numbers of bells: tried in order where it is not the piece.

    Raises
    ------
    InputError
        The rate is none that can be heard.
    """

    def __init__(
        self,
        piece: Piece,
        rate_hz: int,
        *,
        kept_s: float = KEPT_S,
        voices: Voices | None = None,
        others: Sequence[Piece] = (),
    ) -> None:
        if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
            raise InputError(
                "the stream",
                f"is sampled at {rate_hz:,} Hz; from {LOWEST_RATE_HZ:,} to {HIGHEST_RATE_HZ:,} Hz can be heard",
            )
        self._piece = piece
        self._rate_hz = rate_hz
        self._most = int(kept_s * RATE_HZ)
        self._resampler = soxr.ResampleStream(rate_hz, RATE_HZ, 1, dtype="float32")
        self._lines = NewLines()
        self._new: deque[int] = deque(maxlen=round(_STAND_S / FRAME_S))
        self._memory = _Memory()
        self._others = tuple(others)
        self._voices = voices
        self._learnt_from = 0
        self._began_s: float | None = None
        self._last_s = 0.0
        self._quiet_since = 0
        self._fed = 0

    @property
    def time_s(self) -> float:
        """How much of the stream has come in."""
        return self._fed / self._rate_hz

    @property
    def is_ringing(self) -> bool:
        """Whether ringing is going on."""
        return self._began_s is not None

    @property
    def is_silent(self) -> bool:
        """Whether nothing at all has come in for a while, not even the noise of a microphone."""
        return self._fed - self._quiet_since > _SILENT_S * self._rate_hz

    @property
    def remembered_s(self) -> float:
        """How much sound is kept at this moment."""
        return self._memory.seconds

    def feed(self, block: Block) -> list[Begun | Stood]:
        """Take in the next block.

        Parameters
        ----------
        block : ndarray of float32, shape (samples,)
            Mono, full scale 1, of any length; what is no number counts as silence.

        Returns
        -------
        list of Begun or Stood
            What was noticed, in order. Where a stand is, what was rung has been heard.
        """
        self._fed += len(block)
        if (np.abs(np.nan_to_num(block)) > _SILENT).any():
            self._quiet_since = self._fed
        self._memory.note(block)
        return self._take(self._resampler.resample_chunk(np.nan_to_num(block).astype(np.float32)))

    def end(self) -> list[Begun | Stood]:
        """Take in that nothing more comes; what is being rung is heard as if bells had stood."""
        noticed = self._take(self._resampler.resample_chunk(np.zeros(0, np.float32), last=True))
        return [*noticed, *self._stand()] if self.is_ringing else noticed

    def lose(self) -> list[Begun | Stood]:
        """Take in that some of the stream was lost: ringing that goes on cannot be told any more."""
        lost, self._began_s = self._began_s, None
        self._new.clear()
        self._memory.forget_all_but(0)
        if lost is None:
            return []
        return [Stood(lost, self.time_s, problem="some of the sound was lost on its way, so this could not be heard")]

    def _take(self, sound: Block) -> list[Begun | Stood]:
        noticed: list[Begun | Stood] = []
        if not self.is_ringing or self._memory.since(self._began_s) < self._most:
            self._memory.add(sound)
        else:
            self._memory.skip(sound)
        first_s = self._lines.time_s
        for look, count in enumerate(self._lines.feed(sound)):
            now_s = first_s + look * FRAME_S
            self._new.append(int(count))
            if count >= _A_BLOW:
                self._last_s = now_s
            if self.is_ringing:
                if len(self._new) == self._new.maxlen and sum(self._new) < _GOES_ON:
                    noticed += self._stand()
            elif sum(list(self._new)[-round(_BEGUN_S / FRAME_S) :]) >= _BEGINS:
                second = list(self._new)[-round(_BEGUN_S / FRAME_S) :]
                first = next(look for look, new in enumerate(second) if new >= _A_BLOW)
                self._began_s = max(0.0, now_s - (len(second) - 1 - first) * FRAME_S)
                self._new.clear()  # a stand is looked for once as much has been rung as it takes to see one
                noticed.append(Begun(self._began_s))
        if not self.is_ringing:
            self._memory.forget_all_but(int(_QUIET_S * RATE_HZ))
        return noticed

    def _stand(self) -> list[Begun | Stood]:
        """Hear what was rung."""
        began_s, self._began_s = self._began_s or 0.0, None
        self._new.clear()
        first = self._memory.first
        cut_s = max(first / RATE_HZ, began_s - _BEFORE_S)
        rung = int((self._last_s + _AFTER_S - cut_s) * RATE_HZ)
        sound = self._memory.sound(int(cut_s * RATE_HZ), min(rung, self._most))
        self._memory.forget_all_but(int(_QUIET_S * RATE_HZ))
        if self._last_s - began_s < _SHORTEST_S:
            return [Stood(began_s, self.time_s, problem="it was too short for ringing", too_short=True)]
        if began_s < _JUST_BEGUN_S:
            return [Stood(began_s, self.time_s, problem="it had begun before it was listened to")]
        try:
            heard = self._hear(sound)
            if not heard.start_is_sure:
                instead = self._instead(sound)
                if instead is not None:
                    return [Stood(began_s, self.time_s, problem="this was something else", instead=instead)]
                heard = self._from_its_first_blow(sound, heard, began_s - cut_s)
        except InputError as told:
            problem = f"{told.where} {told.problem}"
            return [Stood(began_s, self.time_s, problem=problem, instead=self._instead(sound))]
        return [Stood(began_s, self.time_s, _moved(heard, int(cut_s * RATE_HZ) / RATE_HZ))]

    def _hear(self, sound: Sound) -> Heard:
        """Hear a stretch with the voices learnt so far; by itself where they are none, or do not help."""
        if self._voices is not None:
            try:
                return self._learn(hear(sound, self._piece, voices=self._voices))
            except NothingHeard:
                pass
        return self._learn(hear(sound, self._piece))

    def _from_its_first_blow(self, sound: Sound, heard: Heard, about_s: float) -> Heard:
        """Hear a stretch whose start is not sure once more: after silence, the first blow that is struck is the first.

        Bells that are rung in rounds say little of which of them leads, and silence says it all.
        """
        rises = steady_out(onsets(sound.samples))
        first, last = (max(0, int((about_s + side * _NEAR_S) / ONSETS_FRAME_S)) for side in (-1, 1))
        plain = np.flatnonzero(rises[first:last] > _PLAIN)
        if not len(plain):
            return heard
        try:
            first_blow_s = (first + int(plain[0])) * ONSETS_FRAME_S
            return self._learn(hear(sound, self._piece, first_blow_s=first_blow_s, voices=self._voices))
        except NothingHeard:
            return heard

    def _instead(self, sound: Sound) -> Piece | None:
        """Return the first of the other pieces that is heard, with no doubt about its start."""
        for piece in self._others:
            with suppress(JudgingError):
                if hear(sound, piece).start_is_sure:
                    return piece
        return None

    @property
    def voices(self) -> Voices | None:
        """The bells' voices as far as they are known."""
        return self._voices

    def _learn(self, heard: Heard) -> Heard:
        """Keep the voices of the stretch in which most was heard: the more blows, the better they are known."""
        sure = int((heard.log.bells > 0).sum()) if heard.start_is_sure else 0
        if heard.voices is not None and sure > self._learnt_from:
            self._voices, self._learnt_from = heard.voices, sure
        return heard


class _Memory:
    """Sound at the ear's rate, from some sample on; what has to be known of the stream's own samples beside it."""

    def __init__(self) -> None:
        self.first = 0
        self._blocks: deque[Block] = deque()
        self._length = 0
        self._skipped = 0
        self._samples = self._clipped = self._broken = 0
        self._peak = 0.0

    @property
    def seconds(self) -> float:
        return self._length / RATE_HZ

    def note(self, block: Block) -> None:
        """Note what the stream's own samples are like: resampled, they would not show where they were cut off."""
        level = np.abs(np.nan_to_num(block))
        self._samples += len(block)
        self._clipped += int((level >= _FULL_SCALE).sum())
        self._broken += int((~np.isfinite(block)).sum())
        self._peak = max(self._peak, float(level.max(initial=0.0)))

    def since(self, time_s: float | None) -> int:
        """How many samples are kept from a time on."""
        return self.first + self._length - int((time_s or 0.0) * RATE_HZ)

    def add(self, sound: Block) -> None:
        self._blocks.append(sound)
        self._length += len(sound)

    def skip(self, sound: Block) -> None:
        self._skipped += len(sound)

    def forget_all_but(self, samples: int) -> None:
        """Forget the oldest blocks, as far as that many samples stay; what was skipped cannot be joined on to."""
        if self._skipped:
            samples = 0
        while self._blocks and self._length - len(self._blocks[0]) >= samples:
            gone = len(self._blocks.popleft())
            self._length -= gone
            self.first += gone
        self.first, self._skipped = self.first + self._skipped, 0
        self._samples = self._clipped = self._broken = 0
        self._peak = 0.0

    def sound(self, begin: int, most: int) -> Sound:
        """Return what is kept from a sample on."""
        whole = np.concatenate([*self._blocks, np.zeros(0, np.float32)])
        taken = whole[max(0, begin - self.first) :][:most].copy()
        values = max(1, self._samples)
        return Sound(taken, "what was rung", RATE_HZ, 1, self._peak, self._clipped / values, self._broken / values)


def _moved(heard: Heard, by_s: float) -> Heard:
    """Put what was heard onto the stream's clock."""
    log = heard.log
    moved = StrikeLog(np.round(log.times_s + by_s, 5), log.bells.copy(), log.spread_ms.copy(), log.source)
    return Heard(moved, heard.notes, heard.start_is_sure, heard.voices)
