"""Judges who have to do with a band."""

from decimal import Decimal

import pytest

from judging.contest import Entry, may_be, read_rules
from judging.contest.conflicts import sheets_that_count
from judging.errors import InputError
from judging.marks.values import Sheet

RULES = 'rules = 1\ntitle = "x"\n[conflict]\nthen = "sheet left out"\n'


@pytest.mark.parametrize(
    ("belongs_to", "band", "is_likely"),
    [
        ("I ring at Saltmarsh", "Saltmarsh Quay", True),
        ("PINFOLD hatch, and Gorse", "Pinfold Hatch", True),
        ("St Mary's tower", "St Peter's tower", False),
        ("none", "Gorse and Broom", False),
        ("", "Gorse and Broom", False),
        ("Żółw", "Żółw Hill", True),
    ],
)
def test_a_band_that_may_be_meant_is_pointed_out(belongs_to: str, band: str, is_likely: object) -> None:
    assert may_be(belongs_to, band) is is_likely


def test_the_rules_say_what_becomes_of_the_sheet() -> None:
    sheets = [Sheet(judge, entry, Decimal(1)) for judge in ("ann", "ben") for entry in ("weir", "lock")]
    entries = [Entry("weir", "Weir", conflicts=("ann",)), Entry("lock", "Lock")]

    kept = sheets_that_count(sheets, entries, "sheet left out")

    assert [(sheet.judge, sheet.entry) for sheet in kept] == [("ann", "lock"), ("ben", "weir"), ("ben", "lock")]
    assert sheets_that_count(sheets, entries, "declared only") == tuple(sheets)


def test_a_rule_that_would_leave_no_result_is_refused() -> None:
    with pytest.raises(InputError, match="declare missing_judge as"):
        read_rules(RULES, name="rules.toml")

    mean = '[combining]\npolicy = "mean"\nmissing_judge = "use those present"\n'
    assert read_rules(RULES + mean, name="rules.toml").conflict == "sheet left out"
