"""JUDGES COMPARED: severity, spread, agreement and drift, as advice before sign-off; it changes no mark.

Bands are never named here: what is said is about judges, and bands may still be numbers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from judging.marks.coefficients import Intraclass, intraclass, kendall_w, krippendorff_alpha
from judging.marks.combining import Figures
from judging.marks.spread import Floats, Spread, fit_spread

#: Under so many bands a drift through the day cannot be told from chance.
FEWEST_FOR_DRIFT = 8
#: Standard deviation of a drift over the whole day (as a natural logarithm) that is thought usual before looking:
#: a fifth. Evenblow's choice; it pulls a wild slope of few bands back, and hardly moves a clear one.
USUAL_DRIFT = 0.2
_NORMAL_95 = 1.96
#: Half of the finest fault; keeps the logarithm of a faultless sheet.
_HALF_A_FAULT = 0.5
#: A smaller drift over the day changes no mark that counting can tell apart.
_WORTH_SAYING = 0.05
#: Words for Kendall's W and the like. Evenblow's choice, no source.
_WELL, _FAIRLY = 0.8, 0.5


@dataclass(frozen=True, slots=True)
class Range:
    """A value with its 95 % interval.

    Parameters
    ----------
    value, low, high : float
        As ratios: 1.4 is 40 per cent more.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class JudgeCompared:
    """One judge beside the others.

    Parameters
    ----------
    judge : str
        Identifier.
    severity : Range
        Figures against the panel's geometric mean.
    spread : float
        How widely the judge separates bands: standard deviation of the logarithms over the panel's mean one; above 1
        wider than the others.
    drift : Range or None
        Last figures against first ones, relative to the others (or the machine); None where it cannot be said.
    sentences : tuple of str
        The same in words.
    """

    judge: str
    severity: Range
    spread: float
    drift: Range | None
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JudgesCompared:
    """A panel beside itself.

    Parameters
    ----------
    judges : tuple of JudgeCompared
        In order of identifier.
    concordance : float
        Kendall's W: the same order?
    alpha : float
        Krippendorff's alpha, interval: the same figures?
    intraclass : Intraclass
        Agreement with, and without, severity.
    sentences : tuple of str
        About the panel.
    """

    judges: tuple[JudgeCompared, ...]
    concordance: float
    alpha: float
    intraclass: Intraclass
    sentences: tuple[str, ...]


def compare_judges(
    figures: Mapping[str, Figures],
    order: Sequence[str],
    *,
    machine: Figures | None = None,
    names: Mapping[str, str] | None = None,
) -> JudgesCompared | None:
    """Judges of a section compared with each other.

    Parameters
    ----------
    figures : mapping of str to mapping of str to Decimal
        Faults (or marks lost) as signed, by judge and entry.
    order : sequence of str
        Entries in the order of ringing.
    machine : mapping of str to Decimal or None
        Machine counts; where every band has one, drift is measured against it, otherwise against the other judges.
    names : mapping of str to str or None
        Judges' names as they are printed; identifiers where there are none.

    Returns
    -------
    JudgesCompared or None
        None with fewer than two judges, or fewer than two bands that every judge heard.
    """
    judges = sorted(figures)
    entries = [entry for entry in order if all(entry in figures[judge] for judge in judges)]
    if len(judges) < 2 or len(entries) < 2:
        return None
    table = np.array([[float(figures[judge][entry]) for entry in entries] for judge in judges])
    spread = fit_spread(table)
    by_machine = None if machine is None else _machine_reference(table, entries, machine)
    reference = _colleagues(table) if by_machine is None else by_machine
    widths = np.log(table + _HALF_A_FAULT).std(axis=1)
    relative = widths / widths.mean() if widths.mean() else np.ones(len(judges))
    compared = []
    for index, judge in enumerate(judges):
        severity = _severity(table, spread, index)
        drift = _drift(table[index], reference[index])
        compared.append(
            JudgeCompared(
                judge,
                severity,
                float(relative[index]),
                drift,
                _judge_in_words((names or {}).get(judge, judge), severity, drift, len(entries)),
            )
        )
    concordance = kendall_w(table)
    return JudgesCompared(
        tuple(compared),
        concordance,
        krippendorff_alpha(table),
        intraclass(table),
        _panel_in_words(concordance, against_machine=by_machine is not None),
    )


