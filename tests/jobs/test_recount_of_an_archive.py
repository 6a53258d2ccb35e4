"""The service's own archive, recounted from the shell's side: nothing differs, and what was changed is named."""

import zipfile
from decimal import Decimal
from pathlib import Path

import pytest

from judging.contest import judge_contest, result_document
from judging.errors import InputError
from judging.jobs.recount import recount
from judging.marks.values import Sheet
from judging.store import (
    Store,
    StoredContest,
    add_sheet,
    add_strike_log,
    archive,
    create_contest,
    draw_order,
    entries_of,
    load_day,
    publish,
    set_order,
)

RULES = """
rules = 1
title = "Deanery Contest"
[[section]]
name = "Four bells"
piece = "hunt"
[[judge]]
id = "a"
name = "Judge A"
[draw]
seed = "larch"
"""
ROWS = "1234\n1234\n2143\n2413\n4231\n4321\n3412\n3142\n1324\n1234\n"
LOG = "time_s,bell\n" + "".join(
    f"{0.3 * blow + 0.3 * (blow // 8):.3f},{bell}\n" for blow, bell in enumerate(ROWS.replace("\n", ""))
)


@pytest.fixture
def archived(store: Store, tmp_path: Path) -> Path:
    """A contest with a published result, two bands of which have changed places after the draw."""
    entries_text = "\n".join(f'[[entry]]\nid = "{key}"\nband = "{key}"' for key in ("ash", "birch", "cedar"))
    with store.write() as session:
        contest = create_contest(
            session, rules_text=RULES, entries_text=entries_text, pieces={"hunt.txt": ROWS}, who="organiser"
        )
        for faults, entry in enumerate(entries_of(session, contest.id), 3):
            add_strike_log(session, entry, data=LOG, name="log.csv", origin="given", who="steward")
            add_sheet(session, contest.id, Sheet("a", entry.key, Decimal(faults)), who="judge a")
        first, second, third = draw_order(session, contest.id)
        set_order(session, contest, (second, first, third), who="organiser", reason="agreed between the bands")
        day = load_day(session, contest.id)
        document = result_document(judge_contest(day), day)
        publish(session, session.get_one(StoredContest, contest.id), document, phase="final", who="organiser")
        packed = archive(session, contest.id)
    path = tmp_path / "deanery.zip"
    path.write_bytes(packed)
    return path


def test_a_recount_of_the_services_archive_finds_no_difference(archived: Path) -> None:
    assert recount(archived) == ()


def test_a_sheet_changed_in_an_archive_is_named_by_its_effect(archived: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(archived) as source:
        source.extractall(tmp_path / "opened")
    sheets = tmp_path / "opened" / "sheets" / "a.csv"
    text = sheets.read_text()
    assert "ash,,,,3," in text
    sheets.write_text(text.replace("ash,,,,3,", "ash,,,,9,"))

    differences = recount(tmp_path / "opened")

    assert [difference for difference in differences if difference.endswith("ash, mark: was 3, is now 9")]


@pytest.mark.parametrize("order", ["ash birch", "ash birch cedar cedar", "ash birch dale"])
def test_an_archive_whose_order_is_not_the_entries_is_refused(archived: Path, tmp_path: Path, order: str) -> None:
    with zipfile.ZipFile(archived) as source:
        source.extractall(tmp_path / "opened")
    (tmp_path / "opened" / "order.txt").write_text(order)

    with pytest.raises(InputError, match=r"order\.txt: must name each entry that rings once"):
        recount(tmp_path / "opened")
