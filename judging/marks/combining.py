"""JUDGES' FIGURES → ONE MARK AN ENTRY, by the declared policy.

Each policy puts every judge's figures on a scale of that judge's own, then joins the judges:

=================== ================================================== =====================
policy              a judge's figure x becomes                         the judges are
=================== ================================================== =====================
sum, agreed mark    x                                                  added
mean                x                                                  averaged
ratio               x / mean of that judge's figures                   averaged
standard score      (x - mean) / population standard deviation         added
placings            that judge's place; equal ones share the mean      added
majority            the same                                           see below
=================== ================================================== =====================

Majority: the best place that more than half of the judges gave or bettered. Means, spreads and places are taken over
the entries that can be placed; an unplaced entry is put on the same scale but does not move it. Where a judge's mean
is zero every figure counts 1 as a ratio; where a judge gave all the same, every standard score is 0: such a judge
tells nobody apart, and a note says so.

Worked example, faults of two judges, A 18/62, B 24/50, C 30/45: sum B 74, C 75, A 80; placings 4 each; standard score
B -0.327, A +0.130, C +0.197; ratio A 0.967, B 0.978, C 1.055.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, localcontext

from judging.marks.exact import WORKING_DIGITS, settle
from judging.marks.rules import Combining, Policy

Figures = Mapping[str, Decimal]

_UNITS: Mapping[Policy, str] = {
    "ratio": "ratio",
    "standard score": "standard score",
    "placings": "placings",
    "majority of placings": "placings",
}
_ZERO, _ONE, _TWO = Decimal(0), Decimal(1), Decimal(2)


@dataclass(frozen=True, slots=True)
class Panel:
    """What is combined.

    Parameters
    ----------
    figures : mapping of str to mapping of str to Decimal
        By judge and entry, after each judge's adjustments. An entry may be without some judge.
    weights : mapping of str to Decimal
        Of judges that do not weigh 1.
    placed : tuple of str
        Entries that can be placed; they make the scale.
    lower_is_better : bool
        Whether fewer is better.
    """

    figures: Mapping[str, Figures]
    placed: tuple[str, ...]
    lower_is_better: bool = True
    weights: Mapping[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Combined:
    """One mark an entry.

    Parameters
    ----------
    marks : mapping of str to Decimal
        By entry, not yet rounded.
    on_scale : mapping of str to mapping of str to Decimal
        By judge and entry, before the judges are joined.
    unit : str
        What a mark is; empty where it is still what a sheet holds.
    lower_is_better : bool
        Whether fewer is better.
    notes : tuple of str
        Judges whose figures tell nobody apart.
    """

    marks: Mapping[str, Decimal]
    on_scale: Mapping[str, Figures]
    unit: str
    lower_is_better: bool
    notes: tuple[str, ...] = ()


def combine(panel: Panel, rules: Combining) -> Combined:
    """One mark for every entry that has a figure.

    Parameters
    ----------
    panel : Panel
        The judges' figures.
    rules : Combining
        The declared policy.

    Returns
    -------
    Combined
        Not yet rounded; independent of the order of judges and entries.
    """
    scale, join = _POLICIES[rules.policy]
    on_scale = {judge: scale(figures, panel) for judge, figures in sorted(panel.figures.items())}
    entries = sorted({entry for figures in panel.figures.values() for entry in figures})
    marks = {}
    for entry in entries:
        votes = [
            (figures[entry], panel.weights.get(judge, _ONE)) for judge, figures in on_scale.items() if entry in figures
        ]
        if rules.drop != "none":
            votes = sorted(votes)[1:-1]
        marks[entry] = settle(join(votes))
    by_place = scale is _placings
    return Combined(
        marks=marks,
        on_scale=on_scale,
        unit=_UNITS.get(rules.policy, ""),
        lower_is_better=by_place or panel.lower_is_better,
        notes=_silent_judges(panel, rules.policy),
    )


def placings(figures: Figures, among: Collection[str], *, lower_is_better: bool) -> dict[str, Decimal]:
    """Places that one judge's figures give, equal figures sharing the mean of their places.

    Parameters
    ----------
    figures : mapping of str to Decimal
        By entry.
    among : collection of str
        Entries that can be placed. Any other gets the place it would have had, without moving them.
    lower_is_better : bool
        Whether fewer is better.

    Returns
    -------
    dict
        ``1 + number better + half the number of others that are equal``.
    """
    places = {}
    figures = {entry: settle(figure) for entry, figure in figures.items()}
    for entry, figure in figures.items():
        others = [figures[other] for other in among if other != entry and other in figures]
        better = sum((other < figure) if lower_is_better else (other > figure) for other in others)
        places[entry] = _ONE + better + Decimal(sum(other == figure for other in others)) / _TWO
    return places


def _as_given(figures: Figures, _: Panel) -> Figures:
    return figures


def _ratios(figures: Figures, panel: Panel) -> Figures:
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        mean = _mean(_scale_makers(figures, panel))
        return {entry: figure / mean if mean else _ONE for entry, figure in figures.items()}


def _standard_scores(figures: Figures, panel: Panel) -> Figures:
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        makers = _scale_makers(figures, panel)
        mean = _mean(makers)
        spread = _mean([(figure - mean) ** 2 for figure in makers]).sqrt()
        return {entry: (figure - mean) / spread if spread else _ZERO for entry, figure in figures.items()}


def _placings(figures: Figures, panel: Panel) -> Figures:
    return placings(figures, panel.placed, lower_is_better=panel.lower_is_better)


def _scale_makers(figures: Figures, panel: Panel) -> list[Decimal]:
    return sorted(figures[entry] for entry in panel.placed if entry in figures)


def _mean(figures: Sequence[Decimal]) -> Decimal:
    return sum(figures, _ZERO) / len(figures) if figures else _ZERO


def _sum(votes: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        return sum((figure * weight for figure, weight in votes), _ZERO)


def _average(votes: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    with localcontext() as context:
        context.prec = WORKING_DIGITS
        return _sum(votes) / sum((weight for _, weight in votes), _ZERO)


def _majority(votes: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    return sorted(figure for figure, _ in votes)[len(votes) // 2]


def _silent_judges(panel: Panel, policy: Policy) -> tuple[str, ...]:
    if policy not in {"ratio", "standard score"}:
        return ()
    notes = []
    for judge, figures in sorted(panel.figures.items()):
        makers = _scale_makers(figures, panel)
        if policy == "ratio" and makers and not any(makers):
            notes.append(f"{judge} found nothing in any band: each counts 1 as a ratio.")
        elif policy == "standard score" and len(set(makers)) == 1:
            notes.append(f"{judge} gave every band the same: each standard score is 0.")
    return tuple(notes)


_Scale = Callable[[Figures, Panel], Figures]
_Join = Callable[[Sequence[tuple[Decimal, Decimal]]], Decimal]

_POLICIES: Mapping[Policy, tuple[_Scale, _Join]] = {
    "sum": (_as_given, _sum),
    "mean": (_as_given, _average),
    "agreed mark": (_as_given, _sum),
    "ratio": (_ratios, _average),
    "standard score": (_standard_scores, _sum),
    "placings": (_placings, _sum),
    "majority of placings": (_placings, _majority),
}
