"""The service's own archive, recounted from the shell's side: nothing differs, and what was changed is named."""

import hashlib
import json
import re
import zipfile
from collections.abc import Callable
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

from .conftest import LOG, ROWS, RULES


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


def test_a_sheet_changed_in_an_archive_is_named_by_its_effect(opened: Path) -> None:
    sheets = opened / "sheets" / "a.csv"
    text = sheets.read_text()
    assert "ash,,,,3," in text
    sheets.write_text(text.replace("ash,,,,3,", "ash,,,,9,"))

    differences = recount(opened)

    assert [difference for difference in differences if difference.endswith("ash, mark: was 3, is now 9")]


@pytest.fixture
def opened(archived: Path, tmp_path: Path) -> Path:
    """The archive as a folder."""
    with zipfile.ZipFile(archived) as source:
        source.extractall(tmp_path / "opened")
    return tmp_path / "opened"


def test_whatever_file_of_an_archive_is_changed_or_missing_is_named(opened: Path) -> None:
    listed = json.loads((opened / "archive.json").read_text())["files"]
    assert {"rules.toml", "audit.jsonl", "heard.json", "result.json", "sheets/a.csv", "pieces/hunt.txt"} < set(listed)
    for name in listed:
        kept = (opened / name).read_bytes()
        (opened / name).write_bytes(
            kept[: len(kept) // 2] + bytes([kept[len(kept) // 2] ^ 1]) + kept[len(kept) // 2 + 1 :]
        )
        assert f"{name}: was changed after the archive was made" in recount(opened)
        (opened / name).unlink()
        assert f"{name}: is missing" in recount(opened)
        (opened / name).write_bytes(kept)
    assert recount(opened) == ()


def test_a_file_slipped_into_an_archive_and_a_missing_list_are_named(opened: Path) -> None:
    (opened / "sheets" / "b.csv").write_text("entry,total\nash,1\n")
    slipped = recount(opened)
    assert slipped[0] == "sheets/b.csv: was added after the archive was made"
    assert "'b' is no judge" in slipped[1]
    (opened / "sheets" / "b.csv").unlink()

    (opened / "archive.json").unlink()
    assert recount(opened) == (
        "archive.json: is missing, so that nothing shows whether the other files are as they were",
    )


def _with_the_list_made_anew(opened: Path, **more: object) -> None:
    """What somebody would do who changes a file and knows of the list."""
    listed = json.loads((opened / "archive.json").read_text()) | more
    listed["files"] = {name: hashlib.sha256((opened / name).read_bytes()).hexdigest() for name in listed["files"]}
    (opened / "archive.json").write_text(json.dumps(listed))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda lines: [lines[1], lines[0], *lines[2:]], r"entry 1 stands after entry 2"),
        (lambda lines: [*lines[:-1], lines[-1].replace("final", "fatal", 1)], r"entry \d+ was changed after it was"),
        (lambda lines: [*lines, lines[-1]], r"entry (\d+) stands after entry \1"),
        (lambda lines: [*lines[:2], "{}"], r"line 3: is no entry"),
        (lambda lines: [*lines[:2], "x" * 5], r"line 3: is no entry"),
    ],
    ids=["reordered", "changed", "repeated", "empty", "no JSON"],
)
def test_a_trail_that_does_not_hold_is_named_even_under_a_new_list(
    opened: Path, change: Callable[[list[str]], list[str]], said: str
) -> None:
    trail = opened / "audit.jsonl"
    trail.write_text("\n".join(change(trail.read_text().splitlines())) + "\n")
    _with_the_list_made_anew(opened)

    (named,) = [sentence for sentence in recount(opened) if sentence.startswith("audit.jsonl")][:1]

    assert re.search(said, named), named


def test_a_trail_written_anew_does_not_lead_to_the_head_that_papers_print(opened: Path) -> None:
    listed = json.loads((opened / "archive.json").read_text())
    seq, digest = listed["audit_head"].split("-")
    _with_the_list_made_anew(opened, audit_head=f"{seq}-{digest[::-1]}")

    assert any(f"entry {seq} is not what the archive's head of the chain" in said for said in recount(opened))


def test_the_result_of_another_revision_is_named(opened: Path) -> None:
    result = opened / "result.json"
    assert json.loads(result.read_text())["sections"][0]["revision"] == 1
    _with_the_list_made_anew(opened, revision=2)

    assert recount(opened) == ("sections, 1, revision: was 1, is now 2",)


def test_a_zip_with_any_byte_changed_is_named_refused_or_the_same(archived: Path) -> None:
    """A byte that no reader looks at, such as a date's, may change; nothing else may pass, and nothing may crash."""
    whole = archived.read_bytes()
    outcomes: set[str] = set()
    for at in [*range(0, len(whole), 331), *range(len(whole) - 60, len(whole))]:
        archived.write_bytes(whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])
        try:
            outcomes.add("named" if recount(archived) else "the same")
        except InputError as error:
            outcomes.add(Path(error.where).name)
    assert archived.name in outcomes <= {archived.name, "named", "the same"}


def test_a_result_that_is_a_nest_without_end_is_refused(opened: Path) -> None:
    (opened / "result.json").write_text("[" * 100_000)
    _with_the_list_made_anew(opened)

    with pytest.raises(InputError, match=r"result\.json: is no JSON that can be read"):
        recount(opened)


@pytest.mark.parametrize("order", ["ash birch", "ash birch cedar cedar", "ash birch dale"])
def test_an_archive_whose_order_is_not_the_entries_cannot_be_computed_again(opened: Path, order: str) -> None:
    (opened / "order.txt").write_text(order)

    changed, why = recount(opened)

    assert changed == "order.txt: was changed after the archive was made"
    assert "cannot be computed again: order.txt: must name each entry that rings once" in why
