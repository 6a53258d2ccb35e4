"""Reading ``entries.toml``, and the draw that anyone can run again."""

import hashlib
import shutil
import subprocess
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest import Entry, draw, numbered, read_entries, read_rules, swap
from judging.errors import InputError, RuleError
from judging.shipped import shipped

RULES = read_rules(
    'rules = 1\ntitle = "x"\n[[section]]\nname = "Method"\npiece = "minor"\n[[section]]\nname = "Novice"\n',
    name="rules.toml",
)


def entries_of(text: str) -> tuple[Entry, ...]:
    return read_entries(text, name="entries.toml", rules=RULES)


def entry_text(*lines: str, head: str = "[[entry]]\nid = 'a'\nband = 'Alpha'\nsection = 'Method'\n") -> str:
    return head + "\n".join(lines) + "\n"


def test_an_entry_takes_the_piece_of_its_section_unless_it_names_its_own() -> None:
    assert entries_of(entry_text())[0] == Entry("a", "Alpha", section="Method", piece="minor")
    assert entries_of(entry_text("piece = 'major'"))[0].piece == "major"


def test_everything_that_the_steward_reports_arrives() -> None:
    entry = entries_of(
        entry_text(
            "also_in = ['Novice']",
            "borrowed = 2",
            "experienced = 3",
            "restarts = 1",
            "restart_changes = 30",
            "missing_rows = 12",
            "over_time_s = 61.5",
            "wrong_method = 'one lead too many'",
            "may_be_recorded = false",
            "late = true",
        )
    )[0]

    assert entry == replace(
        Entry("a", "Alpha", section="Method", piece="minor"),
        also_in=("Novice",),
        borrowed=2,
        experienced=3,
        restarts=1,
        restart_changes=30,
        missing_rows=12,
        over_time_s=61.5,
        wrong_method="one lead too many",
        may_be_recorded=False,
        late=True,
    )


