"""The rules in sentences: whatever can change a result is said."""

import pytest

from judging.contest import read_rules
from judging.web.rules_words import rules_sentences

BASE = """
rules = 1
title = "A contest"
[[section]]
name = "Six"
piece = "bob"
[[judge]]
id = "ann"
name = "Ann"
chief = true
[[judge]]
id = "ben"
name = "Ben"
[draw]
seed = "x"
"""


def said(more: str = "", base: str = BASE) -> str:
    return " ".join(rules_sentences(read_rules(base + more, name="rules.toml")))


@pytest.mark.parametrize(
    "more",
    [
        '[combining]\npolicy = "mean"',
        '[combining]\npolicy = "placings"',
        '[combining]\npolicy = "standard score"',
        '[combining]\npolicy = "ratio"',
        '[combining]\npolicy = "agreed mark"',
        '[combining]\npolicy = "majority of placings"',
        '[combining]\npolicy = "mean"\nmissing_judge = "use those present"',
        '[combining]\nmissing_judge = "leave the judge out"',
        '[sheets]\nunit = "marks"',
        "[sheets]\nstep = 0.25",
        "[sheets]\nmost = 100",
        '[machine]\npart = "voice"',
        '[machine]\npart = "voice"\nweight = 0.5',
        "[machine]\nmost_unsure_percent = 3",
        "[tolerance]\nblemish_gaps = 0.1",
        "[tolerance]\nhalf_gaps = 0.3",
        "[tolerance]\nwhole_gaps = 0.5",
        "[tolerance]\nblemish_ms = 25",
        "[tolerance]\nhalf_ms = 50",
        "[tolerance]\nwhole_ms = 80",
        "[tolerance]\nclash_gaps = 0.2",
        "[marked]\npull_off = true",
        "[marked]\nopening = true",
        "[marked]\nclosing = true",
        "[marked]\nfree_rows = 20",
        "[marked]\nmost_changes = 100",
        '[counting]\ndoubtful = "lower"',
        '[counting]\ndoubtful = "leave out"',
        "[counting]\nhandstroke_gap = 1",
        '[ties]\nrules = ["chief judge"]',
        '[ties]\nrules = ["best single sheet", "lowest total of placings"]',
        '[ties]\nrules = ["fewest faults in the last changes"]\nlast_changes = 30',
        '[[penalty]]\nfor = "restart"\npercent = 10',
        '[[penalty]]\nfor = "restart"\npercent = 10\nbase = "combined"',
        '[[penalty]]\nfor = "restart"\npercent = 10\npercent_of = "so far"',
        '[[penalty]]\nfor = "restart"\namount = 3',
        '[[penalty]]\nfor = "restart"\npercent = 10\nwithin_changes = 32',
        '[[penalty]]\nfor = "borrowed ringers"\nmost = 2',
        '[[penalty]]\nfor = "novice handicap"\nmultipliers = ["2", "5/3", "4/3"]',
        "[rounding]\nstep = 0.5",
        '[rounding]\nmode = "down"',
        "[rounding]\nrank_rounded = false",
        "[protest]\nminutes = 0",
        "[protest]\nminutes = 30",
        '[protest]\nto = "the secretary"',
        "[eligibility]\nbands_per_ringer = 1",
        "[eligibility]\nresidents = 4",
        '[eligibility]\nwords = "Members only."',
    ],
)
def test_a_rule_that_is_changed_changes_what_is_said(more: str) -> None:
    assert said(more) != said()


@pytest.mark.parametrize(
    "line", ["changes = 120", "practice_minutes = 5", "minutes_allowed = 8", "most_borrowed = 0", "slot_minutes = 15"]
)
def test_a_sections_own_rules_are_said(line: str) -> None:
    assert (
        said(
            base=BASE.replace(
                'piece = "bob"', f'piece = "bob"\nchanges = 60\n{line}'.replace("changes = 60\nchanges", "changes")
            )
        )
        != said()
    )


def test_sentences_are_sentences() -> None:
    text = said('[[penalty]]\nfor = "borrowed ringers"\npercent = 15\nmost = 2')

    assert "For each borrowed ringer, each judge’s figure changes by 15 % of it." in text
    assert "With more than 2 borrowed ringers, a band takes no place." in text
    assert "The judges’ figures are added up; the lowest wins." in text
    for sentence in rules_sentences(read_rules(BASE, name="rules.toml")):
        assert sentence[0].isupper()
        assert sentence.endswith(".")


def test_more_is_better_where_marks_are_given() -> None:
    assert "the highest wins" in said('[sheets]\nunit = "marks"')
    assert "the lowest wins" in said('[sheets]\nunit = "marks"\n[combining]\npolicy = "placings"')
