"""[counting], [tolerance], [marked], [scheme] → how the machine counts, in the typed values of the striking room."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Literal, cast, get_args

from judging.contest.tables import Key, Table, table
from judging.striking.marking import SCHEMES, MarkingScheme
from judging.striking.rules import CountingRules, Doubtful, Marked
from judging.striking.tolerance import ToleranceBands

_ZERO = Decimal(0)
_BANDS, _MARKED, _SCHEME = ToleranceBands(), Marked(), MarkingScheme()


def _line(name: str, default: float, meaning: str) -> Key:
    return Key("tolerance", name, "number", Decimal(str(default)), meaning, least=_ZERO)


COUNTING = (
    Key(
        "counting",
        "scheme",
        "one of",
        _SCHEME.name,
        "Marking scheme by name; a [scheme] table changes single figures of it.",
        tuple(SCHEMES),
    ),
    Key(
        "counting",
        "doubtful",
        "one of",
        "count",
        "A blow whose own spread straddles a line counts as measured, at the level it surely reaches, or not at all.",
        get_args(Doubtful),
    ),
    Key(
        "counting",
        "handstroke_gap",
        "number",
        None,
        "Declared handstroke gap in gaps (1 full open lead, 0 closed); left out, each band's own steady style.",
        least=_ZERO,
    ),
    Key(
        "counting",
        "saturation",
        "number",
        None,
        "Most faults a row that judges write, from `evenblow calibrate`: the machine's count stands so beside theirs.",
        least=_ZERO,
    ),
)
TOLERANCE = (
    _line("blemish_gaps", _BANDS.blemish_gaps, "From this share of the gap a blow is a blemish: shown, not charged."),
    _line("half_gaps", _BANDS.half_gaps, "From this share of the gap it is a half fault."),
    _line("whole_gaps", _BANDS.whole_gaps, "From this share of the gap it is a whole fault."),
    _line("blemish_ms", _BANDS.blemish_ms, "A blemish is never less than this."),
    _line("half_ms", _BANDS.half_ms, "A half fault is never less than this."),
    _line("whole_ms", _BANDS.whole_ms, "A whole fault is never less than this."),
    _line("clash_gaps", _BANDS.clash_gaps, "Two successive blows nearer than this share of the gap are a clash."),
)
MARKED = (
    Key("marked", "pull_off", "yes or no", _MARKED.pull_off, "Whether the first whole pull is marked."),
    Key("marked", "opening", "yes or no", _MARKED.opening, "Whether the rest of the opening rounds is marked."),
    Key("marked", "closing", "yes or no", _MARKED.closing, "Whether what follows the return to rounds is marked."),
    Key(
        "marked", "stand", "yes or no", _MARKED.stand, "Whether a bell that does not stand with the others is charged."
    ),
    Key(
        "marked",
        "free_rows",
        "whole number",
        _MARKED.free_rows,
        "So many rows at the beginning of what would be marked are not.",
        least=_ZERO,
    ),
    Key(
        "marked",
        "most_changes",
        "whole number",
        _MARKED.most_changes,
        "Only so many changes are marked, however long the piece.",
        least=Decimal(1),
    ),
)
SCHEME = (
    Key("scheme", "name", "text", "", "Name of the changed scheme, as it is printed."),
    Key("scheme", "half", "number", None, "Charge of a half fault.", least=_ZERO),
    Key("scheme", "whole", "number", None, "Charge of a whole fault.", least=_ZERO),
    Key("scheme", "clash", "number", None, "Charge of a clash.", least=_ZERO),
    Key(
        "scheme",
        "missing",
        "number",
        None,
        "Charge of a blow that was not heard; a bell that falls silent is charged once.",
        least=_ZERO,
    ),
    Key("scheme", "extra", "number", None, "Charge of a blow too many.", least=_ZERO),
    Key("scheme", "stand", "number", None, "Charge of a bell not standing with the others.", least=_ZERO),
    Key(
        "scheme",
        "unit_rows",
        "whole number",
        None,
        "Rows marked together: 0 each blow, 1 a row, 2 a whole pull.",
        least=_ZERO,
    ),
    Key(
        "scheme",
        "adds",
        "one of",
        None,
        "Whether a unit's faults add up or only its worst is charged.",
        ("sum", "worst"),
    ),
    Key("scheme", "cap", "number", None, "The most one unit can be charged.", least=_ZERO),
    Key("scheme", "step", "number", None, "Units are charged in multiples of this.", least=_ZERO),
    Key("scheme", "marks_up", "yes or no", None, "Whether a unit earns its cap less its faults."),
)

#: Tables of the file that belong to the machine's counting, each with its keys.
COUNTING_TABLES: dict[str, tuple[Key, ...]] = {
    "counting": COUNTING,
    "tolerance": TOLERANCE,
    "marked": MARKED,
    "scheme": SCHEME,
}


def read_counting(raw: Mapping[str, object], *, name: str) -> CountingRules:
    """Read the counting rules of a parsed ``rules.toml``.

    Parameters
    ----------
    raw : mapping
        The whole file.
    name : str
        Its name, for messages.

    Returns
    -------
    CountingRules
        Checked by the striking room itself; without a fingerprint yet.

    Raises
    ------
    InputError
        Naming table, key and value.
    """
    counting, tolerance, marked, scheme = (
        Table(table(raw, head, name), known, f"{name}, [{head}]") for head, known in COUNTING_TABLES.items()
    )
    gap = counting.number_or_none("handstroke_gap")
    return CountingRules(
        bands=ToleranceBands(**{key.name: float(tolerance.number(key.name)) for key in TOLERANCE}),
        scheme=_changed(SCHEMES[counting.choice("scheme")], scheme),
        marked=Marked(
            pull_off=marked.flag("pull_off"),
            opening=marked.flag("opening"),
            closing=marked.flag("closing"),
            stand=marked.flag("stand"),
            free_rows=marked.whole("free_rows"),
            most_changes=marked.whole_or_none("most_changes"),
        ),
        doubtful=cast(Doubtful, counting.choice("doubtful")),
        handstroke_gap=None if gap is None else float(gap),
        saturation=counting.number_or_none("saturation"),
    )


def _changed(base: MarkingScheme, scheme: Table) -> MarkingScheme:
    """Scheme with the figures that the file declares otherwise."""
    if not any(key.name in scheme for key in SCHEME):
        return base

    def figure(name: str, known: Decimal | None) -> Decimal | None:
        return scheme.number(name) if name in scheme else known

    def charge(name: str, known: Decimal) -> Decimal:
        return scheme.number(name) if name in scheme else known

    return replace(
        base,
        name=scheme.text("name") or f"{base.name}, changed",
        half=charge("half", base.half),
        whole=charge("whole", base.whole),
        clash=charge("clash", base.clash),
        missing=charge("missing", base.missing),
        extra=charge("extra", base.extra),
        stand=charge("stand", base.stand),
        unit_rows=scheme.whole("unit_rows") if "unit_rows" in scheme else base.unit_rows,
        adds=cast(Literal["sum", "worst"], scheme.choice("adds")) if "adds" in scheme else base.adds,
        cap=figure("cap", base.cap),
        step=figure("step", base.step),
        marks_up=scheme.flag("marks_up") if "marks_up" in scheme else base.marks_up,
    )
