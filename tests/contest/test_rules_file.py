"""Reading ``rules.toml``: what it may say, what is refused and how, and what the fingerprint stands for."""

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.contest import RuleSet, read_judges, read_rules
from judging.contest.counting import COUNTING_TABLES
from judging.contest.keys import TABLES, TOP
from judging.errors import InputError
from judging.marks.exact import Rounding
from judging.marks.penalties import Penalty
from judging.marks.rules import Combining, MachinePart, MarksRules, Ties
from judging.marks.sheet_rules import Sheets
from judging.striking.rules import CountingRules

LEAST = 'rules = 1\ntitle = "A contest"\n'

FULL = """
rules = 1
title = "A contest"
district = "Somewhere"
date = 2026-05-16
place = "A tower"

[[section]]
name = "Method"
piece = "minor"
changes = 120
practice_minutes = 5
slot_minutes = 15
minutes_allowed = 6.5
most_borrowed = 2
eligibility = "Bands of the district"
judges = ["one"]

[[section]]
name = "Call changes"

[[judge]]
id = "one"
name = "Judge One"
chief = true

[[judge]]
id = "two"
name = "Judge Two"

[draw]
seed = "a seed"

[sheets]
unit = "faults"
step = 0.5
most = 360

[counting]
scheme = "up to 3 a row"
doubtful = "lower"
handstroke_gap = 1

[tolerance]
half_gaps = 0.3

[marked]
pull_off = true
most_changes = 120

[scheme]
name = "up to 3 a row, smashes 3"
clash = 3

[combining]
policy = "mean"
drop = "none"
missing_judge = "use those present"

[machine]
part = "tie-break"

[[penalty]]
for = "borrowed ringers"
base = "combined"
percent = 15
percent_of = "so far"
most = 2
step = 0.5
mode = "half even"

[[penalty]]
for = "restart"
percent = 10
within_changes = 32

[[penalty]]
for = "novice handicap"
multipliers = ["1", "4/3", "5/3", "2"]

[ties]
rules = ["chief judge", "fewest faults in the last changes", "machine"]
last_changes = 20

[rounding]
step = 0.01
mode = "half up"
rank_rounded = false

[eligibility]
bands_per_ringer = 2
residents = 4
words = "One quarter peal at most for novices."

[protest]
minutes = 20
to = "the secretary"

[public]
result = "provisional"
by_judge = false
"""


def rules_of(text: str) -> RuleSet:
    return read_rules(text, name="rules.toml")


def test_a_title_is_enough_and_the_rest_has_its_defaults() -> None:
    rules = rules_of(LEAST)

    assert rules.marks == MarksRules()
    assert rules.counting == CountingRules(fingerprint=rules.fingerprint)
    assert [section.name for section in rules.sections] == [""]


