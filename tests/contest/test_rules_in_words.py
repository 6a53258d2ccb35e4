"""The rules in sentences, their worked example, the presets and the reference: all from the same declared rules."""

import re
from decimal import Decimal

import pytest

from judging.contest import describe, read_rules, reference, worked_example
from judging.contest.documenting import SEVERAL, every_table
from judging.contest.entries import ENTRY
from judging.contest.keys import TOP
from judging.contest.presets import PRESETS
from judging.marks.rules import MarksRules

#: Something of every kind, so that each change below has something to change.
FULL = """
rules = 1
title = "A contest"
[[section]]
name = "Method"
changes = 120
practice_minutes = 5
slot_minutes = 15
minutes_allowed = 6
most_borrowed = 2
judges = ["one"]
eligibility = "Bands of the district."
[[judge]]
id = "one"
name = "Judge One"
chief = true
[draw]
seed = "a seed"
[sheets]
step = 0.5
most = 360
[counting]
handstroke_gap = 1
[marked]
free_rows = 2
most_changes = 120
[machine]
part = "voice"
weight = 0.5
[[penalty]]
for = "borrowed ringers"
percent = 15
amount = 1
most = 2
step = 0.5
[[penalty]]
for = "restart"
percent = 10
within_changes = 32
[[penalty]]
for = "novice handicap"
multipliers = ["1", "4/3"]
[ties]
rules = ["chief judge", "fewest faults in the last changes"]
last_changes = 20
[timetable]
first_band = "14:00"
[[break]]
at = "15:30"
minutes = 20
for = "Tea"
[eligibility]
bands_per_ringer = 2
residents = 4
words = "Nobody under ten."
[protest]
minutes = 10
to = "the secretary"
[public]
by_judge = true
"""

