"""One strike detector a bell, trained on this very recording.

A detector is a ridge regression from a patch of the picture (five looks at all bands, 50 ms either side) to a narrow
bump at each blow: a matched filter that has learnt to ignore whatever the other bells, the room and the wind do.
The regression is centred, and its strength of 0.1 of the mean variance was best of 0.01 to 1 on dull bells.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from judging.ear.features import FRAME_S, OFFSETS
from judging.ear.tables import let_go, table

_STRENGTH = 0.1
#: Width of the bump a detector should answer with, in frames (6 ms), and how far it reaches.
_BUMP, _REACH = 1.2, 5
_FEWEST_ACTIVE = 0.05
_BLOCK = 4096
#: Of a table on the disk so many frames are looked up before its pages are let go: here and there, they are many pages.
_FEW = 1024

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Voices:
    """Detectors that have been learnt.

    Parameters
    ----------
    weights : ndarray of float32, shape (looks, bands, detectors)
        What each detector looks for at each offset of the patch.
    bias : ndarray of float32, shape (detectors,)
        Subtracted from each answer.
    """

    weights: Floats
    bias: Floats

    def answer(self, loud: Floats, first: int = 0, last: int | None = None) -> Floats:
        """Answers of all detectors to some frames; shape (last - first, detectors)."""
        last = len(loud) if last is None else last
        looks, bands, detectors = self.weights.shape
        side_by_side = np.ascontiguousarray(self.weights.transpose(1, 0, 2)).reshape(bands, looks * detectors)
        answers = table(last - first, detectors)
        for begin in range(first, last, _BLOCK):
            end = min(last, begin + _BLOCK)
            frames = np.clip(np.arange(begin + OFFSETS[0], end + OFFSETS[-1]), 0, len(loud) - 1)
            parts = (loud[frames] @ side_by_side).reshape(len(frames), looks, detectors)
            block = answers[begin - first : end - first]
            block[:] = -self.bias
            for look, offset in enumerate(OFFSETS):
                skip = offset - OFFSETS[0]
                block += parts[skip : skip + end - begin, look]
            let_go(loud)
            let_go(answers)
        return answers

    def __len__(self) -> int:
        """Return the number of detectors."""
        return len(self.bias)

    def only(self, detectors: NDArray[np.int64]) -> "Voices":
        """Return some of the detectors."""
        return Voices(np.ascontiguousarray(self.weights[:, :, detectors]), self.bias[detectors])

    def levelled(self, usual: Floats) -> "Voices":
        """Return the same detectors, answering with 1 what they answered with ``usual``; shape (detectors,)."""
        return Voices(self.weights / usual, self.bias / usual)


class School:
    """Frames to learn from; any number of detectors can be taught on them at little cost.

    Parameters
    ----------
    loud : ndarray of float32, shape (frames, bands)
        The picture.
    frames : ndarray of int64
        Which frames are learnt from.
    """

    def __init__(self, loud: Floats, frames: NDArray[np.int64]) -> None:
        self.frames = frames
        self._loud = loud
        size = len(OFFSETS) * loud.shape[1]
        total, products = np.zeros(size), np.zeros((size, size), np.float32)
        for _, patches in self._patches():
            total += patches.sum(axis=0, dtype=np.float64)
            products += patches.T @ patches
        self._mean = (total / len(frames)).astype(np.float32)
        spread = products / np.float32(len(frames)) - np.outer(self._mean, self._mean)
        spread[np.arange(size), np.arange(size)] += _STRENGTH * np.trace(spread) / size
        self._factor = scipy.linalg.cho_factor(spread, overwrite_a=True, check_finite=False)

    def _patches(self) -> Iterator[tuple[slice, Floats]]:
        """Patches of the frames, block by block, so that memory does not grow with their number."""
        last = len(self._loud) - 1
        for begin in range(0, len(self.frames), _BLOCK):
            block = slice(begin, begin + _BLOCK)
            frames = self.frames[block]
            patches = np.empty((len(frames), len(OFFSETS) * self._loud.shape[1]), np.float32)
            looks = patches.reshape(len(frames), len(OFFSETS), -1)
            for first in range(0, len(frames), _FEW):
                few = slice(first, first + _FEW)
                for look, offset in enumerate(OFFSETS):
                    looks[few, look] = self._loud[np.clip(frames[few] + offset, 0, last)]
                let_go(self._loud)
            yield block, patches

    def teach(self, targets: Floats, known: Voices | None = None) -> Voices:
        """Learn detectors from what they should answer.

        Parameters
        ----------
        targets : ndarray of float32, shape (frames, detectors)
            What they should answer.
        known : Voices, optional
            Voices of the same bells, kept from another recording: what is learnt then draws towards these and not
            towards nothing, so that few blows are enough.
        """
        wanted = targets if known is None else targets - known.answer(self._loud)[self.frames]
        wanted = wanted - wanted.mean(axis=0)
        towards = np.zeros((len(self._mean), targets.shape[1]), np.float32)
        for block, patches in self._patches():
            towards += patches.T @ wanted[block]
        towards /= np.float32(len(self.frames))
        flat = scipy.linalg.cho_solve(self._factor, towards, check_finite=False).astype(np.float32)
        weights = flat.reshape(len(OFFSETS), -1, targets.shape[1])
        if known is None:
            return Voices(weights, self._mean @ flat)
        return Voices(weights + known.weights, self._mean @ flat + known.bias)


def bumps(times_s: NDArray[np.float64], heights: NDArray[np.float64], frames: NDArray[np.int64]) -> Floats:
    """Targets for detectors: a bump at every blow.

    Parameters
    ----------
    times_s, heights : ndarray, shape (blows, detectors)
        When each detector should answer, and how strongly; NaN for no blow.
    frames : ndarray of int64, shape (frames,)
        The frames the targets are for, in order.

    Returns
    -------
    ndarray of float32, shape (frames, detectors)
    """
    targets = np.zeros((len(frames), times_s.shape[1]), np.float32)
    blow, detector = np.nonzero(np.isfinite(times_s))
    centre = times_s[blow, detector] / FRAME_S
    near = np.round(centre).astype(np.int64)[:, None] + np.arange(-_REACH, _REACH + 1)
    height = heights[blow, detector][:, None] * np.exp(-0.5 * ((near - centre[:, None]) / _BUMP) ** 2)
    at = np.minimum(np.searchsorted(frames, near), len(frames) - 1)
    wanted = frames[at] == near
    where = np.broadcast_to(detector[:, None], near.shape)
    np.maximum.at(targets, (at[wanted], where[wanted]), height[wanted].astype(np.float32))
    return targets


def usual_answers(answers: Floats, times_s: NDArray[np.float64], first: int) -> Floats:
    """How strongly each detector answers its own blows, as a rule.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, detectors)
        From frame ``first`` on.
    times_s : ndarray, shape (blows, detectors)
        NaN for no blow.
    first : int
        Frame of the first answer.

    Returns
    -------
    ndarray of float32, shape (detectors,)
        Never less than a twentieth of what was taught.
    """
    usual = np.full(answers.shape[1], _FEWEST_ACTIVE, np.float32)
    for detector in range(answers.shape[1]):
        own = times_s[:, detector]
        frames = np.round(own[np.isfinite(own)] / FRAME_S).astype(np.int64) - first
        if len(frames):
            near = np.clip(frames[:, None] + np.arange(-2, 3), 0, len(answers) - 1)
            usual[detector] = max(_FEWEST_ACTIVE, np.median(answers[near, detector].max(axis=1)))
    return usual
