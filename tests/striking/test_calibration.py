from decimal import Decimal

import numpy as np
import pytest
from made_bands import human, plain_bob

from judging.errors import InputError
from judging.striking import CountingRules, MarkingScheme, ToleranceBands, calibrate, count_striking
from judging.striking.values import Count

PIECE = plain_bob(6, 8)


def counted(half_gaps: float, spreads_ms: list[float]) -> list[Count]:
    """Machine counts of bands of different spread, with every line in proportion."""
    factor = half_gaps / 0.25
    bands = ToleranceBands(
        blemish_gaps=0.15 * factor, half_gaps=half_gaps, whole_gaps=0.4 * factor,
        blemish_ms=30 * factor, half_ms=45 * factor, whole_ms=70 * factor, clash_gaps=0.001,
    )  # fmt: skip
    rules = CountingRules(bands=bands, scheme=MarkingScheme())
    return [
        count_striking(human(PIECE, 10 + seed, spread_ms=spread), PIECE, rules)
        for seed, spread in enumerate(spreads_ms)
    ]


SPREADS = [25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0]


@pytest.mark.parametrize("half_gaps", [0.20, 0.25, 0.35])
def test_the_line_that_people_draw_is_found(half_gaps: float) -> None:
    people = [count.total for count in counted(half_gaps, SPREADS)]
    found = calibrate(counted(0.25, SPREADS), people, ToleranceBands())
    assert found.scale == pytest.approx(half_gaps / 0.25, abs=0.051)
    assert found.bands.half_gaps == pytest.approx(half_gaps, abs=0.013)
    assert found.saturation is None or found.saturation >= 6
    assert found.off_after <= found.off_before + 1e-9 or found.off_after < 2


def test_people_who_write_no_more_than_so_much_a_row_are_found_out() -> None:
    machine = counted(0.25, SPREADS)
    rows = machine[0].rows_judged
    people = [Decimal(str(round(1.0 * rows * (1 - np.exp(-float(count.total) / rows)), 1))) for count in machine]
    found = calibrate(machine, people, ToleranceBands())
    assert found.saturation == 1.0
    assert found.scale == pytest.approx(1.0, abs=0.051)
    assert "at most about 1 faults a row" in found.report


def test_the_uncertainty_grows_when_people_are_erratic() -> None:
    machine, random = counted(0.25, SPREADS), np.random.default_rng(4)
    exact = [count.total for count in machine]
    erratic = [Decimal(str(round(float(total) * np.exp(0.5 * random.normal()), 1))) for total in exact]
    assert calibrate(machine, erratic, ToleranceBands()).scale_se > calibrate(machine, exact, ToleranceBands()).scale_se


def test_too_few_pieces_and_pieces_too_much_alike_are_refused() -> None:
    machine = counted(0.25, SPREADS)
    with pytest.raises(InputError, match="5 pieces were counted by both, at least 6 are needed"):
        calibrate(machine[:5], [Decimal(10)] * 5, ToleranceBands())
    with pytest.raises(InputError, match="pieces so much alike do not show where the line is drawn"):
        calibrate(machine, [Decimal(20)] * 8, ToleranceBands())
    with pytest.raises(InputError, match="8 counts but 7 totals"):
        calibrate(machine, [Decimal(20)] * 7, ToleranceBands())
