"""The same ear on a sound that is still coming in: it notices ringing begin, and each stand, and hears what was rung.

Blocks go in, moments come out. A stretch of ringing is cut from what is remembered, with some quiet before it, and is
heard by `judging.ear.listen.hear` as a recording of its own, at the stand; where a band rings on, once it has rung for
a minute. Bells that are being raised or lowered are known by their pace, and not heard. Memory is bounded however long
the evening: a few seconds of quiet, or the beginning of what is being rung.
"""

from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
import soxr

from judging.ear.alone import is_one_at_a_time
from judging.ear.channels import Taken
from judging.ear.decode import HIGHEST_RATE_HZ, LOWEST_RATE_HZ, MOST_CHANNELS, Sound, is_no_sound
from judging.ear.features import FRAME_S as ONSETS_FRAME_S
from judging.ear.features import RATE_HZ, onsets, steady_out
from judging.ear.heard import Heard
from judging.ear.lines import FRAME_S, NewLinesOfAny
from judging.ear.listen import hear
from judging.ear.remembered import Block, Remembered
from judging.ear.rising import Gaps
from judging.ear.voices import Voices
from judging.errors import InputError, JudgingError, NothingHeard
from judging.piece.piece import Piece

#: Ringing has begun when so many lines were new in a second: three bells make 27 in the poorest of rooms, talk 6.
_BEGINS, _BEGUN_S = 12, 1.0
#: A blow makes at least so many; the first blow is this near to where they are first seen, and this plain an onset.
_A_BLOW, _NEAR_S, _PLAIN = 3, 0.25, 0.25
#: The first blow is left out where the first that was heard is so much later (gaps).
_LEFT_OUT_GAPS = 0.6
#: It is over when fewer than this were new in the last seconds: ringing makes 27 and more, bells humming on 11 at most.
_GOES_ON, _STAND_S = 15, 2.5
#: What is remembered of the quiet before ringing, and what of it, and of the hum after, goes with the ringing.
_QUIET_S, _BEFORE_S, _AFTER_S = 4.0, 1.5, 1.0
#: Ringing that is heard within this long of the first sample, or of sound that was lost, began before it.
_JUST_BEGUN_S = 1.0
#: Shorter than two rows of three bells at the fastest pace, so no ringing: a clock striking, one bell tried.
_SHORTEST_S = 2.0
#: A band that has rung for so long rings on, and what it began with is heard while it does.
RINGS_ON_S = 60.0
#: The gap between blows (as a logarithm) grows or shrinks by this over a stretch where bells are raised or lowered: 0.4
#: and more on simulated bells, 0.3 at most where a band spread by 70 ms keeps its pace. Less is steady in any case.
_RISEN, _STEADY = 0.35, 0.12
#: A microphone that works is never quieter than this for so long.
_SILENT, _SILENT_S = 1e-5, 5.0
#: Longest stretch that is remembered, unless less is enough.
KEPT_S = 600.0


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
    is_no_ringing : bool
        Whether it was no band ringing: a clock striking, one bell tried, bells raised one after another.
    """

    began_s: float
    noticed_s: float
    heard: Heard | None = None
    problem: str = ""
    instead: Piece | None = None
    is_no_ringing: bool = False


@dataclass(frozen=True, slots=True)
class RingsOn:
    """A band has not stood for a minute; its beginning was heard.

    Parameters
    ----------
    so_far : Stood
        What will be told at the stand, unless bells turn out to have been raised or lowered.
    """

    so_far: Stood


Moment = Begun | RingsOn | Stood


class LiveEar:
    """An ear for a stream.

    Parameters
    ----------
    piece : Piece
        What is rung each time, or begun with.
    rate_hz, channels : int
        Of the stream. Of several channels the first ringing that is heard shows which are best; those are heard from
        then on, and the notes of that ringing say which and why.
    kept_s : float
        How much of each stretch of ringing is heard, from its beginning; the rest is forgotten.
    voices : Voices, optional
        Of these bells through this microphone, kept from before. They are learnt otherwise, and learnt again whenever
        more is rung at once than ever before.
    others : sequence of Piece
        What may be rung instead, such as the same on other numbers of bells: tried where it is not the piece.

    Raises
    ------
    InputError
        The rate or the number of channels is none that can be heard.
    """

    def __init__(
        self,
        piece: Piece,
        rate_hz: int,
        *,
        channels: int = 1,
        kept_s: float = KEPT_S,
        voices: Voices | None = None,
        others: Sequence[Piece] = (),
    ) -> None:
        if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
            raise InputError(
                "the stream",
                f"is sampled at {rate_hz:,} Hz; from {LOWEST_RATE_HZ:,} to {HIGHEST_RATE_HZ:,} Hz can be heard",
            )
        if not 1 <= channels <= MOST_CHANNELS:
            raise InputError("the stream", f"has {channels} channels; up to {MOST_CHANNELS} can be heard")
        self._piece = piece
        self._rate_hz = rate_hz
        self._most = int(kept_s * RATE_HZ)
        self._channels = channels
        self._resampler = soxr.ResampleStream(rate_hz, RATE_HZ, channels, dtype="float32")
        self._lines = NewLinesOfAny(channels)
        self._new: deque[int] = deque(maxlen=round(_STAND_S / FRAME_S))
        self._memory = Remembered(channels)
        self._others = tuple(others)
        self._voices = voices
        self._learnt_from = 0
        self._began_s: float | None = None
        self._last_s = 0.0
        self._gaps, self._gaps_since_s = Gaps(), 0.0
        self._so_far: Stood | None = None
        self._lost_s = -np.inf
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

    @property
    def channels_heard(self) -> list[int]:
        """The channels that are heard, from 0; all of them until ringing has shown which."""
        return list(self._memory.heard)

    def feed(self, block: Block) -> list[Moment]:
        """Take in the next block.

        Parameters
        ----------
        block : ndarray of float32, shape (samples,) or (samples, channels)
            Full scale 1, of any length; what is no number counts as silence.

        Returns
        -------
        list of Begun, RingsOn or Stood
            What was noticed, in order. Where a stand is, what was rung has been heard.
        """
        block = block.reshape(-1, self._channels)
        clean = np.where(is_no_sound(block), np.float32(0), block).astype(np.float32)
        self._fed += len(block)
        if (np.abs(clean[:, self._memory.heard]) > _SILENT).any():
            self._quiet_since = self._fed
        self._memory.note(block)
        return self._take(self._resampler.resample_chunk(clean))

    def end(self) -> list[Moment]:
        """Take in that nothing more comes; what is being rung is heard as if bells had stood."""
        noticed = self._take(self._resampler.resample_chunk(np.zeros((0, self._channels), np.float32), last=True))
        return [*noticed, *self._stand()] if self.is_ringing else noticed

    def lose(self) -> None:
        """Take in that some of the stream was lost here: what is being rung cannot be told, unless enough was had."""
        if self._began_s is None or self._lost_s < self._began_s:
            self._lost_s = self.time_s

    def _take(self, sound: Block) -> list[Moment]:
        noticed: list[Moment] = []
        if not self.is_ringing or self._memory.since(self._began_s) < self._most:
            self._memory.add(sound)
        else:
            self._memory.skip(sound)
        if self.is_ringing:
            self._gaps.feed(sound[:, self._memory.heard].mean(axis=1))
        first_s = self._lines.time_s
        for look, count in enumerate(self._lines.feed(sound, self._memory.heard)):
            now_s = first_s + look * FRAME_S
            self._new.append(int(count))
            if count >= _A_BLOW:
                self._last_s = now_s
            if self.is_ringing:
                if len(self._new) == self._new.maxlen and sum(self._new) < _GOES_ON:
                    noticed += self._stand()
            elif sum(list(self._new)[-round(_BEGUN_S / FRAME_S) :]) >= _BEGINS:
                second = list(self._new)[-round(_BEGUN_S / FRAME_S) :]
                first = next((look for look, new in enumerate(second) if new >= _A_BLOW), 0)
                self._began_s = max(0.0, now_s - (len(second) - 1 - first) * FRAME_S)
                self._new.clear()  # a stand is looked for once as much has been rung as it takes to see one
                self._gaps, self._gaps_since_s, self._so_far = Gaps(), self.time_s, None
                noticed.append(Begun(self._began_s))
        if self._began_s is None:
            self._memory.forget_all_but(int(_QUIET_S * RATE_HZ))
        elif self._so_far is None and self._last_s - self._began_s > RINGS_ON_S and abs(self._change()) < _STEADY:
            self._so_far = self._heard(self._began_s)
            noticed.append(RingsOn(self._so_far))
        return noticed

    def _change(self) -> float:
        return self._gaps.change(self._last_s - self._gaps_since_s)

    def _stand(self) -> list[Moment]:
        """Hear what was rung."""
        began_s, self._began_s = self._began_s or 0.0, None
        change = self._change()
        if abs(change) > _RISEN:
            way = "raised" if change > 0 else "lowered"
            stood = Stood(
                began_s,
                self.time_s,
                problem=f"bells were being {way}, which is not judged",
                is_no_ringing=is_one_at_a_time(self._rung(began_s)[1].samples),
            )
        elif self._so_far is not None:
            stood = replace(self._so_far, noticed_s=self.time_s)
        else:
            stood = self._heard(began_s)
        self._new.clear()
        self._memory.forget_all_but(int(_QUIET_S * RATE_HZ))
        return [stood]

    def _rung(self, began_s: float) -> tuple[float, Sound, Taken]:
        """Return where what has been rung begins, as far as it is remembered; its sound; and of which channels."""
        cut_s = max(self._memory.first / RATE_HZ, began_s - _BEFORE_S)
        most = min(int((self._last_s + _AFTER_S - cut_s) * RATE_HZ), self._most)
        taken = self._memory.best(int(began_s * RATE_HZ), most)
        return cut_s, self._memory.sound(int(cut_s * RATE_HZ), most, taken), taken

    def _heard(self, began_s: float) -> Stood:
        """Hear what has been rung."""
        cut_s, sound, taken = self._rung(began_s)
        if self._last_s - began_s < _SHORTEST_S or is_one_at_a_time(sound.samples):
            problem = "it was too short for ringing, or one bell at a time"
            return Stood(began_s, self.time_s, problem=problem, is_no_ringing=True)
        if began_s < _JUST_BEGUN_S:
            return Stood(began_s, self.time_s, problem="it had begun before it was listened to")
        if began_s - _JUST_BEGUN_S < self._lost_s < cut_s + len(sound.samples) / RATE_HZ:
            problem = "some of the sound was lost on its way, so this could not be heard"
            return Stood(began_s, self.time_s, problem=problem)
        try:
            heard = self._hear(sound, began_s - cut_s)
            if not heard.start_is_sure:
                instead = self._instead(sound)
                if instead is not None:
                    return Stood(began_s, self.time_s, problem="this was something else", instead=instead)
                heard = self._from_its_first_blow(sound, heard, began_s - cut_s)
        except InputError as told:
            problem = f"{told.where} {told.problem}"
            return Stood(began_s, self.time_s, problem=problem, instead=self._instead(sound))
        if heard.start_is_sure:
            self._memory.settle(taken.channels)
        return Stood(began_s, self.time_s, heard.later(int(cut_s * RATE_HZ) / RATE_HZ))

    def _hear(self, sound: Sound, about_s: float) -> Heard:
        """Hear a stretch with the voices known so far; by itself where there are none, or they do not fit.

        Voices from before are of other bells where they leave the first blow out: after silence it is the first of the
        row, and rounds alone would not show that every bell is called by its neighbour's name.
        """
        known = None
        if self._voices is not None:
            with suppress(NothingHeard):
                known = hear(sound, self._piece, voices=self._voices)
                if self._learnt_from or not self._leaves_out_the_first(known, sound, about_s):
                    return self._learn(known)
        try:
            return self._learn(hear(sound, self._piece))
        except NothingHeard:
            if known is None:
                raise
            return self._learn(known)

    def _leaves_out_the_first(self, heard: Heard, sound: Sound, about_s: float) -> bool:
        first_s = self._first_blow_s(sound, about_s)
        gap_s = float(np.median(np.diff(heard.log.times_s)))
        return first_s is not None and heard.log.times_s[0] - first_s > _LEFT_OUT_GAPS * gap_s

    def _from_its_first_blow(self, sound: Sound, heard: Heard, about_s: float) -> Heard:
        """Hear a stretch whose start is not sure once more: after silence, the first blow that is struck is the first.

        Bells that are rung in rounds say little of which of them leads, and silence says it all.
        """
        first_blow_s = self._first_blow_s(sound, about_s)
        if first_blow_s is None:
            return heard
        try:
            return self._learn(hear(sound, self._piece, first_blow_s=first_blow_s, voices=self._voices))
        except NothingHeard:
            return heard

    def _first_blow_s(self, sound: Sound, about_s: float) -> float | None:
        """When the first blow after silence is struck; None where nothing plain is."""
        rises = steady_out(onsets(sound.samples))
        first, last = (max(0, int((about_s + side * _NEAR_S) / ONSETS_FRAME_S)) for side in (-1, 1))
        plain = np.flatnonzero(rises[first:last] > _PLAIN)
        return (first + int(plain[0])) * ONSETS_FRAME_S if len(plain) else None

    def _instead(self, sound: Sound) -> Piece | None:
        """Return the one of the other pieces that is heard with no doubt about its start, and accounts for most blows.

        Four bells are easily found in the rounds of seven, but leave three blows of every row to nobody.
        """
        accounted: dict[int, Piece] = {}
        for piece in self._others:
            with suppress(JudgingError):
                heard = hear(sound, piece)
                if heard.start_is_sure:
                    accounted.setdefault(int((heard.log.bells > 0).sum()), piece)
        return accounted[max(accounted)] if accounted else None

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
