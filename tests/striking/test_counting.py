import json
from decimal import Decimal

import numpy as np
import pytest
from made_bands import human, hunt, out, rounds

from judging.errors import NothingHeard
from judging.striking import CountingRules, count_document, count_striking


def test_perfect_ringing_has_no_fault_and_no_deviation() -> None:
    piece = hunt(6, 24)
    count = count_striking(out(piece, {}), piece)
    assert count.total == 0
    assert np.abs(count.deviations.ms).max() < 1e-3


def test_one_late_blow_is_charged_where_it_was_struck() -> None:
    piece = hunt(6, 60, dodging_every=12)
    count = count_striking(out(piece, {(39, 3): 85}), piece)
    (fault,) = count.faults
    assert (fault.row, fault.change, fault.place, fault.is_hand) == (39, 38, 3, False)
    assert fault.bell == piece.rows[39, 2]
    assert fault.own_ms == pytest.approx(85, abs=1)
    assert fault.charge == count.total == Decimal("0.5")
    before = piece.rows[39, 1]
    assert fault.sentence.startswith(f"Change 38, backstroke: {fault.bell} struck 8")
    assert fault.sentence.endswith(f"ms late, leaving a wide gap after {before}")


def test_the_document_has_the_promised_keys_and_its_charges_add_up() -> None:
    piece = hunt(8, 40)
    document = count_document(count_striking(human(piece, 1, spread_ms=45), piece))
    json.dumps(document, allow_nan=False)
    assert document["total_faults"] == sum(blow["charge"] for blow in document["blows"]) > 0
    assert list(document["blows"][0]) == [
        "id", "row", "change", "place", "bell", "stroke", "time_s", "deviation_ms", "own_ms", "spread_ms", "doubtful",
        "judged", "charge",
    ]  # fmt: skip
    assert document["blows"][0]["change"] is None
    assert document["blows"][16]["change"] == 1
    assert document["blows"][16]["stroke"] == "hand"
    assert len(document["blows"]) == piece.rows.size


def test_one_whole_pull_is_marked_and_its_handstroke_gap_is_said_to_be_unseen() -> None:
    piece = rounds(6, 2)
    document = count_document(count_striking(out(piece, {(0, 3): 130}), piece))
    assert document["handstroke_gap"] is None
    assert document["rows_judged"] == 2
    assert document["total_faults"] > 0


def test_another_piece_is_refused() -> None:
    piece, other = hunt(6, 60, dodging_every=12), hunt(6, 60, dodging_every=10)
    with pytest.raises(NothingHeard, match=r"bells\.csv: this is not 60 changes"):
        count_striking(human(other, 3), piece, CountingRules(), name="bells.csv")