def test_everything_declared_arrives_typed_and_exact() -> None:
    rules = rules_of(FULL)

    assert rules.marks == MarksRules(
        sheets=Sheets("faults", Decimal("0.5"), Decimal(360)),
        combining=Combining("mean", "none", "use those present"),
        machine=MachinePart("tie-break"),
        penalties=(
            Penalty(
                "borrowed ringers",
                base="combined",
                percent=Decimal(15),
                percent_of="so far",
                most=2,
                rounding=Rounding(Decimal("0.5"), "half even"),
            ),
            Penalty("restart", percent=Decimal(10), within_changes=32),
            Penalty("novice handicap", multipliers=(Fraction(1), Fraction(4, 3), Fraction(5, 3), Fraction(2))),
        ),
        ties=Ties(("chief judge", "fewest faults in the last changes", "machine"), "one", 20),
        rank_rounded=False,
    )
    assert rules.counting.bands.half_gaps == 0.3
    assert rules.counting.marked.pull_off
    assert rules.counting.scheme.name == "up to 3 a row, smashes 3"
    assert rules.counting.scheme.clash == Decimal(3)
    assert rules.counting.scheme.cap == Decimal(3)
    assert rules.sections[0].minutes_allowed == Decimal("6.5")
    assert rules.protest.minutes == 20
    assert not rules.public.by_judge
    assert [judge.id for judge in read_judges(FULL, name="rules.toml")] == ["one", "two"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            LEAST + "[combining]\npolicey = 'sum'",
            r'rules.toml, \[combining\]: the key "policey" is not known; did you mean "policy"\?',
        ),
        (LEAST + "[combinning]\n", r'rules.toml: the key "combinning" is not known; did you mean "combining"\?'),
        (
            LEAST + "[combining]\npolicy = 'zzz'",
            r'rules.toml, \[combining\], policy: "zzz" is not known; it may be "sum"',
        ),
        (LEAST + "[combining]\npolicy = 'standard scores'", r'did you mean "standard score"\?'),
        (LEAST + "[combining]\npolicy = 3", r"policy: 3 is no text; put it in quotation marks"),
        (LEAST + "[sheets]\nstep = 'half'", r"\[sheets\], step: 'half' is no number; write it without quotation marks"),
        (LEAST + "[sheets]\nstep = nan", r"\[sheets\], step: NaN is no number"),
        (LEAST + "[sheets]\nstep = 0", r"\[sheets\], step: 0 is below 0.001"),
        (LEAST + "[sheets]\nmost = -1", r"\[sheets\], most: -1 is below 0"),
        (LEAST + "[marked]\npull_off = 1", r"\[marked\], pull_off: 1 is neither true nor false"),
        (LEAST + "[marked]\nfree_rows = 1.5", r"\[marked\], free_rows: 1.5 is no whole number"),
        (LEAST + "[marked]\nfree_rows = 1000000000000", r"free_rows: it has more than 12 digits"),
        (LEAST + "[sheets]\nstep = 1e400", r"step: 1e\+400 has more than 12 digits"),
        (LEAST + "[penalty]\nfor = 'restart'", r'"penalty" is a list of tables; head each with \[\[penalty\]\]'),
        (LEAST + "[[penalty]]\npercent = 3", r'\[\[penalty\]\] 1: the key "for" is missing'),
        (LEAST + "[[penalty]]\nfor = 'restart'", r'rules.toml, penalty for "restart": it says nothing'),
        (
            LEAST + "[[penalty]]\nfor = 'novice handicap'\nmultipliers = ['4/0']",
            r'"4/0" is neither a whole number nor a fraction',
        ),
        (LEAST + "[[draw]]\nseed = 'x'", r'"draw" is one table; head it with \[draw\]'),
        (LEAST + "[ties]\nrules = 'machine'", r"'machine' is no list"),
        (LEAST + "[ties]\nrules = ['chief judge']", r"no judge is declared as chief"),
        (LEAST + "[tolerance]\nhalf_gaps = 0.5", r"rules.toml, tolerance, .*must ascend"),
        (LEAST + "[tolerance]\nblemish_ms = 2", r"below the hearing floor"),
        (LEAST + "[[judge]]\nid = 'A B'\nname = 'x'", r'"A B" is no identifier'),
        (LEAST + "[[judge]]\nid = 'machine'\nname = 'x'", r"what the machine's count is called"),
        (LEAST + "[[judge]]\nid = 'a'\nname = 'x'\n" * 2, r'"a" is there twice'),
        (
            LEAST + "[[judge]]\nid = 'a'\nname = 'x'\nchief = true\n[[judge]]\nid = 'b'\nname = 'y'\nchief = true",
            "one at most",
        ),
        (LEAST + "[[section]]\nname = 'x'\n" * 2, r'"x" is there twice'),
        (LEAST + "[[section]]\nname = 'x'\njudges = ['nobody']", r'"nobody" is no judge of these rules'),
        (f"{LEAST}place = '{'x' * 2001}'", r"rules.toml, place: 2001 characters, at most 2000"),
        (LEAST + "date = '2026'", r"'2026' is no day; write 2026-05-16"),
        (LEAST + 'place = "a\\u0007b"', r"a character that cannot be printed"),
        ("rules = 2\ntitle = 'x'", r"rules.toml, rules: 2 is not a version this program knows; it knows 1"),
        ("title = 'x'", r'the key "rules" is missing'),
        ("rules = 1", r'the key "title" is missing'),
        ("", r"the file is empty"),
        ("rules = 1\ntitle = \nx = 1", r"rules.toml: it is no TOML file: .*line 2"),
        ("rules = 1\n" + "x = " + "[" * 5000, r"it is no TOML file"),
        ("x" * 1_000_001, r"at most 1000000"),
    ],
)
def test_what_is_wrong_is_named_with_its_place_and_what_was_probably_meant(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        rules_of(text)


def test_a_byte_order_mark_and_windows_lines_are_read() -> None:
    assert rules_of("\ufeff" + LEAST.replace("\n", "\r\n")) == rules_of(LEAST)


class TestFingerprint:
    def test_is_sha256_in_hexadecimal_and_short_for_print(self) -> None:
        rules = rules_of(FULL)

        assert re.fullmatch(r"[0-9a-f]{64}", rules.fingerprint)
        assert re.fullmatch(r"[0-9a-f]{4} [0-9a-f]{4} [0-9a-f]{4}", rules.short_fingerprint)
        assert rules.fingerprint.startswith(rules.short_fingerprint.replace(" ", ""))

    def test_is_handed_down_to_the_counting_rules(self) -> None:
        rules = rules_of(FULL)

        assert rules.counting.fingerprint == rules.fingerprint

    def test_does_not_depend_on_comments_spacing_order_spelling_or_defaults_written_out(self) -> None:
        other = (
            "# other words\n"
            + LEAST.replace(" = ", "=")
            + "\n[rounding]\nmode = 'half up'\nstep = 0.010\n[combining]\npolicy='sum'\n[sheets]\nstep=5e-1\n"
        )

        assert rules_of(other).fingerprint == rules_of(LEAST).fingerprint

    @pytest.mark.parametrize(
        "change",
        [
            ("title", "title2"),
            ('seed = "a seed"', 'seed = "another"'),
            ("percent = 15", "percent = 15.5"),
            ("half_gaps = 0.3", "half_gaps = 0.31"),
            ("minutes = 20", "minutes = 30"),
            ("by_judge = false", "by_judge = true"),
            ('name = "Judge Two"', 'name = "Judge Three"'),
            ("clash = 3", "clash = 4"),
            ("2026-05-16", "2026-05-17"),
            ('"5/3"', '"7/4"'),
        ],
    )
    def test_changes_with_anything_that_is_declared(self, change: tuple[str, str]) -> None:
        old, new = change
        changed = FULL.replace(old, new) if old != "title" else FULL.replace("A contest", "Another contest")

        assert rules_of(changed).fingerprint != rules_of(FULL).fingerprint

    def test_changes_with_the_order_of_penalties_since_they_apply_in_it(self) -> None:
        first, second = "[[penalty]]\nfor='restart'\npercent=10\n", "[[penalty]]\nfor='over time'\namount=2\n"

        assert rules_of(LEAST + first + second).fingerprint != rules_of(LEAST + second + first).fingerprint


EVERY_KEY = [*TOP, *(key for table in (TABLES | COUNTING_TABLES).values() for key in table)]


@pytest.mark.parametrize("key", EVERY_KEY, ids=lambda key: f"{key.table}.{key.name}")
def test_every_key_is_documented_in_a_sentence_and_only_once(key) -> None:  # noqa: ANN001  named by its list
    assert key.meaning.endswith(".")
    assert key.meaning[0].isupper()
    assert [(other.table, other.name) for other in EVERY_KEY].count((key.table, key.name)) == 1
    assert bool(key.choices) == (key.kind in {"one of", "list of"})


@given(st.text(max_size=200))
@settings(max_examples=150)
def test_any_text_is_read_or_refused_with_its_name(text: str) -> None:
    try:
        rules_of(LEAST + text)
    except InputError as error:
        assert str(error).startswith("rules.toml")  # noqa: PT017  most texts are refused, some are comments


VALUES = st.sampled_from(["1", "-1", "0.5", "true", '"x"', "[]", "[1]", "{}", "2026-05-16", "nan", "1e400", '"sum"'])


@given(st.sampled_from([(name, key.name) for name, keys in (TABLES | COUNTING_TABLES).items() for key in keys]), VALUES)
@settings(max_examples=200)
def test_any_value_of_any_key_is_read_or_refused_with_its_name(place: tuple[str, str], value: str) -> None:
    table, key = place
    head = f"[[{table}]]" if table in {"section", "judge", "penalty"} else f"[{table}]"
    try:
        rules_of(f"{LEAST}{head}\n{key} = {value}\n")
    except InputError as error:
        assert str(error).startswith("rules.toml")  # noqa: PT017  most values are refused, some are right