def test_a_name_that_looks_like_a_formula_or_holds_markup_is_kept_as_it_is() -> None:
    for band in ("=HYPERLINK(1)", "<b>Bold</b>", "שלום", "O'Neill & Sons"):
        assert entries_of(f'[[entry]]\nid = "a"\nband = "{band}"\nsection = "Method"\n')[0].band == band


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x = 1", r'entries.toml: the key "x" is not known'),
        ("entry = []", "there is no entry"),
        (
            entry_text("borowed = 1"),
            r'entries.toml, \[\[entry\]\] 1: the key "borowed" is not known; did you mean "borrowed"\?',
        ),
        (entry_text("borrowed = 17"), r"\[\[entry\]\] 1, borrowed: 17 is above 16"),
        (entry_text("over_time_s = -1"), "over_time_s: -1 is below 0"),
        (entry_text(head="[[entry]]\nband = 'x'\n"), 'the key "id" is missing'),
        (entry_text(head="[[entry]]\nid = 'A'\nband = 'x'\n"), '"A" is no identifier'),
        (entry_text(head="[[entry]]\nid = '../a'\nband = 'x'\n"), "is no identifier"),
        (entry_text(head="[[entry]]\nid = 'a'\nband = ' '\n"), "band: 0 characters; a name has from 1 to 200"),
        (entry_text(head=f"[[entry]]\nid = 'a'\nband = '{'x' * 201}'\n"), "201 characters"),
        (entry_text(head="[[entry]]\nid = 'a'\nband = 'x'\nsection = 'Metod'\n"), '"Metod" is no section of the rules'),
        (
            entry_text(head="[[entry]]\nid = 'a'\nband = 'x'\n"),
            '"" is no section of the rules; they have "Method", "Novice"',
        ),
        (entry_text(head='[[entry]]\nid = "a"\nband = "A\\nB"\n'), "a name stands on one line"),
        (entry_text("also_in = ['x']"), 'also_in: "x" is no section'),
        (entry_text() * 2, r'\[\[entry\]\] 2, id: "a" is there twice'),
        (entry_text() + entry_text().replace("'a'", "'b'").replace("Alpha", "ALPHA"), 'band: "ALPHA" is there twice'),
    ],
)
def test_what_is_wrong_is_named_with_entry_and_key(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        entries_of(text)


def test_the_demo_contest_is_read_and_drawn() -> None:
    folder = shipped("demo_contest")
    rules = read_rules((folder / "rules.toml").read_text(), name="rules.toml")
    entries = read_entries((folder / "entries.toml").read_text(), name="entries.toml", rules=rules)

    assert sorted(draw(entries, rules.draw_seed)) == sorted(entry.id for entry in entries)
    assert [entry.id for entry in entries if entry.scratch] == ["odds-and-evens"]
    assert sum(entry.borrowed for entry in entries) == 1
    assert {entry.piece for entry in entries} == {"plain-bob-doubles"}


IDS = st.sets(st.from_regex(r"[a-z0-9]+(-[a-z0-9]+)?", fullmatch=True), min_size=1, max_size=9)


def bands(ids: set[str]) -> list[Entry]:
    return [Entry(entry, entry.title()) for entry in sorted(ids)]


@given(IDS, st.text(min_size=1, max_size=20).filter(str.strip), st.randoms())
@settings(max_examples=60)
def test_the_draw_holds_every_band_once_whatever_the_order_of_entry(ids: set[str], seed: str, chance) -> None:  # noqa: ANN001  a random.Random
    shuffled = bands(ids)
    chance.shuffle(shuffled)

    assert draw(shuffled, seed) == draw(bands(ids), seed)
    assert sorted(draw(shuffled, seed)) == sorted(ids)


@given(IDS.filter(lambda ids: len(ids) > 1), st.data())
@settings(max_examples=60)
def test_a_withdrawal_leaves_the_order_of_the_others_as_it_was(ids: set[str], data: st.DataObject) -> None:
    gone = data.draw(st.sampled_from(sorted(ids)))
    entries = [replace(entry, withdrawn="ill" if entry.id == gone else "") for entry in bands(ids)]

    assert draw(entries, "seed") == tuple(entry for entry in draw(bands(ids), "seed") if entry != gone)


def test_a_band_incomplete_at_the_draw_rings_after_those_that_were_drawn() -> None:
    entries = bands({"a", "b", "c", "d"})
    first = draw(entries, "seed")[0]
    late = [replace(entry, late=entry.id == first) for entry in entries]

    assert draw(late, "seed") == (*draw(entries, "seed")[1:], first)


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="no sha256sum here")
def test_the_draw_is_the_one_that_a_shell_gives() -> None:
    ids = ["netherwick", "fosslow", "marrow-green"]
    script = 'for id in "$@"; do printf "%s %s\\n" "$(printf "%s\\n%s" "a seed" "$id" | sha256sum)" "$id"; done | sort'
    lines = subprocess.run(["sh", "-c", script, "sh", *ids], capture_output=True, text=True, check=True).stdout

    assert draw(bands(set(ids)), "a seed") == tuple(line.split()[-1] for line in lines.splitlines())


def test_the_draw_is_spelt_out_in_one_line_of_python() -> None:
    ids = {"a", "b", "c", "d", "e"}

    assert draw(bands(ids), "s") == tuple(sorted(ids, key=lambda e: hashlib.sha256(f"s\n{e}".encode()).hexdigest()))


def test_without_a_declared_seed_there_is_no_draw() -> None:
    with pytest.raises(InputError, match="draw, seed: none is declared"):
        draw(bands({"a"}), "")


def test_two_bands_are_exchanged_and_nobody_else_moves() -> None:
    assert swap(("a", "b", "c", "d"), "b", "d") == ("a", "d", "c", "b")
    with pytest.raises(RuleError, match="x is not in the order"):
        swap(("a", "b"), "a", "x")


def test_numbers_follow_the_order_of_ringing() -> None:
    entries = numbered([Entry("a", "Alpha"), Entry("b", "Beta"), Entry("c", "Gamma")], ("b", "a"))

    assert [(entry.id, entry.number) for entry in entries] == [("a", 2), ("b", 1), ("c", None)]