CHANGES = [
    ("changes = 120", "changes = 240"),
    ("changes = 120", "changes = 120\nleast_changes = 120"),
    ("changes = 120", "changes = 120\nmost_changes = 240"),
    ("changes = 120", "changes = 120\npiece_is_true = true"),
    ("changes = 120", "changes = 120\npiece_comes_round = true"),
    ("changes = 120", "changes = 120\nevery_bell_leads = true"),
    ("practice_minutes = 5", "practice_minutes = 4"),
    ("slot_minutes = 15", "slot_minutes = 20"),
    ("minutes_allowed = 6", "minutes_allowed = 7"),
    ("most_borrowed = 2", "most_borrowed = 0"),
    ('judges = ["one"]', ""),
    ("Bands of the district.", "Bands of the county."),
    ("a seed", "another"),
    ("step = 0.5\nmost = 360", "step = 1\nmost = 360"),
    ("most = 360", "most = 240"),
    ("[sheets]\n", '[sheets]\nunit = "marks"\n'),
    ("[sheets]\n", '[sheets]\nlines = "row"\n'),
    ("[sheets]\n", '[sheets]\nlines = "whole pull"\nmost_a_line = 2\n'),
    ("handstroke_gap = 1", "handstroke_gap = 0"),
    ("handstroke_gap = 1", ""),
    ("[counting]\n", '[counting]\nscheme = "up to 3 a row"\n'),
    ("[counting]\n", '[counting]\ndoubtful = "lower"\n'),
    ("free_rows = 2", "free_rows = 3"),
    ("most_changes = 120", "most_changes = 100"),
    ("[marked]\n", "[marked]\npull_off = true\n"),
    ("[marked]\n", "[marked]\nopening = true\n"),
    ("[marked]\n", "[marked]\nclosing = true\n"),
    ("[marked]\n", "[marked]\nstand = true\n"),
    ("[marked]\n", "[scheme]\nname = 'half or whole for each blow'\nmissing = 0\n[marked]\n"),
    ("[marked]\n", "[scheme]\nname = 'half or whole for each blow'\nextra = 0.5\n[marked]\n"),
    ("[marked]\n", "[scheme]\nname = 'half or whole for each blow'\nhalf = 0\n[marked]\n"),
    ("[marked]\n", "[scheme]\nname = 'half or whole for each blow'\nunit_rows = 1\ncap = 4\n[marked]\n"),
    ("[marked]\nfree", "[scheme]\nstand = 2\n[marked]\nstand = true\nfree"),
    ("[machine]\n", "[tolerance]\nblemish_gaps = 0.16\n[machine]\n"),
    ("[machine]\n", "[tolerance]\nhalf_ms = 46\n[machine]\n"),
    ("[machine]\n", "[tolerance]\nclash_gaps = 0.2\n[machine]\n"),
    ("weight = 0.5", "weight = 1"),
    ("weight = 0.5", "weight = 0.5\nmost_unsure_percent = 3"),
    ("weight = 0.5", "weight = 0.5\nsure_within_ms = 3"),
    ("[machine]\n", '[combining]\npolicy = "mean"\n[machine]\n'),
    ("[machine]\n", '[combining]\nmissing_judge = "leave the judge out"\n[machine]\n'),
    ("percent = 15", "percent = 10"),
    ("percent = 15", 'percent = 15\npercent_of = "so far"'),
    ("percent = 15", 'percent = 15\nbase = "combined"'),
    ("amount = 1", "amount = 2"),
    ("most = 2\nstep", "most = 3\nstep"),
    ("most = 2\nstep = 0.5", "most = 2\nstep = 1"),
    ("within_changes = 32", "within_changes = 30"),
    ('"4/3"', '"5/3"'),
    ("last_changes = 20", "last_changes = 30"),
    ('"chief judge", ', ""),
    ('first_band = "14:00"', 'first_band = "13:45"'),
    ('at = "15:30"', 'at = "15:45"'),
    ("minutes = 20", "minutes = 1"),
    ('for = "Tea"', 'for = "Lunch"'),
    ("bands_per_ringer = 2", "bands_per_ringer = 1"),
    ("residents = 4", "residents = 5"),
    ("Nobody under ten.", "Nobody over ninety."),
    ("minutes = 10", "minutes = 0"),
    ("the secretary", "the master"),
    ("by_judge = true", "by_judge = false"),
    ("by_judge = true", "machine = false"),
    ("by_judge = true", "safety = false"),
    ("by_judge = true", "fault_sheets = true"),
    ("by_judge = true", "judges_compared = true"),
    ("weight = 0.5", "weight = 0.5\nlines_unsure_percent = 4"),
    ("by_judge = true", 'result = "provisional"'),
    ("[public]\n", "[rounding]\nstep = 0.1\n[public]\n"),
    ("[public]\n", '[rounding]\nmode = "half even"\n[public]\n'),
    ("[public]\n", "[rounding]\nrank_rounded = false\n[public]\n"),
]


def sentences_of(text: str) -> list[tuple[str, str]]:
    return [line for line in describe(read_rules(text, name="rules.toml")) if line[0] != "Fingerprint"]


@pytest.mark.parametrize(("old", "new"), CHANGES, ids=[new.strip() or f"no {old}" for old, new in CHANGES])
def test_nothing_that_is_declared_is_left_unsaid(old: str, new: str) -> None:
    assert old in FULL
    if "marks" in new:  # without what only faults have
        old_rules = FULL.replace('part = "voice"', "").replace(', "fewest faults in the last changes"', "")
        old_rules = old_rules.replace('[[penalty]]\nfor = "novice handicap"\nmultipliers = ["1", "4/3"]\n', "")
        assert sentences_of(old_rules.replace(old, new)) != sentences_of(old_rules)
        return

    assert sentences_of(FULL.replace(old, new, 1)) != sentences_of(FULL)


def test_a_bare_section_dropped_figures_and_a_limit_of_minutes_are_said() -> None:
    said = dict.fromkeys(
        sentence
        for _, sentence in sentences_of(
            'rules = 1\ntitle = "x"\n[[section]]\nname = "Method"\n[combining]\ndrop = "highest and lowest"\n'
            '[[penalty]]\nfor = "over time"\nmost = 1\n'
        )
    )

    assert "Method." in said
    assert any("of 10, 20, 30 and 40 the 20 and 30 count" in sentence for sentence in said)
    assert "With more than 1 minute begun over time a band takes no place." in said


