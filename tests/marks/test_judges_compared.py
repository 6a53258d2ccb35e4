"""Judges compared: coefficients against published examples and other programs, and drift claimed with care."""

from decimal import Decimal

import krippendorff
import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats
from statsmodels.formula.api import glm, ols
from statsmodels.genmod.families import Poisson
from statsmodels.stats.anova import anova_lm

from judging.marks import compare_judges
from judging.marks.coefficients import intraclass, kendall_w, krippendorff_alpha
from judging.marks.judges import FEWEST_FOR_DRIFT, JudgesCompared
from judging.marks.spread import fit_spread

NAN = float("nan")


def test_kendalls_w_of_the_published_example() -> None:
    """Siegel 1956, Nonparametric Statistics, table 9.13: three executives rank six applicants; W = 0.16."""
    ranks = np.array([[1.0, 6, 3, 2, 5, 4], [1, 5, 6, 4, 2, 3], [6, 3, 2, 5, 4, 1]])

    assert kendall_w(ranks) == pytest.approx(25.5 / 157.5)
    assert round(kendall_w(ranks), 2) == 0.16


def test_krippendorffs_alpha_of_the_published_example() -> None:
    """Krippendorff 2011, Computing Krippendorff's Alpha-Reliability: four observers, twelve units; interval 0.849."""
    figures = np.array(
        [
            [1, 2, 3, 3, 2, 1, 4, 1, 2, NAN, NAN, NAN],
            [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, NAN, 3],
            [NAN, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, NAN],
            [1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, NAN],
        ]
    )

    assert round(krippendorff_alpha(figures), 3) == 0.849


def test_intraclass_correlations_of_the_published_example() -> None:
    """Shrout and Fleiss 1979, table 2: six targets, four judges; ICC(2,1) = 0.29, ICC(3,1) = 0.71."""
    figures = np.array([[9.0, 6, 8, 7, 10, 6], [2, 1, 4, 1, 5, 2], [5, 3, 6, 2, 6, 4], [8, 2, 8, 6, 9, 7]])

    found = intraclass(figures)

    assert round(found.agreement, 2) == 0.29
    assert round(found.consistency, 2) == 0.71


def long_form(figures: NDArray[np.float64]) -> pd.DataFrame:
    """A line a figure, as other programs want it."""
    seen = [(f"j{judge}", f"b{band}", figures[judge, band]) for judge, band in np.argwhere(np.isfinite(figures))]
    return pd.DataFrame(seen, columns=["judge", "band", "figure"])


@pytest.mark.parametrize("seed", range(8))
def test_intraclass_correlations_follow_from_another_programs_analysis_of_variance(seed: int) -> None:
    """Shrout and Fleiss 1979, the formulas of cases 2 and 3, on statsmodels' mean squares."""
    generator = np.random.default_rng(seed)
    figures = generator.uniform(10, 90, 6) * generator.uniform(0.7, 1.4, (3, 1)) + generator.normal(0, 4, (3, 6))
    table = anova_lm(ols("figure ~ C(band) + C(judge)", long_form(figures)).fit())
    between, judges, error = (table.loc[row, "mean_sq"] for row in ("C(band)", "C(judge)", "Residual"))

    found = intraclass(figures)

    assert found.consistency == pytest.approx((between - error) / (between + 2 * error))
    assert found.agreement == pytest.approx((between - error) / (between + 2 * error + 3 * (judges - error) / 6))


@pytest.mark.parametrize("gaps", [(), ((0, 1), (2, 3))])
def test_severities_are_those_of_another_programs_poisson_regression(gaps: tuple[tuple[int, int], ...]) -> None:
    """Statsmodels' generalised linear model of counts, judges and bands as factors, logarithms linked."""
    figures = np.random.default_rng(3).poisson(np.outer([0.7, 1.0, 1.5], [20, 35, 50, 80])).astype(float)
    for gap in gaps:
        figures[gap] = np.nan
    fitted = glm("figure ~ C(judge) + C(band)", long_form(figures), family=Poisson()).fit()

    severity = fit_spread(figures).severity

    for judge in (1, 2):
        assert severity[judge] / severity[0] == pytest.approx(np.exp(fitted.params[f"C(judge)[T.j{judge}]"]), rel=1e-4)


