"""Sheets of every declared kind: what a line is for, and what no sheet of that kind can hold."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest import RuleSet, read_rules, read_sheets
from judging.errors import InputError
from judging.marks import Sheet, rank
from judging.marks.lines import change_of, label_of, number_of
from judging.marks.sheet_rules import Lines, Sheets
from judging.marks.surprising import surprising_alone
from judging.marks.values import Entrant
from judging.store.archive import sheets_text

D = Decimal

#: Impression by criteria: common practice, no source; the criteria's names are invented.
CRITERIA = """
[sheets]
unit = "marks"
step = 0.5
lines = "criterion"
[[criterion]]
name = "Rhythm"
most = 40
words = "A steady pace from the first blow to the last"
[[criterion]]
name = "Leading"
most = 60
"""
BLOCKS = '[sheets]\nunit = "marks"\nstep = 1\nlines = "block"\nblock_changes = 20\nmost_a_line = 10\n'
WHOLE_PULLS = '[sheets]\nstep = 1\nlines = "whole pull"\nmost_a_line = 3\n'
ROWS = '[sheets]\nstep = 1\nlines = "row"\nmost_a_line = 3\n'
BLOWS = '[sheets]\nlines = "blow"\nmost_a_line = 1\n'
TOTAL = '[sheets]\nlines = "total"\n'


def rules_of(more: str) -> RuleSet:
    return read_rules(f'rules = 1\ntitle = "x"\n[[judge]]\nid = "j"\nname = "J"\n{more}', name="rules.toml")


def read(more: str, text: str) -> tuple[Sheet, ...]:
    return read_sheets(text, name="j.csv", judge="j", rules=rules_of(more).marks.sheets)


@pytest.mark.parametrize(
    ("rules", "text", "total", "changes"),
    [
        (CRITERIA, "entry,criterion,marks\na,rhythm,31.5\na,Leading,50\n", "81.5", [1, 2]),
        (CRITERIA, "entry,criterion,marks\na,2,50\na,1,31\n", "81", [2, 1]),
        (BLOCKS, "entry,block,marks\na,1,8\na,2,7\na,3,10\n", "25", [1, 21, 41]),
        (WHOLE_PULLS, "entry,whole_pull,faults\na,3,1\na,60,2\n", "3", [5, 119]),
        (ROWS, "entry,change,faults\na,5,1\na,6,3\n", "4", [5, 6]),
        (BLOWS, "entry,change,faults\na,5,0.5\na,5,1\na,9,0.5\n", "2", [5, 5, 9]),
        (TOTAL, "entry,total\na,18.5\n", "18.5", []),
        ("", "entry,total\na,18.5\n", "18.5", []),
        ("", "entry,change,faults\na,5,0.5\na,5,1\n", "1.5", [5, 5]),
    ],
)
def test_a_sheet_of_each_kind_is_read_from_its_file_and_back_from_an_archive(
    rules: str, text: str, total: str, changes: list[int]
) -> None:
    (sheet,) = read(rules, text)

    assert sheet.total == D(total)
    assert [tap.change for tap in sheet.taps] == changes
    assert read(rules, sheets_text([sheet])) == (sheet,)


@pytest.mark.parametrize(
    ("rules", "text", "problem"),
    [
        (CRITERIA, "entry,criterion,marks\na,rhythm,31\n", 'the criterion "Leading" is missing'),
        (CRITERIA, "entry,criterion,marks\na,1,31\na,1,30\na,2,3\n", 'the criterion "Rhythm" is there 2 times'),
        (CRITERIA, "entry,criterion,marks\na,1,41\na,2,3\n", '"Rhythm" has 41 marks, at most 40 can be given for it'),
        (CRITERIA, "entry,criterion,marks\na,1,4\na,2,3\na,3,3\n", "there is no criterion number 3; 2 are declared"),
        (CRITERIA, "entry,criterion,marks,total\na,1,4,9\na,2,3,9\n", "its total is 9, but its lines add up to 7"),
        (CRITERIA, "entry,total\na,70\n", 'the criterion "Rhythm" is missing'),
        (CRITERIA, "entry,criterion,marks\na,tempo,4\n", '"tempo" is no whole number from 1'),
        (BLOCKS, "entry,block,marks\na,1,8\na,3,7\n", "block 2 is missing; every block has a line, 0 too"),
        (BLOCKS, "entry,block,marks\na,1,11\n", "11 is not from 0 to 10"),
        (WHOLE_PULLS, "entry,whole_pull,faults\na,3,1\na,3,1\n", "whole pull 3 is there twice"),
        (WHOLE_PULLS, "entry,block,faults\na,3,1\n", 'the rules declare lines for "whole pull", not "block"'),
        (ROWS, "entry,change,faults\na,5,4\n", "row 5 holds 4 faults, the most a line may hold is 3"),
        (BLOWS, "entry,change,faults\na,5,1.5\n", "blow 5 holds 1½ faults, the most a line may hold is 1"),
        (TOTAL, "entry,change,faults\na,5,1\n", "it has lines, but the rules ask for a total only"),
    ],
)
def test_what_a_sheet_of_its_kind_cannot_hold_is_refused_by_line(rules: str, text: str, problem: str) -> None:
    with pytest.raises(InputError) as refused:
        read(rules, text)

    assert problem in str(refused.value)
    assert "j.csv, line" in str(refused.value)


def test_taps_in_one_row_add_up_to_no_more_than_a_row_may_hold() -> None:
    tapped = "entry,change,faults,tap_s\n" + "".join(f"a,5,1,{time}\n" for time in (8.1, 8.3, 8.6))
    assert read(ROWS, tapped)[0].total == 3
    with pytest.raises(InputError, match="row 5 holds 4 faults"):
        read(ROWS, tapped + "a,5,1,8.9\n")


def test_a_sheet_that_the_rules_cannot_hold_is_refused_by_the_ranker_too() -> None:
    rules = rules_of(TOTAL).marks
    itemised = read("", "entry,change,faults\na,5,1\n")

    with pytest.raises(InputError, match="a total only"):
        rank([Entrant("a")], itemised, rules, judges=["j"])


@pytest.mark.parametrize(
    ("more", "problem"),
    [
        ('[sheets]\nlines = "block"\n', "belongs to lines for each block, and they need it"),
        ("[sheets]\nblock_changes = 20\n", "belongs to lines for each block, and they need it"),
        ('[sheets]\nlines = "criterion"\n', "which needs them"),
        ('[[criterion]]\nname = "Rhythm"\nmost = 4\n', "which needs them"),
        ("[sheets]\nmost_a_line = 3\n", 'lines are for "any", which has no most a line'),
        (CRITERIA.replace("step", "most = 90\nstep"), "it is 90, but the criteria add up to 100"),
        (CRITERIA.replace("Leading", "rhythm"), "two criteria have the same name"),
        (CRITERIA.replace("most = 60", "most = 0"), "0 is not above 0"),
        (CRITERIA + '[ties]\nrules = ["fewest whole faults"]\n', "looks at single faults"),
        (TOTAL + '[ties]\nrules = ["fewest faulty changes"]\n', "looks at single faults"),
    ],
)
def test_sheets_declared_with_parts_that_contradict_each_other_are_refused(more: str, problem: str) -> None:
    with pytest.raises(InputError, match=problem):
        rules_of(more)


def test_the_most_of_an_impression_sheet_is_the_sum_of_its_criteria() -> None:
    assert rules_of(CRITERIA).marks.sheets.most == 100


def test_rules_that_say_nothing_of_lines_keep_the_fingerprint_they_had() -> None:
    said = rules_of('[sheets]\nlines = "any"\n[machine]\nlines_unsure_percent = 0\n[public]\njudges_compared = false\n')

    assert said.fingerprint == rules_of("").fingerprint
    assert rules_of(TOTAL).fingerprint != rules_of("").fingerprint


@given(number=st.integers(1, 500), lines=st.sampled_from(["any", "row", "blow", "whole pull"]))
def test_the_number_of_a_line_and_its_change_are_one_another(number: int, lines: Lines) -> None:
    rules = Sheets(lines=lines)

    assert number_of(change_of(number, rules), rules) == number
    assert label_of(change_of(number, rules), rules) == str(number)


def test_a_figure_with_an_added_digit_is_asked_about_and_an_ordinary_one_is_not() -> None:
    own = [D(18), D("24.5"), D(30), D(41)]

    assert surprising_alone(D(19), own) == ""
    assert surprising_alone(D(62), own) == ""
    assert surprising_alone(D(240), own) == (
        "240 faults, where your other sheets lie between 18 and 41: is it as you heard it?"
    )
    assert surprising_alone(D(240), own[:2]) == ""


def test_more_than_any_row_can_cost_is_asked_about_from_the_first_sheet_on() -> None:
    assert surprising_alone(D(480), [], changes=120) == ""
    assert "more than 4 for each of 120 changes" in surprising_alone(D(481), [], changes=120)