def test_sentences_are_sentences() -> None:
    for heading, sentence in describe(read_rules(FULL, name="rules.toml")):
        assert heading
        assert re.fullmatch(r"[A-Z].*\.", sentence)
        assert "  " not in sentence


@pytest.mark.parametrize("name", PRESETS)
class TestPresets:
    def test_are_rules_that_are_read_and_said(self, name: str) -> None:
        rules = read_rules(PRESETS[name], name=name)

        assert len(describe(rules)) > 10
        assert rules.marks != MarksRules()

    def test_have_a_worked_example_that_places_bands(self, name: str) -> None:
        example = worked_example(read_rules(PRESETS[name], name=name))

        assert example.result.places[0].place == 1
        assert len(example.result.places) == 5


def test_the_six_bell_preset_worked_by_hand() -> None:
    # Band 4: (22 + 2 rows × 3) + (48 + 2 × 3) = 82; one borrowed ringer 15 %, one restart 10 %, both of 82: 102.5.
    # Band 5 was 62 and 18, two of its 80 faults as halves: level with band 1, with 78 whole faults to 80.
    example = worked_example(read_rules(PRESETS["six bells, 120 changes"], name="preset"))

    assert [(line.entry, str(line.mark)) for line in example.result.places] == [
        ("band-2", "74"),
        ("band-3", "75"),
        ("band-5", "80"),
        ("band-1", "80"),
        ("band-4", "102.5"),
    ]
    assert "fewest whole faults: 78 against 80" in example.result.places[2].reasons[0]
    assert example.happenings == {"band-4": "1 borrowed ringer, begun again once, 2 rows missing"}


@pytest.mark.parametrize(
    ("combining", "judges"),
    [('policy = "agreed mark"', 1), ('policy = "sum"', 2), ('policy = "mean"\ndrop = "highest and lowest"', 3)],
)
def test_the_worked_example_has_as_many_judges_as_the_policy_needs(combining: str, judges: int) -> None:
    rules = read_rules(f'rules = 1\ntitle = "x"\n[combining]\n{combining}\n', name="rules.toml")

    assert {len(line) for line in worked_example(rules).figures.values()} == {judges}


@pytest.mark.parametrize(
    "sheets",
    [
        'lines = "total"',
        'lines = "row"\nstep = 1\nmost_a_line = 3',
        'lines = "whole pull"\nstep = 1',
        'lines = "blow"\nmost_a_line = 1',
        'unit = "marks"\nlines = "block"\nblock_changes = 20\nmost_a_line = 10',
        'unit = "marks"\nlines = "criterion"\n[[criterion]]\nname = "Rhythm"\nmost = 100',
    ],
)
def test_every_kind_of_sheet_has_a_worked_example(sheets: str) -> None:
    rules = read_rules(f'rules = 1\ntitle = "x"\n[sheets]\n{sheets}\n', name="rules.toml")

    assert {line.place for line in worked_example(rules).result.places} >= {1, 2, 3}


def test_the_worked_example_keeps_to_the_step_and_most_of_a_sheet() -> None:
    rules = read_rules('rules = 1\ntitle = "x"\n[sheets]\nunit = "marks"\nstep = 5\nmost = 100\n', name="rules.toml")
    figures = [figure for line in worked_example(rules).figures.values() for figure in line.values()]

    assert all(figure % 5 == 0 and 0 <= figure <= 100 for figure in figures)
    assert len(set(figures)) > 3
    assert max(figures) == Decimal(80)


def test_the_reference_names_every_key_of_every_table_with_its_meaning() -> None:
    text = reference()

    for table, keys in {**every_table(), "entry": ENTRY}.items():
        head = f"### `[[{table}]]`" if table in SEVERAL | {"entry"} else f"### `[{table}]`"
        part = text.split(head + "\n")[1].split("\n#")[0]
        for key in keys:
            assert f"| `{key.name}` |" in part
            assert key.meaning in part
    assert all(f"| `{key.name}` |" in text for key in TOP)