def _machine_reference(table: Floats, entries: Sequence[str], machine: Figures) -> Floats | None:
    """Return the machine's counts beside each judge, shape (J, N); None where a band has none."""
    if any(entry not in machine for entry in entries):
        return None
    return np.tile([float(machine[entry]) for entry in entries], (len(table), 1))


def _colleagues(table: Floats) -> Floats:
    """Geometric mean of the other judges beside each one, shape (J, N)."""
    logs = np.log(table + _HALF_A_FAULT)
    others: Floats = np.exp((logs.sum(axis=0) - logs) / (len(table) - 1)) - _HALF_A_FAULT
    return others


def _severity(table: Floats, spread: Spread, index: int) -> Range:
    """Severity with its interval: a total of T counts has a relative variance of dispersion / T."""
    totals = table.sum(axis=1)
    value = float(spread.severity[index])
    if not (totals > 0).all():
        return Range(value, 0.0, float("inf"))
    count = len(totals)
    shares = np.full(count, 1 / count**2)
    shares[index] = (1 - 1 / count) ** 2
    error = float(np.sqrt(spread.dispersion * (shares / totals).sum()))
    return Range(value, value * np.exp(-_NORMAL_95 * error), value * np.exp(_NORMAL_95 * error))


def _drift(figures: Floats, reference: Floats) -> Range | None:
    """Change of a judge against a reference over the day, shrunk; None where it cannot be said.

    The logarithm of figure over reference is fitted by a line in the order of ringing; the slope over the whole day is
    then drawn towards 0 as a normal slope of spread `USUAL_DRIFT` would be.
    """
    bands = len(figures)
    if bands < FEWEST_FOR_DRIFT:
        return None
    ratio = np.log((figures + _HALF_A_FAULT) / (reference + _HALF_A_FAULT))
    day = np.linspace(-0.5, 0.5, bands)
    slope = float(day @ ratio / (day @ day))
    rest = ratio - ratio.mean() - slope * day
    variance = float(rest @ rest) / (bands - 2) / float(day @ day)
    weight = USUAL_DRIFT**2 / (USUAL_DRIFT**2 + variance)
    half = float(student.ppf(0.975, bands - 2)) * np.sqrt(weight * variance)
    low, value, high = (float(np.exp(weight * slope + shift)) for shift in (-half, 0, half))
    return Range(value, low, high)


def _judge_in_words(judge: str, severity: Range, drift: Range | None, bands: int) -> tuple[str, ...]:
    sentences = []
    percent = round(100 * abs(severity.value - 1))
    if severity.low > 1 or severity.high < 1:
        side = "more" if severity.value > 1 else "fewer"
        sentences.append(f"{judge} counts {percent} % {side} than the panel ({_between(severity)}).")
    else:
        sentences.append(f"{judge} counts about as many as the panel ({_between(severity)}).")
    if drift is None:
        sentences.append(f"Drift cannot be told from chance in {bands} bands; it takes {FEWEST_FOR_DRIFT}.")
    elif (drift.low > 1 or drift.high < 1) and abs(drift.value - 1) >= _WORTH_SAYING:
        word = "rose" if drift.value > 1 else "fell"
        size = round(100 * abs(drift.value - 1))
        sentences.append(f"From the first band to the last {judge}'s figures {word} by {size} % ({_between(drift)}).")
    else:
        sentences.append(f"No drift through the day is seen ({_between(drift)}).")
    return tuple(sentences)


def _between(of: Range) -> str:
    if not np.isfinite(of.high):
        return "too few faults to say more"
    return f"between {_signed(of.low)} and {_signed(of.high)}"


def _signed(ratio: float) -> str:
    percent = round(100 * (ratio - 1))
    return f"{percent:+d} %".replace("-", "−") if percent else "0 %"


def _panel_in_words(concordance: float, *, against_machine: bool) -> tuple[str, ...]:
    if np.isnan(concordance):
        order = "The judges tell no two bands apart."
    else:
        how = "well" if concordance >= _WELL else "fairly well" if concordance >= _FAIRLY else "poorly"
        order = f"The judges agree {how} on the order (Kendall's W {concordance:.2f}; 1 is the same order)."
    against = "the machine's counts" if against_machine else "the other judges, so a drift common to all is not seen"
    return (order, f"Drift is measured against {against}.")
