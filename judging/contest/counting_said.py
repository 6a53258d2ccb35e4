"""What is declared about counting, in plain sentences: what is marked, and what a fault costs."""

from collections.abc import Iterator
from decimal import Decimal

from judging.figures import figure, some, together
from judging.striking.rules import CountingRules, Doubtful

_DOUBT: dict[Doubtful, str] = {
    "count": "A blow that the recording leaves in doubt counts as it was measured, and is shown as doubtful.",
    "lower": "A blow that the recording leaves in doubt counts at the level that it surely reaches.",
    "leave out": "A blow that the recording leaves in doubt is not counted.",
}


def marked_said(counting: CountingRules) -> Iterator[str]:
    """Return what of a touch is marked, in sentences."""
    marked = counting.marked
    yield "Marked is what is rung from the first change to the return to rounds."
    parts = (
        (marked.pull_off, "the first whole pull"),
        (marked.opening, "the rest of the opening rounds"),
        (marked.closing, "what follows the return to rounds, up to the stand"),
        (marked.stand, "the stand"),
    )
    for is_marked, head in ((True, "Marked too"), (False, "Not marked")):
        these = [what for of_this, what in parts if of_this == is_marked]
        if these:
            yield f"{head}: {together(these)}."
    if marked.free_rows:
        yield f"The first {some(marked.free_rows, 'row')} of this are not marked."
    if marked.most_changes is not None:
        yield f"Only the first {some(marked.most_changes, 'change')} are marked, however long the piece."


def counting_said(counting: CountingRules) -> Iterator[str]:
    """Return how faults are counted, in sentences."""
    bands = counting.bands
    yield f"Marking scheme: {counting.scheme.name}."
    yield from _scheme(counting)
    for what, gaps, ms in (
        ("a blemish, shown and not charged,", bands.blemish_gaps, bands.blemish_ms),
        ("a half fault", bands.half_gaps, bands.half_ms),
        ("a whole fault", bands.whole_gaps, bands.whole_ms),
    ):
        yield f"A blow is {what} whose own error is {gaps:g} of the gap between blows or more, and at least {ms:g} ms."
    yield f"Two successive blows nearer than {bands.clash_gaps:g} of the gap are a clash: at least a whole fault."
    yield (
        "A blow is charged for what it adds to what has already been charged; carrying that is free, and so is putting "
        "it right."
    )
    if counting.handstroke_gap is None:
        yield "The handstroke gap is each band's own steady style."
    else:
        yield f"The handstroke gap is declared: {counting.handstroke_gap:g} of the gap between blows."
    yield _DOUBT[counting.doubtful]
    if counting.saturation is not None:
        yield (
            f"People write at most about c = {figure(counting.saturation)} faults a row, however many they hear: m a "
            "row stand beside the judges as c (1 − exp(−m / c))."
        )


def _scheme(counting: CountingRules) -> Iterator[str]:
    scheme = counting.scheme
    yield (
        f"A half fault costs {_price(scheme.half)}, a whole fault {_price(scheme.whole)} and a clash "
        f"{_price(scheme.clash)}; a blow that is not heard costs {_price(scheme.missing)}, a bell that falls silent "
        f"being charged once, and a blow too many {_price(scheme.extra)}."
    )
    if counting.marked.stand:
        yield f"A bell that does not stand with the others costs {_price(scheme.stand)}."
    if scheme.unit_rows:
        unit = {1: "row", 2: "whole pull"}.get(scheme.unit_rows, f"{scheme.unit_rows} rows")
        adds = "faults add up" if scheme.adds == "sum" else "only the worst fault is charged"
        most = "" if scheme.cap is None else f", to {figure(scheme.cap)} at most"
        step = "" if scheme.step is None else f", in steps of {figure(scheme.step)}"
        yield f"In each {unit} {adds}{most}{step}."
    if scheme.marks_up and scheme.cap is not None:
        yield f"Each earns {figure(scheme.cap)} less its faults, so more is better."


def _price(charge: Decimal) -> str:
    return figure(charge) if charge else "nothing"
