"""Entries from a spreadsheet."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest import read_entry_table, read_rules
from judging.errors import InputError

RULES = read_rules(
    'rules = 1\ntitle = "x"\n[[section]]\nname = "Six"\npiece = "bob"\n[[section]]\nname = "Eight"\n', name="rules.toml"
)
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=30)


@given(st.lists(NAMES, min_size=1, max_size=8, unique_by=str.casefold), st.sampled_from(",;\t"))
def test_every_name_comes_back_as_it_was_written_under_any_separator(names: list[str], separator: str) -> None:
    written = io.StringIO()
    lines = csv.writer(written, delimiter=separator)
    lines.writerows([["band", "section"], *([name, "Six"] for name in names)])

    entries = read_entry_table(written.getvalue(), name="e.csv", rules=RULES)

    assert [entry.band for entry in entries] == names
    assert len({entry.id for entry in entries}) == len(names)


def test_every_column_of_an_entry_can_be_given() -> None:
    text = "Band,Section,Also in,Borrowed,Scratch,Late,Over time s,May be recorded\nWeir,Six,Eight,2,yes,no,12.5,no\n"

    [entry] = read_entry_table(text, name="e.csv", rules=RULES)

    assert (entry.section, entry.also_in, entry.borrowed, entry.scratch, entry.late) == (
        "Six",
        ("Eight",),
        2,
        True,
        False,
    )
    assert (entry.over_time_s, entry.may_be_recorded, entry.piece, entry.id) == (12.5, False, "bob", "weir")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("band\n", "has a header and no band below it"),
        ("name\nWeir\n", 'line 1: the column "name" is not known'),
        ("bannd\nWeir\n", 'is "band" meant'),
        ("section\nSix\n", 'there is no column "band"'),
        ("band,borrowed,section\nWeir,two,Six\n", 'line 2, borrowed: "two" is not a whole number'),
        ("band,borrowed,section\nWeir,99,Six\n", "line 2, borrowed: 99"),
        ("band,scratch,section\nWeir,perhaps,Six\n", "line 2, scratch"),
        ("band,section\nWeir,Ten\n", 'line 2, section: "Ten" is no section'),
        ("band,section\nWeir,Six\nWEIR,Six\n", 'line 3, band: "WEIR" is there twice'),
        ("band,section\nWeir, Lock,Six\n", "line 2: 3 cells under a header of 2"),
        ("band,section\n" + "x" * 201 + ",Six\n", "201 characters"),
        ('band,section\n"Weir,Six\n', "is no CSV"),
        ("band\0", "is no text file"),
    ],
)
def test_a_mistake_is_named_with_its_line(text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_entry_table(text, name="e.csv", rules=RULES)

    assert said in str(refused.value)