def test_drift_is_another_programs_slope_drawn_towards_none_as_a_usual_drift_would_be() -> None:
    """Statsmodels' least squares for slope and standard error; the shrinkage is that of a normal prior of 0.2."""
    table = np.round(np.random.default_rng(12).uniform(30, 90, (2, 11)))
    found = compared(table, machine=table[1])
    assert found is not None
    drift = found.judges[0].drift
    assert drift is not None
    frame = pd.DataFrame({"day": np.linspace(-0.5, 0.5, 11), "apart": np.log((table[0] + 0.5) / (table[1] + 0.5))})
    fitted = ols("apart ~ day", frame).fit()
    slope, variance = fitted.params["day"], fitted.bse["day"] ** 2
    weight = 0.04 / (0.04 + variance)
    half = stats.t.ppf(0.975, fitted.df_resid) * np.sqrt(1 / (1 / 0.04 + 1 / variance))

    assert np.log(drift.value) == pytest.approx(weight * slope)
    assert np.log([drift.low, drift.high]) == pytest.approx([weight * slope - half, weight * slope + half])


def test_where_nothing_can_be_said_there_is_no_number() -> None:
    alone = np.array([[1.0, NAN], [NAN, 2.0]])

    assert np.isnan(krippendorff_alpha(alone))
    assert np.isnan(krippendorff_alpha(np.ones((2, 3))))
    assert np.isnan(kendall_w(np.ones((2, 3))))
    assert np.isnan(intraclass(np.ones((2, 3))).agreement)


TABLES = st.tuples(st.integers(3, 5), st.integers(2, 8)).flatmap(
    lambda shape: st.lists(
        st.lists(st.integers(0, 9), min_size=shape[1], max_size=shape[1]), min_size=shape[0], max_size=shape[0]
    )
)


@given(TABLES)
@settings(max_examples=60)
def test_kendalls_w_is_friedmans_statistic_over_its_largest_value(table: list[list[int]]) -> None:
    figures = np.array(table, dtype=float)
    judges, bands = figures.shape
    assume(bands >= 3)
    assume(any(len(set(line)) > 1 for line in table))

    friedman = stats.friedmanchisquare(*figures.T).statistic

    assert kendall_w(figures) == pytest.approx(friedman / (judges * (bands - 1)))


@given(TABLES, st.sets(st.tuples(st.integers(0, 4), st.integers(0, 7)), max_size=4))
@settings(max_examples=60)
def test_alpha_is_that_of_an_independent_program_gaps_included(
    table: list[list[int]], gaps: set[tuple[int, int]]
) -> None:
    figures = np.array(table, dtype=float)
    for judge, band in gaps:
        if judge < figures.shape[0] and band < figures.shape[1]:
            figures[judge, band] = np.nan
    paired = figures[:, np.isfinite(figures).sum(axis=0) > 1]
    assume(np.unique(paired[np.isfinite(paired)]).size > 1)

    expected = krippendorff.alpha(reliability_data=figures, level_of_measurement="interval")

    assert krippendorff_alpha(figures) == pytest.approx(expected)


def compared(
    table: NDArray[np.float64] | list[list[float]], machine: NDArray[np.float64] | None = None
) -> JudgesCompared | None:
    entries = [f"e{number}" for number in range(len(table[0]))]
    return compare_judges(
        {
            f"j{judge}": {entry: Decimal(str(figure)) for entry, figure in zip(entries, line, strict=True)}
            for judge, line in enumerate(np.asarray(table, dtype=float).tolist())
        },
        entries,
        machine=None if machine is None else dict(zip(entries, map(Decimal, machine.tolist()), strict=True)),
    )


def test_a_judge_half_as_severe_again_is_found_and_said() -> None:
    found = compared([[20, 40, 60, 80], [30, 60, 90, 120]])

    assert found is not None
    mild, severe = found.judges
    assert mild.severity.value == pytest.approx((2 / 3) ** 0.5)
    assert severe.severity.value == pytest.approx(1.5**0.5)
    assert severe.severity.low > 1
    assert severe.sentences[0].startswith("j1 counts 22 % more than the panel (between +")
    assert found.concordance == 1
    assert found.intraclass.consistency > found.intraclass.agreement


def test_judges_alike_are_said_to_be_alike() -> None:
    found = compared([[20, 40, 60, 80], [21, 38, 61, 83]])

    assert found is not None
    assert all("about as many as the panel" in judge.sentences[0] for judge in found.judges)
    assert found.sentences[0].startswith("The judges agree well on the order (Kendall's W 1.00")


