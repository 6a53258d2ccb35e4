import csv
import io
from decimal import Decimal

import numpy as np
import pytest
from made_bands import human, out, plain_bob, without

from judging.striking import CountingRules, Marked, MarkingScheme, StrikeLog, blows_csv, count_document, count_striking
from judging.striking.blows_csv import log_for_spreadsheets, no_formula
from judging.striking.values import Count

PIECE = plain_bob(6, 2)


def lines(count: Count) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(blows_csv(count))))


def test_each_blow_is_a_line_with_the_figures_of_the_document() -> None:
    count = count_striking(human(PIECE, 1, spread_ms=60), PIECE)
    document = count_document(count)["blows"]
    table = lines(count)
    assert len(table) == len(document) == PIECE.rows.size
    for line, blow in zip(table, document, strict=True):
        assert line["id"] == blow["id"] == f"blow-{blow['row']}-{blow['place']}"
        assert [float(line[key]) for key in ("time_s", "deviation_ms", "own_ms", "charge")] == [
            blow[key] for key in ("time_s", "deviation_ms", "own_ms", "charge")
        ]
        assert line["judged"] == str(blow["judged"]).lower()
    assert sum(Decimal(line["charge"]) for line in table) == count.total > 0


def test_what_a_ringer_is_told_stands_beside_its_blow() -> None:
    count = count_striking(out(PIECE, {(20, 4): 130}), PIECE)
    told = {line["id"]: line["fault"] for line in lines(count) if line["fault"]}
    assert told == {"blow-20-4": count.faults[0].sentence}


def test_a_blow_not_heard_has_empty_figures() -> None:
    count = count_striking(without(out(PIECE, {}), 20 * 6 + 2), PIECE)
    (line,) = [line for line in lines(count) if not line["time_s"]]
    assert (line["id"], line["own_ms"], line["charge"]) == ("blow-20-3", "", "1.0")
    assert line["fault"].endswith("was not heard in place 3")


def test_opening_rounds_beyond_the_piece_have_names_of_their_own_so_that_links_keep() -> None:
    written, rung = plain_bob(6, 2, opening=0), plain_bob(6, 2, opening=4)
    count = count_striking(
        out(rung, {(3, 2): 150, (20, 4): 130}), written, CountingRules(marked=Marked(opening=True, pull_off=True))
    )
    table = lines(count)
    assert [line["row"] for line in table[::6]][:5] == ["-4", "-3", "-2", "-1", "0"]
    assert [line["id"] for line in table if float(line["charge"])] == ["blow-b1-2", "blow-16-4"]
    assert sum(Decimal(line["charge"]) for line in table) == count.total


def test_a_fault_for_a_blow_too_many_has_a_name_beside_that_of_the_blow_before_it() -> None:
    log = out(PIECE, {(20, 3): 130})
    at = 20 * 6 + 2
    twice = StrikeLog(
        np.insert(log.times_s, at + 1, log.times_s[at] + 0.05),
        np.insert(log.bells, at + 1, log.bells[at]),
        np.zeros(len(log) + 1),
    )
    count = count_striking(twice, PIECE, CountingRules(scheme=MarkingScheme(extra=Decimal("0.5"))))
    ids = [fault["id"] for fault in count_document(count)["faults"]]
    assert "blow-20-3-extra" in ids
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_text_begins_like_a_formula(text: str) -> None:
    """Spreadsheets compute cells beginning so (OWASP, CSV injection)."""
    assert no_formula(text) == f"'{text}"
    assert no_formula(f"Change 1: {text}") == f"Change 1: {text}"


def test_a_strike_log_comes_back_as_it_was_given_and_computes_nothing() -> None:
    given = 'time_s,bell,spread_ms,"=x",loud\n0.100000,1,0.000,=1+1,-3.5\n0.300000,2,0.000,"a, ""b""",-soft\n'

    handed_out = log_for_spreadsheets(given)

    assert list(csv.reader(io.StringIO(handed_out))) == [
        ["time_s", "bell", "spread_ms", "'=x", "loud"],
        ["0.100000", "1", "0.000", "'=1+1", "-3.5"],
        ["0.300000", "2", "0.000", 'a, "b"', "'-soft"],
    ]
    assert log_for_spreadsheets("time_s,bell,spread_ms\n0.1,1,0\n") == "time_s,bell,spread_ms\n0.1,1,0\n"
