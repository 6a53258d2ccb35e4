"""What the ear hands back: the strike log, and what there is to say about it."""

from dataclasses import dataclass, replace

import numpy as np

from judging.ear.clarity import Clarity
from judging.ear.voices import Voices
from judging.striking.strike_log import StrikeLog


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of ringing within a recording.

    Parameters
    ----------
    begin_s, end_s : float
        From about its first blow to about its last.
    rung : float or None
        Share of the piece that was rung there, in its order, from 0 to 1; None where that was not asked.
    is_heard : bool
        Whether it is the one that was heard.
    """

    begin_s: float
    end_s: float
    rung: float | None = None
    is_heard: bool = False


@dataclass(frozen=True, slots=True)
class Heard:
    """What the ear heard.

    Parameters
    ----------
    log : StrikeLog
        Every blow.
    notes : tuple of str
        How good the recording is, in words, and what to do about it.
    start_is_sure : bool
        False where another reading of the start fits nearly as well; the notes then name the candidates.
    voices : Voices or None
        The bells' voices, which may be kept and given when the same bells are heard through the same microphone again.
    clarity : tuple of Clarity
        How well each bell is told from the others in this recording.
    rung : float
        Share of the piece that was rung, in its order, from 0 to 1.
    segments : tuple of Segment
        Where the recording holds several stretches of ringing: all of them, and which of them was heard.
    segment_is_sure : bool
        False where the piece is heard in another stretch as well; the notes then name them.
    """

    log: StrikeLog
    notes: tuple[str, ...] = ()
    start_is_sure: bool = True
    voices: Voices | None = None
    clarity: tuple[Clarity, ...] = ()
    rung: float = 1.0
    segments: tuple[Segment, ...] = ()
    segment_is_sure: bool = True

    def later(self, by_s: float) -> "Heard":
        """Return the same, with every blow so much later: a part of a recording on the clock of the whole."""
        log = self.log
        times = np.round(log.times_s + by_s, 5)
        return replace(self, log=StrikeLog(times, log.bells.copy(), log.spread_ms.copy(), log.source))