def test_a_judge_who_separates_bands_more_has_the_wider_spread() -> None:
    found = compared([[30, 40, 50, 60], [10, 40, 80, 160]])

    assert found is not None
    assert found.judges[1].spread > 1 > found.judges[0].spread


def test_severity_intervals_hold_the_truth_as_often_as_they_say() -> None:
    generator = np.random.default_rng(5)
    held = 0
    for _ in range(200):
        counts = generator.poisson(np.outer([0.8, 1.25], generator.uniform(15, 90, 8)))
        found = compared(counts)
        assert found is not None
        held += found.judges[0].severity.low <= 0.8 <= found.judges[0].severity.high

    assert 0.89 <= held / 200 <= 0.995


class TestDrift:
    BANDS = 12

    @staticmethod
    def counts(
        generator: np.random.Generator, drift: float, noise: float = 0.15, bands: int = BANDS
    ) -> NDArray[np.float64]:
        """Counts of a judge whose figures change by a factor over the day, with noise, beside true ones."""
        true = generator.uniform(30, 90, bands)
        day = np.linspace(0, 1, bands)
        return np.round(np.array([true * drift**day * np.exp(noise * generator.standard_normal(bands)), true]), 1)

    def claims(self, drift: float, runs: int = 300) -> float:
        """Share of days on which a drift is claimed, measured against true counts."""
        generator = np.random.default_rng(9)
        claimed = 0
        for _ in range(runs):
            table = self.counts(generator, drift)
            found = compared(table, machine=table[1])
            assert found is not None
            assert found.judges[0].drift is not None
            claimed += not found.judges[0].drift.low <= 1 <= found.judges[0].drift.high
        return claimed / runs

    def test_is_refused_under_eight_bands_and_that_is_said(self) -> None:
        found = compared([[20] * 7, [30] * 7])

        assert found is not None
        assert found.judges[0].drift is None
        assert "Drift cannot be told from chance in 7 bands; it takes 8." in found.judges[0].sentences
        assert FEWEST_FOR_DRIFT == 8

    def test_is_not_claimed_where_there_is_none(self) -> None:
        assert self.claims(1.0) <= 0.05

    def test_of_forty_per_cent_over_the_day_shows_on_about_half_of_days_and_a_smaller_one_hardly(self) -> None:
        """Twelve bands, 15 % noise: no method can see much less, so none is claimed."""
        assert 0.3 < self.claims(1.4) < 0.65
        assert self.claims(1.7) > 0.8
        assert self.claims(1.15) < 0.2

    def test_is_found_with_its_size_and_said(self) -> None:
        table = self.counts(np.random.default_rng(2), 1.5, noise=0.02)

        found = compared(table, machine=table[1])

        assert found is not None
        assert found.judges[0].drift is not None
        assert found.judges[0].drift.value == pytest.approx(1.5, rel=0.06)
        assert "From the first band to the last j0's figures rose by" in found.judges[0].sentences[1]
        assert "Drift is measured against the machine's counts." in found.sentences

    def test_common_to_all_judges_is_not_seen_and_not_claimed(self) -> None:
        day = 1.8 ** np.linspace(0, 1, 12)
        bands = np.random.default_rng(4).uniform(30, 90, 12)

        found = compared(np.round(np.outer([1.0, 1.3, 0.9], bands * day), 1))

        assert found is not None
        assert all("No drift through the day is seen" in judge.sentences[1] for judge in found.judges)
        assert "a drift common to all is not seen" in found.sentences[1]


def test_one_judge_or_one_band_has_nothing_to_be_compared_with() -> None:
    assert compared([[20, 30]]) is None
    assert compared([[20], [30]]) is None


def test_judges_who_found_nothing_are_compared_without_a_crash() -> None:
    found = compared([[0, 0, 0], [0, 0, 0]])

    assert found is not None
    assert found.sentences[0] == "The judges tell no two bands apart."


def test_no_band_is_named() -> None:
    found = compared([[20, 40, 60, 80], [30, 60, 90, 120]])

    assert found is not None
    said = " ".join([*found.sentences, *(sentence for judge in found.judges for sentence in judge.sentences)])
    assert "e0" not in said
    assert "e3" not in said
