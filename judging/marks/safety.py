"""RESULT → SAFETY OF EACH PLACE: how often it would stand if the counts were taken again.

The section is ranked many times on figures that the judges might as well have given (`judging.marks.spread`) and, where
the machine has a voice, on counts within its own doubt: the ear's, blow by blow, and that of where its tolerance lines
stand, which moves every band's count together. The draws come from a seed made of the rules' fingerprint and
the section, so the same contest always says the same. It is told as advice: it changes no mark and no place.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from judging.marks.float_ranker import Field, float_places
from judging.marks.panel import MACHINE, Prepared
from judging.marks.rules import MarksRules
from judging.marks.spread import Floats, MarksSpread, Spread, fit_marks_spread, fit_spread, resample_counts
from judging.marks.values import Placed, Result, Safety

RESAMPLES = 10_000

#: Words for a share of resamples. Evenblow's choice: nineteen in twenty is what is usually called sure, and four in
#: five is where an organiser would still bet.
_FIRM, _LIKELY = 0.95, 0.80

#: Ranked together; bounds the memory at 100 bands and 5 judges to some tens of megabytes.
_BLOCK = 2_500
_PODIUM = 3

#: How far the tolerance lines are moved to see what their own uncertainty does, in standard errors of their scale.
LINE_ERRORS: tuple[float, ...] = (-2.0, -1.0, 0.0, 1.0, 2.0)


def how_safe(
    prepared: Prepared,
    result: Result,
    rules: MarksRules,
    *,
    machine_spread: Mapping[str, float] | None = None,
    machine_moved: Mapping[str, Sequence[float]] | None = None,
    resamples: int = RESAMPLES,
) -> Safety | None:
    """Safety of the places of a section.

    Parameters
    ----------
    prepared : Prepared
        The section's figures.
    result : Result
        What they gave.
    rules : MarksRules
        As declared.
    machine_spread : mapping of str to float or None
        Standard error of the machine's count in faults by the ear's doubt, by entry; used where it has a voice.
    machine_moved : mapping of str to sequence of float or None
        The machine's counts with all tolerance lines moved together by `LINE_ERRORS`, by entry; used where it has a
        voice.
    resamples : int
        How many.

    Returns
    -------
    Safety or None
        None where no entry is placed.
    """
    placed = [line for line in result.places if line.place is not None]
    if not placed:
        return None
    if len(placed) == 1:
        return _alone(placed[0])
    judges = sorted(prepared.signed)
    entries = list(prepared.panel.placed)
    signed = np.array([[float(prepared.signed[j].get(e, np.nan)) for e in entries] for j in judges])
    human = np.array([judge != MACHINE for judge in judges])
    field = Field(
        entrants=tuple(prepared.entrants[entry] for entry in entries),
        weights=np.array([float(prepared.panel.weights.get(judge, 1)) for judge in judges]),
        rules=rules,
    )
    top = _top_of(rules)
    spread: Spread | MarksSpread
    if top is None:
        spread = fit_marks_spread(signed[human], step=float(rules.sheets.step))
    else:
        spread = fit_spread(np.abs(top - signed[human]))
    doubt = _MachineDoubt(
        np.array([(machine_spread or {}).get(entry, 0.0) for entry in entries]),
        np.array([(machine_moved or {}).get(entry, (0.0,) * len(LINE_ERRORS)) for entry in entries]),
    )
    generator = np.random.default_rng(_seed(result))
    blocks = [
        float_places(_resample(signed, human, spread, doubt, rules, size, generator), field)
        for size in _sizes(resamples)
    ]
    return _told(placed, np.concatenate(blocks)[:, [entries.index(line.entry) for line in placed]], spread)


@dataclass(frozen=True, slots=True)
class _MachineDoubt:
    """How far the machine's counts may be out.

    Parameters
    ----------
    ear : ndarray, shape (N,)
        Standard error of each band's count by the ear's doubt.
    moved : ndarray, shape (N, K)
        Counts with the tolerance lines moved by `LINE_ERRORS`.
    """

    ear: Floats
    moved: Floats

    def apart(self, size: int, generator: np.random.Generator) -> Floats:
        """Return how far off the counts are in so many recounts, shape (size, N)."""
        apart: Floats = self.ear * generator.standard_normal((size, len(self.ear)))
        by_line = self.moved - self.moved[:, [LINE_ERRORS.index(0.0)]]
        if by_line.any():
            lines = generator.standard_normal(size)
            apart += np.array([np.interp(lines, LINE_ERRORS, counts) for counts in by_line]).T
        return apart


def with_safety(result: Result, safety: Safety | None) -> Result:
    """Result with the safety of each place filled in and its notes added; as it was where nothing can be said."""
    if safety is None:
        return result
    shares = safety.place_or_better
    return replace(
        result,
        places=tuple(replace(line, safety=shares.get(line.entry)) for line in result.places),
        notes=result.notes + safety.notes,
    )


def _top_of(rules: MarksRules) -> float | None:
    """What faults are counted from: 0 for faults, the most a sheet may hold for marks."""
    if rules.sheets.lower_is_better:
        return 0.0
    return None if rules.sheets.most is None else float(rules.sheets.most)


def _seed(result: Result) -> int:
    """Seed of the draws: the first 16 bytes of SHA-256 over fingerprint, line feed, section."""
    digest = hashlib.sha256(f"{result.fingerprint}\n{result.section}".encode()).digest()
    return int.from_bytes(digest[:16], "big")


def _sizes(resamples: int) -> list[int]:
    whole, rest = divmod(resamples, _BLOCK)
    return [_BLOCK] * whole + [rest] * bool(rest)


def _resample(
    signed: Floats,
    human: NDArray[np.bool_],
    spread: Spread | MarksSpread,
    doubt: _MachineDoubt,
    rules: MarksRules,
    size: int,
    generator: np.random.Generator,
) -> Floats:
    step = float(rules.sheets.step)
    figures = np.empty((size, *signed.shape))
    if isinstance(spread, MarksSpread):
        marks = signed[human] + spread.deviation * generator.standard_normal((size, *signed[human].shape))
        figures[:, human, :] = np.maximum(0.0, np.rint(marks / step) * step)
        return figures
    top, most = _top_of(rules) or 0.0, rules.sheets.most
    counts = resample_counts(np.abs(top - signed[human]), spread.dispersion, step=step, size=size, generator=generator)
    if most is not None:
        np.minimum(counts, float(most), out=counts)
    figures[:, human, :] = top - counts if top else counts
    if not human.all():
        figures[:, ~human, :] = np.maximum(0.0, signed[~human] + doubt.apart(size, generator)[:, None, :])
    return figures


def _alone(line: Placed) -> Safety:
    """Safety of a sole placed entry, which no count can move."""
    certain = {line.entry: 1.0}
    return Safety(
        resamples=0,
        place_or_better=certain,
        first=certain,
        podium=certain,
        at_place={line.entry: (1.0,)},
        ahead_of_next=(),
        dispersion=None,
        degrees_of_freedom=0,
        notes=("The only placed entry: no recount can move it, and none was made.",),
    )


def _told(placed: Sequence[Placed], places: NDArray[np.int64], spread: Spread | MarksSpread) -> Safety:
    entries = [line.entry for line in placed]
    own = np.array([line.place for line in placed])
    share = [round(float(value), 3) for value in (places <= own).mean(axis=0)]
    first = [round(float(value), 3) for value in (places == 1).mean(axis=0)]
    podium = [round(float(value), 3) for value in (places <= _PODIUM).mean(axis=0)]
    bands = len(placed)
    counted = np.bincount((places - 1 + bands * np.arange(bands)).ravel(), minlength=bands**2)
    at_place = (counted.reshape(bands, bands) / len(places)).round(3).tolist()
    ahead = tuple(round(float(value), 3) for value in (places[:, :-1] < places[:, 1:]).mean(axis=0))
    return Safety(
        resamples=len(places),
        place_or_better=dict(zip(entries, share, strict=True)),
        first=dict(zip(entries, first, strict=True)),
        podium=dict(zip(entries, podium, strict=True)),
        at_place={entry: tuple(shares) for entry, shares in zip(entries, at_place, strict=True)},
        ahead_of_next=ahead,
        dispersion=spread.dispersion if isinstance(spread, Spread) else None,
        degrees_of_freedom=spread.degrees_of_freedom,
        notes=(_winner_in_words(own, first[0]), *_close_in_words(own, ahead), _basis_in_words(len(places), spread)),
    )


def _winner_in_words(own: NDArray[np.int64], first: float) -> str:
    winners = int((own == 1).sum())
    if winners > 1:
        return f"First place is shared by {winners}."
    hundred = f"in {round(100 * first)} of 100 recounts the winner is first or level first"
    if first >= _FIRM:
        return f"First place stands firmly: {hundred}."
    if first >= _LIKELY:
        return f"First place is likely, not sure: {hundred}."
    return f"First place is within what counting can tell apart: {hundred}."


def _close_in_words(own: NDArray[np.int64], ahead: Sequence[float]) -> tuple[str, ...]:
    close = [
        f"{ordinal(int(own[index]))} and {ordinal(int(own[index + 1]))} ({round(100 * share)} in 100)"
        for index, share in enumerate(ahead)
        if share < _LIKELY and own[index] != own[index + 1]
    ]
    if not close:
        return ()
    return (
        f"Within what counting can tell apart: {'; '.join(close)}, the share in which the first of the two is ahead.",
    )


def _basis_in_words(resamples: int, spread: Spread | MarksSpread) -> str:
    if isinstance(spread, MarksSpread):
        whence = (
            "from how far the judges disagree"
            if spread.degrees_of_freedom
            else "an assumption from published lists of faults: one judge cannot show how far judges disagree"
        )
        basis = f"a mark's spread taken as {spread.deviation:.2g} marks, {whence}; no most is declared to count from"
    elif spread.degrees_of_freedom:
        basis = f"a count's variance taken as {spread.dispersion:.2f} times the count, from how far the judges disagree"
    else:
        basis = "a count's variance taken as the count, an assumption: one judge cannot show how far judges disagree"
    return f"Safety of places: {resamples:,} recounts, {basis}."


def ordinal(place: int) -> str:
    """Place in words up to the tenth, then as ``"11th"``."""
    words = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
    if place <= len(words):
        return words[place - 1]
    ending = "th" if 10 <= place % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{ending}"
