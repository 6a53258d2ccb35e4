"""An evening of pull-offs, heard as they are rung: from blocks of sound to what a band is told after each stand."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from judging.ear import Voices
from judging.ear.live import RINGS_ON_S, Begun, LiveEar, Moment, RingsOn, Stood
from judging.errors import JudgingError
from judging.piece import Piece
from judging.piece.rows import rounds, row_text
from judging.striking import pull_offs
from judging.striking.strike_log import StrikeLog

#: A pull-off is measured against the pace of the dozen rows after it; more is not listened to.
KEPT_S = 24.0
#: As many whole pulls as can be rung in that time.
_WHOLE_PULLS = 8
#: Other numbers of bells that are tried where it is not the one said.
_OTHERS = (2, -2, 1, -1)
_FEWEST, _MOST = 3, 16


@dataclass(frozen=True, slots=True)
class Told:
    """What a stand comes to.

    Parameters
    ----------
    log : StrikeLog or None
        Every blow, on the clock of the stream; None where there is no pull-off in it.
    notes : tuple of str
        How good the sound is, in words.
    problem : str
        Why there is none, in words.
    """

    log: StrikeLog | None
    notes: tuple[str, ...] = ()
    problem: str = ""


def pulled_off_in(row: NDArray[np.int8]) -> Piece:
    """Return a row, as a piece that is nothing else."""
    return Piece(f"whole pulls of {row_text(row)}", np.tile(row, (2 * _WHOLE_PULLS, 1)))


class PullOffsLive:
    """Hears the pull-offs of an evening.

    Parameters
    ----------
    row : ndarray of int8, shape (bells,)
        What is pulled off in.
    rate_hz, channels : int
        Of the sound.
    voices : Voices, optional
        Of these bells, from before.
    """

    def __init__(self, row: NDArray[np.int8], rate_hz: int, *, channels: int = 1, voices: Voices | None = None) -> None:
        self._piece = pulled_off_in(row)
        numbers = (len(row) + more for more in _OTHERS if _FEWEST <= len(row) + more <= _MOST)
        others = [pulled_off_in(rounds(bells)) for bells in numbers]
        if (row != rounds(len(row))).any():
            others.insert(0, pulled_off_in(rounds(len(row))))
        self._is_told = False
        self.ear = LiveEar(self._piece, rate_hz, channels=channels, kept_s=KEPT_S, voices=voices, others=others)

    def feed(self, block: NDArray[np.float32]) -> list[Told]:
        """Take in the next block; return what is to be told of the stands noticed in it."""
        return self._told(self.ear.feed(block))

    def lose(self) -> None:
        """Take in that sound was lost."""
        self.ear.lose()

    def end(self) -> list[Told]:
        """Take in that nothing more comes."""
        return self._told(self.ear.end())

    def _told(self, moments: list[Moment]) -> list[Told]:
        told = []
        for moment in moments:
            if isinstance(moment, Begun):
                self._is_told = False
            elif isinstance(moment, RingsOn):
                told += self._while_they_ring(moment.so_far)
            elif not (moment.is_no_ringing or self._is_told):
                told.append(self._of(moment))
        return told

    def _while_they_ring(self, so_far: Stood) -> list[Told]:
        """Tell a pull-off before the stand, which may be long in coming; what was none is told once they stand."""
        told = self._of(so_far)
        self._is_told = told.log is not None
        rang_on = f"the band had not stood after {RINGS_ON_S:.0f} s; this is of the first {KEPT_S:.0f} s"
        return [replace(told, notes=(*told.notes, rang_on))] if self._is_told else []

    def _of(self, stood: Stood) -> Told:
        bells, row = self._piece.bells, row_text(self._piece.rows[0])
        if stood.instead is not None:
            other, other_row = stood.instead.bells, row_text(stood.instead.rows[0])
            if other == bells:
                return Told(None, problem=f"This was not pulled off in {row}: it sounds like {other_row}.")
            return Told(None, problem=f"This sounds like {other} bells; {bells} were said to be rung.")
        if stood.heard is None:
            return Told(None, problem=f"{stood.problem[:1].upper()}{stood.problem[1:]}.")
        try:
            found = pull_offs(stood.heard.log, self._piece)
        except JudgingError:
            found = ()
        if not found:
            return Told(
                None,
                problem=(
                    f"No pull-off in {row} was heard: it did not begin with a whole pull of that row. Were bells being "
                    f"raised or lowered, or was it another row, or not {bells} bells?"
                ),
            )
        return Told(stood.heard.log, stood.heard.notes)
