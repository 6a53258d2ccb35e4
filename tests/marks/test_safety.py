"""Safety of places: the spread is found again, chance is calibrated, and it is said in fair words."""

import time
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from statsmodels.formula.api import ols

from judging.marks import Combining, Entrant, MachinePart, MarksRules, Penalty, Result, Safety, Sheet, Sheets
from judging.marks.panel import prepare
from judging.marks.ranking import rank_prepared
from judging.marks.safety import how_safe, with_safety
from judging.marks.spread import MARKS_PRIOR, PRIOR_WEIGHT, fit_marks_spread, fit_spread, resample_counts

D = Decimal


def safety_of(
    figures: NDArray[np.float64] | list[list[float]], rules: MarksRules | None = None, **options: object
) -> tuple[Result, Safety | None]:
    """Result and safety of figures by judge and band."""
    rules = rules or MarksRules()
    table = [[D(str(figure)) for figure in line] for line in np.asarray(figures).tolist()]
    entries = [f"e{number:02}" for number in range(len(table[0]))]
    entrants = [replace(Entrant(entry), borrowed=number == 0) for number, entry in enumerate(entries)]
    sheets = [Sheet(f"j{j}", e, line[n]) for j, line in enumerate(table) for n, e in enumerate(entries)]
    prepared = prepare(
        entrants,
        sheets,
        rules,
        judges=[f"j{j}" for j in range(len(table))],
        machine=options.pop("machine", {}),  # type: ignore[arg-type]  passed on as it is
        unfit={},
    )
    result = rank_prepared(prepared, rules, fingerprint="f")
    return result, how_safe(prepared, result, rules, **options)  # type: ignore[arg-type]  passed on as they are


@pytest.mark.parametrize("dispersion", [0.5, 1.0, 2.5])
def test_the_dispersion_of_many_judges_counts_is_found_again(dispersion: float) -> None:
    generator = np.random.default_rng(7)
    mean = np.outer([0.7, 1.0, 1.4, 1.1], generator.uniform(15, 90, 60))
    # A gamma variable of this shape has mean `mean` and variance `dispersion * mean`.
    counts = generator.gamma(mean / dispersion, dispersion)

    spread = fit_spread(counts)

    assert spread.degrees_of_freedom == 3 * 59
    assert spread.dispersion == pytest.approx(dispersion, rel=0.2)
    error = 3 * np.sqrt(dispersion * 2 / mean[1].sum())  # three standard errors of a ratio of two such totals
    assert spread.severity / spread.severity[1] == pytest.approx([0.7, 1.0, 1.4, 1.1], rel=error)


def test_severities_are_found_where_some_judges_did_not_hear_every_band() -> None:
    counts = np.outer([0.5, 1.0, 2.0], [20.0, 40.0, 60.0, 80.0])
    counts[0, 1] = counts[2, 3] = np.nan

    spread = fit_spread(counts)

    assert spread.severity == pytest.approx([0.5, 1.0, 2.0], rel=1e-3)
    assert spread.degrees_of_freedom == 10 - 3 - 4 + 1


def test_one_judge_says_nothing_about_spread_so_a_plain_count_is_assumed_and_that_is_said() -> None:
    assert fit_spread(np.array([[18.0, 24.0, 30.0]])).dispersion == 1
    _, safety = safety_of([[18, 24, 30]])

    assert safety is not None
    assert "an assumption: one judge cannot show how far judges disagree" in safety.notes[-1]


def test_a_small_panel_is_drawn_towards_a_plain_count() -> None:
    counts = np.array([[18.0, 24.0, 30.0], [62.0, 50.0, 45.0]])
    spread = fit_spread(counts)
    expected = np.outer(counts.sum(axis=1), counts.sum(axis=0)) / counts.sum()
    squares = 4 * ((np.sqrt(counts + 3 / 8) - np.sqrt(expected + 3 / 8)) ** 2).sum()

    assert spread.degrees_of_freedom == 2
    assert spread.dispersion == pytest.approx((PRIOR_WEIGHT + squares) / (PRIOR_WEIGHT + 2))


@pytest.mark.parametrize("dispersion", [0.5, 1.0, 3.0])
def test_resampled_counts_have_the_mean_and_the_spread_that_they_claim(dispersion: float) -> None:
    counts = np.array([[10.0, 40.0, 111.0]])

    drawn = resample_counts(counts, dispersion, step=0.5, size=40_000, generator=np.random.default_rng(1))

    assert drawn.mean(axis=0) == pytest.approx(counts, rel=0.02)
    assert drawn.var(axis=0) == pytest.approx(dispersion * (counts + 3 / 8), rel=0.06)
    assert (drawn >= 0).all()
    assert (drawn % 0.5 == 0).all()


def test_shares_are_those_of_two_poisson_counts() -> None:
    """Truly 18 against 22 faults: the better band is counted lower with probability 0.71 (trade's own sums)."""
    generator = np.random.default_rng(3)
    lower, higher = generator.poisson(18, 200_000), generator.poisson(22, 200_000)
    expected = (lower < higher).mean()

    _, safety = safety_of([[18, 22]], MarksRules(sheets=Sheets(step=D(1))))

    assert expected == pytest.approx(0.71, abs=0.01)
    assert safety is not None
    assert safety.ahead_of_next[0] == pytest.approx(expected, abs=0.02)


