"""Bands that both have counted: the people here are the machine with other lines."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_bands import human, plain_bob
from scipy.optimize import minimize

from judging.errors import InputError
from judging.striking import SCHEMES, CountingRules, MarkingScheme, ToleranceBands, calibrate, count_striking
from judging.striking.calibration import SATURATIONS, as_people_write
from judging.striking.values import Count

PIECE = plain_bob(6, 8)
RULES = CountingRules()
SPREADS = [25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0]


def counted(half_gaps: float, scheme: MarkingScheme | None = None) -> list[Count]:
    """Machine counts of bands of different spread, with every line in proportion."""
    factor = half_gaps / 0.25
    bands = ToleranceBands(
        blemish_gaps=0.15 * factor, half_gaps=half_gaps, whole_gaps=0.4 * factor,
        blemish_ms=30 * factor, half_ms=45 * factor, whole_ms=70 * factor,
    )  # fmt: skip
    rules = CountingRules(bands=bands, scheme=scheme or MarkingScheme())
    return [
        count_striking(human(PIECE, 10 + seed, spread_ms=spread), PIECE, rules) for seed, spread in enumerate(SPREADS)
    ]


MACHINE = counted(0.25)


@pytest.mark.parametrize("scheme", ["half or whole for each blow", "up to 3 a row"])
@pytest.mark.parametrize("half_gaps", [0.20, 0.25, 0.35])
def test_the_line_that_people_draw_is_found(half_gaps: float, scheme: str) -> None:
    people = [count.total for count in counted(half_gaps, SCHEMES[scheme])]
    found = calibrate(MACHINE, people, CountingRules(scheme=SCHEMES[scheme]))
    assert found.scale == pytest.approx(half_gaps / 0.25, abs=0.051)
    assert found.bands.half_gaps == pytest.approx(half_gaps, abs=0.013)
    assert found.bands.clash_gaps == RULES.bands.clash_gaps
    assert found.saturation is None or found.saturation >= 6
    assert found.off_after < 0.5


def test_before_is_what_the_machine_counts_and_people_are_given_back() -> None:
    people = [count.total for count in counted(0.35)]
    found = calibrate(MACHINE, people, RULES)
    assert list(found.before) == [float(count.total) for count in MACHINE]
    assert list(found.people) == [float(total) for total in people]
    assert found.off_before > found.off_left_out >= 0
    assert found.off_before > found.off_after
    assert "people write all they hear; totals were " in found.report


def test_people_who_write_no_more_than_so_much_a_row_are_found_out() -> None:
    rows = MACHINE[0].rows_judged
    people = [Decimal(str(round(1.0 * rows * (1 - np.exp(-float(count.total) / rows)), 1))) for count in MACHINE]
    found = calibrate(MACHINE, people, RULES)
    assert found.saturation == 1.0
    assert found.scale == pytest.approx(1.0, abs=0.051)
    assert "at most about 1 fault a row" in found.report


def test_the_fit_is_the_one_that_a_general_optimiser_finds() -> None:
    """Saturation by least squares of square roots, by scipy over all figures and not a list of them."""
    rows = MACHINE[0].rows_judged
    people = np.array([1.7 * rows * (1 - np.exp(-float(count.total) / rows / 1.7)) for count in MACHINE])
    found = calibrate(MACHINE, [Decimal(str(round(total, 2))) for total in people], RULES)
    machine = np.array(found.before)

    def apart(log_most: list[float]) -> float:
        most = np.exp(log_most[0]) * rows
        return float(((np.sqrt(most * -np.expm1(-machine / most)) - np.sqrt(people)) ** 2).sum())

    theirs = float(np.exp(minimize(apart, [0.0], method="Nelder-Mead").x[0]))
    assert theirs == pytest.approx(1.7, rel=0.02)
    assert found.saturation == SATURATIONS[np.abs(np.log(SATURATIONS / theirs)).argmin()] or found.scale != 1.0


def test_the_uncertainty_grows_when_people_are_erratic() -> None:
    random = np.random.default_rng(4)
    exact = [count.total for count in MACHINE]
    erratic = [Decimal(str(round(float(total) * np.exp(0.5 * random.normal()), 1))) for total in exact]
    assert calibrate(MACHINE, erratic, RULES).scale_se > calibrate(MACHINE, exact, RULES).scale_se
    assert calibrate(MACHINE, erratic, RULES).off_left_out >= calibrate(MACHINE, erratic, RULES).off_after


def test_too_few_pieces_and_pieces_too_much_alike_are_refused() -> None:
    with pytest.raises(InputError, match="5 pieces were counted by both, at least 6 are needed"):
        calibrate(MACHINE[:5], [Decimal(10)] * 5, RULES)
    with pytest.raises(InputError, match="pieces so much alike do not show where the line is drawn"):
        calibrate(MACHINE, [Decimal(20)] * 8, RULES)
    with pytest.raises(InputError, match="8 counts but 7 totals"):
        calibrate(MACHINE, [Decimal(20)] * 7, RULES)


def test_figures_that_no_line_explains_are_refused() -> None:
    with pytest.raises(InputError, match="something other than the line differs"):
        calibrate(MACHINE, [Decimal(5000 + 1000 * index) for index in range(8)], RULES)


def test_bands_that_cannot_be_made_narrower_are_only_made_wider() -> None:
    """A blemish at 0.03 gap is near the hearing floor of 2.5 % (Friberg & Sundberg 1995)."""
    rules = CountingRules(bands=ToleranceBands(blemish_gaps=0.03, blemish_ms=6.5))
    found = calibrate(MACHINE, [count.total for count in counted(0.30)], rules)
    assert found.bands.blemish_gaps >= 0.025
    assert found.scale == pytest.approx(1.2, abs=0.051)


@given(total=st.decimals(0, 500, places=1), rows=st.integers(1, 300), most=st.sampled_from(["0.5", "1", "2", "6"]))
def test_beside_people_a_count_is_the_closed_form_to_the_nearest_half(total: Decimal, rows: int, most: str) -> None:
    beside = as_people_write(total, rows, Decimal(most))
    exact = float(most) * rows * (1 - np.exp(-float(total) / float(most) / rows))
    assert float(beside) == pytest.approx(exact, abs=0.2501)
    assert beside % Decimal("0.5") == 0
    assert as_people_write(total, rows, None) == total


def test_a_count_says_what_it_stands_as_beside_the_judges() -> None:
    log = human(PIECE, 3, spread_ms=70)
    plain = count_striking(log, PIECE)
    rules = CountingRules(saturation=Decimal("0.5"))
    count = count_striking(log, PIECE, rules)
    assert count.total == plain.total == plain.beside_judges
    assert count.beside_judges == as_people_write(count.total, count.rows_judged, Decimal("0.5")) < count.total
    assert any(note.startswith("Beside the judges it stands as ") for note in count.notes)


@pytest.mark.parametrize("saturation", ["0", "-1", "0.01", "1000"])
def test_a_saturation_that_nobody_could_mean_is_refused(saturation: str) -> None:
    with pytest.raises(InputError, match="saturation"):
        CountingRules(saturation=Decimal(saturation))
