"""Rows that are not the piece's are never taken for it with its bells exchanged."""

import numpy as np
import pytest
from made_bands import out, rounds

from judging.errors import NothingHeard
from judging.piece import read_rows
from judging.striking import StrikeLog, count_striking

QUEENS, TITTUMS = "13572468", "15263748"


def held(row: str) -> str:
    return "\n".join([row] * 20)


@pytest.mark.parametrize(("rung", "wanted"), [(QUEENS, TITTUMS), (TITTUMS, QUEENS)])
def test_one_held_row_is_not_another(rung: str, wanted: str) -> None:
    log = out(read_rows(held(rung), name="rung.txt"), {})
    with pytest.raises(NothingHeard):
        count_striking(log, read_rows(held(wanted), name="wanted.txt"))


def test_times_in_milliseconds_are_refused_with_what_they_may_be() -> None:
    log = out(rounds(6, 12), {})
    thousandfold = StrikeLog(log.times_s * 1000, log.bells.copy(), np.zeros(len(log)))
    with pytest.raises(NothingHeard, match="milliseconds"):
        count_striking(thousandfold, rounds(6, 12), name="touch.csv")