def test_what_is_called_so_many_in_a_hundred_is_right_that_often() -> None:
    """Of pairs said to be ahead in 55-70, 70-85 and 85-95 of 100 recounts, about so many are truly better."""
    generator = np.random.default_rng(11)
    said, right = [], []
    for _ in range(300):
        quality = generator.uniform(15, 90, 8)
        counts = generator.poisson(np.outer([0.8, 1.0, 1.3], quality))
        result, safety = safety_of(counts, resamples=400)
        assert safety is not None
        order = [quality[int(line.entry[1:])] for line in result.places]
        said += safety.ahead_of_next
        right += [better < worse for better, worse in pairwise(order)]
    claims, truths = np.array(said), np.array(right)

    for low, high in ((0.55, 0.7), (0.7, 0.85), (0.85, 0.95)):
        chosen = (claims >= low) & (claims < high)
        assert chosen.sum() > 100
        assert truths[chosen].mean() == pytest.approx(claims[chosen].mean(), abs=0.08)


def test_a_clear_result_is_called_firm_and_a_close_one_is_not() -> None:
    _, clear = safety_of([[10, 60, 110], [12, 70, 120]])
    _, close = safety_of([[30, 31, 110], [33, 33, 120]])

    assert clear is not None
    assert clear.notes[0].startswith("First place stands firmly: in 100 of 100 recounts")
    assert clear.place_or_better["e00"] == 1.0
    assert close is not None
    assert close.notes[0].startswith("First place is within what counting can tell apart")
    assert "first and second" in close.notes[1]
    assert "second and third" not in close.notes[1]
    assert close.first["e00"] + close.first["e01"] >= 1
    assert close.podium == {"e00": 1.0, "e01": 1.0, "e02": 1.0}


def test_no_band_is_named() -> None:
    _, safety = safety_of([[30, 31, 110], [33, 33, 120]])

    assert safety is not None
    assert not any("e0" in note for note in safety.notes)


def test_a_tied_first_place_is_told_as_shared() -> None:
    _, safety = safety_of([[30, 30, 110]])

    assert safety is not None
    assert safety.notes[0] == "First place is shared by 2."


def test_the_same_contest_always_says_the_same_and_another_fingerprint_draws_anew() -> None:
    figures = [[30, 31, 40], [33, 33, 41]]

    assert safety_of(figures) == safety_of(figures)


def test_penalties_and_policies_are_applied_to_every_recount() -> None:
    borrowed = Penalty("borrowed ringers", percent=D(100))
    _, plain = safety_of([[20, 38], [20, 38]])
    _, penalised = safety_of([[20, 38], [20, 38]], MarksRules(penalties=(borrowed,)))

    assert plain is not None
    assert penalised is not None
    assert plain.first["e00"] > 0.98
    assert penalised.first["e00"] < 0.5


def test_marks_are_recounted_from_the_top() -> None:
    faults = [[20, 38], [22, 40]]
    marks = [[240 - figure for figure in line] for line in faults]
    _, down = safety_of(faults, MarksRules(sheets=Sheets("faults", D(1))))
    _, up = safety_of(marks, MarksRules(sheets=Sheets("marks", D(1), D(240))))

    assert down is not None
    assert up is not None
    assert up.dispersion == pytest.approx(down.dispersion)
    assert up.first == pytest.approx(down.first, abs=0.02)


MARKS = MarksRules(sheets=Sheets("marks", D(1)))


def test_marks_without_a_declared_most_are_recounted_on_their_own_scale() -> None:
    """Two judges whose differences have a standard deviation of 10: one figure varies by 10 / √2 = 7.07."""
    generator = np.random.default_rng(6)
    true = generator.uniform(100, 400, 80)
    marks = np.rint(true + np.array([[30], [-30]]) + generator.normal(0, 10 / np.sqrt(2), (2, 80)))

    spread = fit_marks_spread(marks, step=1)
    _, safety = safety_of(marks, MARKS)

    assert spread.degrees_of_freedom == 79
    differences = marks[0] - marks[1]
    drawn = PRIOR_WEIGHT * MARKS_PRIOR * marks.mean(axis=0).var(ddof=1)
    expected = (drawn + 79 * differences.var(ddof=1) / 2) / (PRIOR_WEIGHT + 79)
    assert spread.deviation**2 == pytest.approx(expected)
    assert safety is not None
    assert safety.dispersion is None
    assert (
        f"a mark's spread taken as {spread.deviation:.2g} marks, from how far the judges disagree" in safety.notes[-1]
    )


