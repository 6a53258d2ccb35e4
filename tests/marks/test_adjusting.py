"""Penalties and handicaps, each on an example worked by hand."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from judging.errors import InputError
from judging.marks import Combining, Entrant, MachinePart, MarksRules, Penalty, Rounding, Sheets
from judging.marks.adjusting import adjust, why_unplaced
from judging.marks.exact import Mode
from judging.marks.penalties import Base, PercentOf
from judging.marks.rules import Policy

D = Decimal


def after(
    figure: int | str, entrant: Entrant, *penalties: Penalty, base: Base = "each judge", lower: bool = True
) -> Decimal:
    return adjust(D(figure), entrant, penalties, base=base, lower_is_better=lower)[0]


def test_two_borrowed_ringers_at_15_per_cent_are_30_per_cent_at_once_and_not_compounded() -> None:
    borrowed = Penalty("borrowed ringers", percent=D(15))

    figure, footnotes = adjust(D(40), Entrant("A", borrowed=2), [borrowed], base="each judge", lower_is_better=True)

    assert figure == D(52)
    assert [(step.rule, step.before, step.after) for step in footnotes] == [
        ("2 borrowed ringers at 15 % each", D(40), D(52))
    ]


def test_under_marks_the_percentage_is_taken_off_and_a_mark_never_falls_below_nothing() -> None:
    borrowed = Penalty("borrowed ringers", percent=D(15))

    assert after(200, Entrant("A", borrowed=1), borrowed, lower=False) == D(170)
    assert after(200, Entrant("A", borrowed=8), borrowed, lower=False) == D(0)


def test_a_band_without_borrowed_ringers_has_no_footnote() -> None:
    assert adjust(
        D(40), Entrant("A"), [Penalty("borrowed ringers", percent=D(15))], base="each judge", lower_is_better=True
    ) == (D(40), ())


def test_missing_rows_cost_the_most_a_row_can() -> None:
    missing = Penalty("missing rows", amount=D(3))

    assert after("17.5", Entrant("A", missing_rows=12), missing) == D("53.5")


def test_a_restart_costs_ten_per_cent_of_the_bands_own_faults() -> None:
    assert after(30, Entrant("A", restarts=1, restart_changes=20), Penalty("restart", percent=D(10))) == D(33)


def test_every_minute_begun_over_time_costs_its_faults() -> None:
    assert after(30, Entrant("A", minutes_over=2), Penalty("over time", amount=D(5))) == D(40)


def test_novice_handicaps_multiply_by_the_number_of_experienced_ringers_and_the_last_holds_beyond() -> None:
    handicap = Penalty("novice handicap", multipliers=(Fraction(1), Fraction(4, 3), Fraction(5, 3), Fraction(2)))

    figures = [after(30, Entrant("A", experienced=number), handicap) for number in range(6)]

    assert figures == [D(30), D(40), D(50), D(60), D(60), D(60)]


def test_a_handicap_without_the_number_of_experienced_ringers_is_refused() -> None:
    with pytest.raises(InputError, match="entry A, experienced: not given"):
        after(30, Entrant("A"), Penalty("novice handicap", multipliers=(Fraction(1), Fraction(2))))


def test_penalties_apply_in_the_order_declared_each_on_the_figure_as_counted_or_so_far() -> None:
    missing = Penalty("missing rows", amount=D(3))
    entrant = Entrant("A", borrowed=1, missing_rows=10)

    def borrowed(of: PercentOf) -> Penalty:
        return Penalty("borrowed ringers", percent=D(10), percent_of=of)

    assert after(50, entrant, missing, borrowed("as counted")) == D(85)
    assert after(50, entrant, missing, borrowed("so far")) == D(88)
    assert after(50, entrant, borrowed("so far"), missing) == D(85)


def test_a_penalty_on_the_combined_mark_leaves_each_judges_figure_alone() -> None:
    combined = Penalty("borrowed ringers", base="combined", percent=D(15))

    assert after(40, Entrant("A", borrowed=1), combined) == D(40)
    assert after(40, Entrant("A", borrowed=1), combined, base="combined") == D(46)


def test_a_penalty_rounds_as_it_declares_and_only_where_it_applies() -> None:
    rounded = Penalty("borrowed ringers", percent=D(15), rounding=Rounding(D("0.5"), "half up"))

    assert after("18.5", Entrant("A", borrowed=1), rounded) == D("21.5")  # 21.275 → 21.5
    assert after("18.3", Entrant("A"), rounded) == D("18.3")


def test_a_third_does_not_leave_a_hair_behind() -> None:
    handicap = Penalty("novice handicap", multipliers=(Fraction(4, 3),))

    assert after("0.75", Entrant("A", experienced=0), handicap) == D(1)


@pytest.mark.parametrize(
    ("entrant", "why"),
    [
        (Entrant("A", withdrawn="no conductor"), "Withdrawn: no conductor"),
        (Entrant("A", disqualified="late"), "Disqualified: late"),
        (Entrant("A", unfinished="fired out"), "Did not complete the piece: fired out"),
        (Entrant("A", out_of_section="1 borrowed"), "Not placed in this section: 1 borrowed"),
        (Entrant("A", borrowed=3), "Unplaced by the rules: 3 borrowed ringers, at most 2 allowed"),
        (
            Entrant("A", restarts=1, restart_changes=33),
            "Unplaced by the rules: begun again after 33 changes, allowed within 32",
        ),
        (Entrant("A", minutes_over=1), "Unplaced by the rules: 1 minute begun over time, none is allowed"),
        (Entrant("A", wrong_method="a call too many"), "Unplaced by the rules: 1 wrong method, none is allowed"),
        (Entrant("A", scratch=True), "Scratch band: judged, not placed"),
        (Entrant("A", borrowed=2, restarts=1, restart_changes=32), ""),
    ],
)
def test_why_a_band_takes_no_place_is_said(entrant: Entrant, why: str) -> None:
    penalties = [
        Penalty("borrowed ringers", percent=D(15), most=2),
        Penalty("restart", percent=D(10), within_changes=32),
        Penalty("over time", most=0),
        Penalty("wrong method", most=0),
    ]

    assert why_unplaced(entrant, penalties) == why


@pytest.mark.parametrize(
    ("penalty", "message"),
    [
        ({"kind": "restart"}, "it says nothing"),
        ({"kind": "restart", "percent": D(-1)}, "below 0"),
        ({"kind": "novice handicap"}, "it needs them"),
        ({"kind": "restart", "multipliers": (Fraction(2),)}, "belong to a novice handicap"),
        ({"kind": "novice handicap", "multipliers": (Fraction(2),), "percent": D(1)}, "a handicap multiplies"),
        ({"kind": "novice handicap", "multipliers": (Fraction(0),)}, "above 0"),
        ({"kind": "over time", "amount": D(1), "within_changes": 3}, "only a restart"),
    ],
)
def test_a_penalty_without_a_meaning_is_refused(penalty: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        Penalty(**penalty)


@pytest.mark.parametrize("policy", ["ratio", "standard score", "placings", "majority of placings"])
def test_a_penalty_on_a_combined_mark_that_is_no_longer_faults_is_refused(policy: Policy) -> None:
    with pytest.raises(InputError, match='use "each judge"'):
        MarksRules(
            combining=Combining(policy),
            penalties=(Penalty("borrowed ringers", base="combined", percent=D(15)),),
        )


def test_the_same_penalty_declared_twice_is_refused() -> None:
    with pytest.raises(InputError, match="declared twice"):
        MarksRules(penalties=(Penalty("over time", amount=D(1)), Penalty("over time", most=0)))


def test_a_handicap_of_marks_is_refused() -> None:
    with pytest.raises(InputError, match="these sheets hold marks"):
        MarksRules(sheets=Sheets("marks"), penalties=(Penalty("novice handicap", multipliers=(Fraction(2),)),))


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        ("half up", ["1", "2", "3", "-3", "2"]),
        ("half even", ["0", "2", "2", "-2", "2"]),
        ("half down", ["0", "1", "2", "-2", "2"]),
        ("up", ["1", "2", "3", "-3", "2"]),
        ("down", ["0", "1", "2", "-2", "1"]),
    ],
)
def test_named_modes_round_halves_as_they_say(mode: Mode, expected: list[str]) -> None:
    rounding = Rounding(D(1), mode)

    assert [str(rounding(D(text))) for text in ("0.5", "1.5", "2.5", "-2.5", "1.7")] == expected


@pytest.mark.parametrize(
    ("declared", "message"),
    [
        (lambda: Rounding(D(0)), "rounding, step: 0 is not above 0"),
        (lambda: Rounding(D("NaN")), "rounding, step: NaN"),
        (lambda: Sheets(step=D(-1)), "sheets, step: -1 is not above 0"),
        (lambda: Sheets(most=D(0)), "sheets, most: 0 is not above 0"),
        (lambda: MachinePart("voice", weight=D(0)), "machine, weight: 0 is not above 0"),
        (lambda: MachinePart(most_unsure_percent=D(101)), "machine, most_unsure_percent: 101 is not from 0 to 100"),
        (lambda: MachinePart(sure_within_ms=D(0)), "machine, sure_within_ms: 0 is not above 0"),
        (lambda: MarksRules(sheets=Sheets("marks"), machine=MachinePart("voice")), "the machine counts faults"),
    ],
)
def test_a_figure_that_no_rule_can_have_is_refused(declared: Callable[[], object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        declared()


def test_rounding_goes_to_whole_steps_of_any_size() -> None:
    assert [Rounding(D("0.25"))(D(text)) for text in ("0.1", "0.125", "10.3")] == [D(0), D("0.25"), D("10.25")]
    assert Rounding(D(5))(D("12.5")) == D(15)
