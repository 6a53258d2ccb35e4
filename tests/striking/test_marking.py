from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import human, hunt, out

from judging.errors import InputError
from judging.striking import SCHEMES, CountingRules, MarkingScheme, count_document, count_striking, percentage

D = Decimal


def test_percentages_depend_on_their_denominator() -> None:
    """18½ faults on 120 rows: 94.9, 92.3 or 84.6 % by 3, 2 or 1 a row (arithmetic of the trade)."""
    assert [percentage(D("18.5"), 120, most) for most in (3, 2, 1)] == [D("94.9"), D("92.3"), D("84.6")]


def test_every_scheme_in_use_is_declared_by_name() -> None:
    assert list(SCHEMES) == [
        "half or whole for each blow",
        "up to 3 a row",
        "up to 4 a row",
        "0, 1 or 2 a row",
        "marks up, 2 a row",
        "marks up, 5 a row",
        "one a whole pull",
        "impression, 10 for 12 rows",
    ]


@pytest.mark.parametrize(
    ("scheme", "charges", "parts"),
    [
        ("half or whole for each blow", "0.5 1 1", "0.5 1 1"),
        ("up to 3 a row", "0.5 1 1 1", "1 1 1 0"),
        ("up to 3 a row", "0.5 0.5", "1 0"),
        ("up to 4 a row", "2 2 1", "2 2 0"),
        ("0, 1 or 2 a row", "1", "1"),
        ("0, 1 or 2 a row", "1 1 1", "1 1 0"),
        ("0, 1 or 2 a row", "2", "2"),
        ("one a whole pull", "1 1 2 1", "1 0 1 0"),
        ("impression, 10 for 12 rows", "1 " * 12, "1 " * 10 + "0 0"),
    ],
)
def test_a_unit_adds_up_as_its_scheme_says(scheme: str, charges: str, parts: str) -> None:
    shared = SCHEMES[scheme].shares([D(charge) for charge in charges.split()])
    assert shared == [D(part) for part in parts.split()]


@given(charges=st.lists(st.sampled_from([D("0.5"), D(1), D(2)]), max_size=12), name=st.sampled_from(sorted(SCHEMES)))
@settings(max_examples=80)
def test_parts_are_never_less_than_nothing_and_never_pass_the_cap(charges: list[Decimal], name: str) -> None:
    scheme = SCHEMES[name]
    parts = scheme.shares(charges)
    assert all(part >= 0 for part in parts)
    if scheme.cap is not None:
        assert sum(parts) <= scheme.cap


def test_the_most_there_can_be_is_the_cap_of_every_unit() -> None:
    assert SCHEMES["up to 3 a row"].most(120) == 360
    assert SCHEMES["one a whole pull"].most(121) == 122
    assert SCHEMES["half or whole for each blow"].most(120) is None


def test_a_row_is_never_charged_more_than_its_cap() -> None:
    piece = hunt(6, 40)
    log = human(piece, 3, spread_ms=110)
    count = count_striking(log, piece, CountingRules(scheme=SCHEMES["up to 3 a row"]))
    rows = count.charge.sum(axis=1)
    assert rows.max() == 3
    assert float(count.total) == rows.sum()
    assert count.most == 120


def test_marks_up_are_the_cap_less_the_faults() -> None:
    piece = hunt(6, 40)
    count = count_striking(out(piece, {(20, 3): 150}), piece, CountingRules(scheme=SCHEMES["marks up, 2 a row"]))
    assert count.total == 1
    assert count.mark == 79
    assert "79 marks of 80" in count.summary


def test_two_faults_in_one_whole_pull_are_one() -> None:
    piece = hunt(6, 40)
    log = out(piece, {(20, 3): 150, (21, 3): 150, (24, 3): 150})
    count = count_striking(log, piece, CountingRules(scheme=SCHEMES["one a whole pull"]))
    assert [(fault.row, fault.charge) for fault in count.faults] == [(20, 1), (21, 0), (24, 1)]


def test_a_missing_blow_costs_what_the_scheme_declares() -> None:
    assert MarkingScheme().missing == 1
    assert MarkingScheme().extra == 0


@pytest.mark.parametrize(
    ("figures", "says"),
    [
        ({"half": D(2)}, "must not descend"),
        ({"half": D(0), "whole": D(0), "clash": D(0)}, "nothing would ever be charged"),
        ({"half": 0.5}, "must be a decimal number"),
        ({"half": D(-1)}, "must be a decimal number"),
        ({"whole": D("NaN")}, "must be a decimal number"),
        ({"unit_rows": -1}, "unit_rows"),
        ({"cap": D(3)}, "need a unit"),
        ({"adds": "worst"}, "need a unit"),
        ({"unit_rows": 1, "adds": "most"}, "'sum' or 'worst'"),
        ({"unit_rows": 1, "marks_up": True}, "marks up need a cap"),
        ({"unit_rows": 1, "cap": D(0)}, "charge nothing"),
    ],
)
def test_figures_that_contradict_each_other_are_refused(figures: dict[str, object], says: str) -> None:
    with pytest.raises(InputError, match=says):
        MarkingScheme(**figures)  # type: ignore[arg-type]  # some of them


def test_a_count_of_eighteen_and_a_half_on_120_rows_is_printed_with_every_denominator() -> None:
    piece = hunt(6, 120)
    late = {(row, 3): 150.0 for row in range(4, 4 + 18 * 6, 6)} | {(116, 3): 85.0}
    document = count_document(count_striking(out(piece, late), piece))
    assert (document["total_faults"], document["rows_judged"]) == (18.5, 120)
    assert [(one["denominator"], one["percent"]) for one in document["percentages"]] == [
        (360, 94.9),
        (240, 92.3),
        (120, 84.6),
    ]


@pytest.mark.parametrize(("scheme", "per_row"), [("up to 3 a row", 3), ("0, 1 or 2 a row", 2)])
def test_the_most_a_scheme_can_charge_is_the_denominator_of_its_percentage(scheme: str, per_row: int) -> None:
    piece = hunt(6, 120)
    late = {(row, 3): 150.0 for row in range(4, 4 + 18 * 6, 6)}
    count = count_striking(out(piece, late), piece, CountingRules(scheme=SCHEMES[scheme]))
    assert (count.total, count.most) == (18, per_row * 120)
    assert percentage(count.total, count.rows_judged, per_row) == {3: D("95.0"), 2: D("92.5")}[per_row]