def test_the_spread_of_marks_is_what_another_program_fits_gaps_included() -> None:
    """Statsmodels' least squares on judges and bands as factors, drawn towards the same prior."""
    table = np.array([[60.0, 71, 83, 90], [55, 70, np.nan, 84], [65, 69, 88, 97]])
    seen = [(judge, band, table[judge, band]) for judge, band in np.argwhere(np.isfinite(table))]
    frame = pd.DataFrame(seen, columns=["judge", "band", "mark"])
    fitted = ols("mark ~ C(judge) + C(band)", frame).fit()
    bands = np.append(0.0, [fitted.params[f"C(band)[T.{band}]"] for band in (1, 2, 3)])

    spread = fit_marks_spread(table, step=1)

    assert spread.degrees_of_freedom == fitted.df_resid
    prior = PRIOR_WEIGHT * MARKS_PRIOR * bands.var(ddof=1)
    assert spread.deviation**2 == pytest.approx((prior + fitted.ssr) / (PRIOR_WEIGHT + fitted.df_resid))


def test_one_judges_marks_without_a_most_rest_on_an_assumption_and_that_is_said() -> None:
    _, safety = safety_of([[380, 380, 200]], MARKS)

    assert safety is not None
    assert safety.place_or_better["e02"] == 1
    assert "one judge cannot show how far judges disagree" in safety.notes[-1]
    assert "no most is declared to count from" in safety.notes[-1]


def test_marks_that_all_judges_gave_alike_are_still_no_surer_than_their_rounding() -> None:
    assert fit_marks_spread(np.array([[50.0, 50], [50, 50]]), step=1).deviation == pytest.approx(1 / np.sqrt(12))


def test_a_sole_placed_band_is_safe_and_it_is_said_why() -> None:
    result, safety = safety_of([[20]])

    assert safety is not None
    assert safety.place_or_better == safety.first == {"e00": 1.0}
    assert safety.notes == ("The only placed entry: no recount can move it, and none was made.",)
    assert with_safety(result, safety).places[0].safety == 1


def test_where_no_band_is_placed_nothing_is_said() -> None:
    prepared = prepare(
        [Entrant("a", scratch=True)], [Sheet("j0", "a", D(3))], MarksRules(), judges=["j0"], machine={}, unfit={}
    )
    result = rank_prepared(prepared, MarksRules())

    assert how_safe(prepared, result, MarksRules()) is None
    assert with_safety(result, None) == result


def test_shares_of_all_places_add_up_and_agree_with_those_told_apart() -> None:
    _, safety = safety_of([[30, 31, 40, 90], [33, 33, 41, 80]])

    assert safety is not None
    for entry, shares in safety.at_place.items():
        assert sum(shares) == pytest.approx(1, abs=0.002)
        assert shares[0] == safety.first[entry]
        assert sum(shares[:3]) == pytest.approx(safety.podium[entry], abs=0.002)


def test_lines_that_may_stand_elsewhere_make_a_voice_less_sure() -> None:
    """Band 0 has small slips, band 1 large ones: moved by one standard error the machine's order turns."""
    voice = MarksRules(combining=Combining("sum"), machine=MachinePart("voice", weight=D(10)))
    machine = {"e00": D(30), "e01": D(33)}
    moved = {"e00": (50.0, 40.0, 30.0, 20.0, 10.0), "e01": (35.0, 34.0, 33.0, 32.0, 31.0)}
    still = {entry: (float(figure),) * 5 for entry, figure in machine.items()}
    _, sure = safety_of([[20, 20]], voice, machine=machine, machine_moved=still)
    _, unsure = safety_of([[20, 20]], voice, machine=machine, machine_moved=moved)

    assert sure is not None
    assert unsure is not None
    assert sure.first["e00"] > 0.99
    # The order turns where the lines are narrower by a third of a standard error: the normal share above -1/3 is 0.63.
    assert unsure.first["e00"] == pytest.approx(0.63, abs=0.03)


def test_a_machine_with_a_voice_is_recounted_within_its_own_doubt() -> None:
    voice = MarksRules(combining=Combining("sum"), machine=MachinePart("voice", weight=D(10)))
    machine = {"e00": D(30), "e01": D(31)}
    _, sure = safety_of([[20, 20]], voice, machine=machine, machine_spread={"e00": 0.0, "e01": 0.0})
    _, unsure = safety_of([[20, 20]], voice, machine=machine, machine_spread={"e00": 9.0, "e01": 9.0})

    assert sure is not None
    assert unsure is not None
    assert sure.first["e00"] > 0.9
    assert 0.5 < unsure.first["e00"] < 0.65


def test_safety_is_filled_in_beside_each_place_and_its_notes_added() -> None:
    result, safety = safety_of([[20, 38]])
    told = with_safety(result, safety)

    assert safety is not None
    assert [line.safety for line in told.places] == [safety.place_or_better[line.entry] for line in result.places]
    assert told.notes[-1].startswith("Safety of places: 10,000 recounts")


def test_ten_thousand_recounts_of_a_hundred_bands_by_five_judges_take_under_two_seconds() -> None:
    figures = np.random.default_rng(1).poisson(np.outer([0.8, 0.9, 1, 1.1, 1.2], np.linspace(15, 90, 100)))
    start = time.process_time()  # others may share the machine

    _, safety = safety_of(figures, MarksRules(combining=Combining("placings")))

    assert safety is not None
    assert safety.resamples == 10_000
    assert time.process_time() - start < 2
