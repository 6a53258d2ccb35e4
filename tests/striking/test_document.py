import json
from dataclasses import replace
from decimal import Decimal

import numpy as np
from made_bands import human, hunt, out, plain_bob, rounds, without

from judging.striking import SCHEMES, CountingRules, blows_table, count_document, count_striking


def test_rows_count_from_the_first_row_of_the_piece_as_given_and_changes_from_one() -> None:
    piece = plain_bob(6, 2, opening=4)
    table = blows_table(count_striking(human(piece, 1), piece))
    assert [(blow["row"], blow["change"], blow["stroke"], blow["judged"]) for blow in table[:30:6]] == [
        (0, None, "hand", False),
        (1, None, "back", False),
        (2, None, "hand", False),
        (3, None, "back", False),
        (4, 1, "hand", True),
    ]
    assert [blow["place"] for blow in table[:7]] == [1, 2, 3, 4, 5, 6, 1]


def test_blows_are_the_log_in_its_own_times() -> None:
    piece = plain_bob(6, 2)
    log = human(piece, 1, spread_ms=10)
    table = blows_table(count_striking(log, piece))
    assert np.allclose([blow["time_s"] for blow in table], log.times_s, atol=1e-6)
    assert [blow["bell"] for blow in table] == log.bells.tolist()


def test_opening_rounds_beyond_the_piece_stand_apart_so_that_rows_keep_their_numbers() -> None:
    piece, rung = plain_bob(6, 2, opening=0), plain_bob(6, 2, opening=4)
    document = count_document(count_striking(human(rung, 1), piece))
    assert document["blows"][0]["row"] == 0
    assert document["blows"][0]["change"] == 1
    assert len(document["blows"]) == piece.rows.size
    assert [blow["row"] for blow in document["blows_before"][::6]] == [-4, -3, -2, -1]
    assert not any(blow["judged"] for blow in document["blows_before"])


def test_a_piece_that_begins_at_backstroke_keeps_its_strokes() -> None:
    piece = replace(hunt(6, 20, opening=3), first_change_stroke="back")
    table = blows_table(count_striking(human(piece, 2), piece))
    assert table[0]["stroke"] == "hand"
    assert table[18]["stroke"] == "back"


def test_a_missing_blow_has_its_line_with_the_bell_that_was_due() -> None:
    piece = plain_bob(6, 2)
    count = count_striking(without(out(piece, {}), 20 * 6 + 2), piece)
    line = blows_table(count)[20 * 6 + 2]
    assert (line["row"], line["place"], line["bell"]) == (20, 3, piece.rows[20, 2])
    assert line["time_s"] is line["deviation_ms"] is line["own_ms"] is line["spread_ms"] is None
    assert line["charge"] == 1
    json.dumps(count_document(count), allow_nan=False)


def test_rows_never_rung_have_no_lines() -> None:
    piece = plain_bob(6, 4)
    short = replace(piece, rows=piece.rows[:30].copy())
    document = count_document(count_striking(human(short, 1), piece))
    assert {blow["row"] for blow in document["blows"]} == set(range(30))
    assert document["changes_missing"] == len(piece.rows) - 30
    assert document["rows_judged"] == 26


def test_charges_of_blows_and_of_faults_add_up_to_the_total_under_every_scheme() -> None:
    piece = plain_bob(6, 4)
    log = human(piece, 3, spread_ms=70)
    for scheme in SCHEMES.values():
        document = count_document(count_striking(log, piece, CountingRules(scheme=scheme)))
        assert document["total_faults"] == sum(blow["charge"] for blow in document["blows"])
        assert document["total_faults"] == sum(fault["charge"] for fault in document["faults"])
        assert document["scheme"] == scheme.name
        if scheme.marks_up:
            assert document["mark"] == document["most_faults"] - document["total_faults"]


def test_every_percentage_has_its_denominator() -> None:
    piece = plain_bob(6, 4)
    document = count_document(count_striking(human(piece, 3, spread_ms=60), piece))
    for line in document["percentages"]:
        assert line["denominator"] == line["per_row"] * document["rows_judged"]
        expected = 100 * (1 - document["total_faults"] / line["denominator"])
        assert abs(line["percent"] - expected) <= 0.05


def test_the_gap_is_the_median_of_judged_rows_and_the_peal_speed_their_mean() -> None:
    piece = plain_bob(6, 4)
    count = count_striking(human(piece, 3), piece)
    document = count_document(count)
    gaps = count.rhythm.gap_s[count.judged]
    assert document["gap_ms"] == round(float(np.median(gaps)) * 1000, 3)
    row_s = gaps.mean() * (6 + count.rhythm.handstroke_gap / 2)
    assert abs(document["peal_minutes"] - 84 * row_s) < 0.01


def test_the_same_log_gives_the_same_document() -> None:
    piece = plain_bob(6, 4)
    one, other = (count_document(count_striking(human(piece, 3, spread_ms=50), piece)) for _ in range(2))
    assert json.dumps(one) == json.dumps(other)


def test_one_whole_pull_has_a_null_handstroke_gap_and_a_speed_all_the_same() -> None:
    document = count_document(count_striking(out(rounds(8, 2), {}), rounds(8, 2)))
    assert document["handstroke_gap"] is None
    assert document["handstroke_gap_se"] is None
    assert document["peal_minutes"] > 0
    assert len(document["pull_offs"]) == 1
    assert len(document["pull_offs"][0]["late_ms"]) == 2


def test_the_fingerprint_of_the_rules_goes_with_the_count() -> None:
    piece = plain_bob(6, 2)
    count = count_striking(human(piece, 1), piece, CountingRules(fingerprint="abc123"))
    assert count_document(count)["fingerprint"] == count.fingerprint == "abc123"


def test_the_total_is_exact() -> None:
    piece = plain_bob(6, 2)
    assert isinstance(count_striking(human(piece, 1), piece).total, Decimal)
