"""A value put into ``rules.toml``: it is there, and the rest is as it was; the standard library reads it back."""

import tomllib
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest import PRESETS
from judging.contest.rewriting import Place, Value, rewrite
from judging.errors import InputError

TEXT = """# what a person wrote
rules = 1
title = "Dell"   # beside it

[sheets]
step = 0.5

[[penalty]]
for = "restart"

[[penalty]]
for = "over time"
"""

VALUES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
    st.booleans(),
    st.integers(-(10**9), 10**9),
    st.decimals(-1000, 1000, places=3),
    st.dates(),
    st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), max_size=3).map(tuple),
)
PLACES = st.sampled_from(
    [
        Place("", "title"),
        Place("", "place"),
        Place("sheets", "step"),
        Place("sheets", "most"),
        Place("draw", "seed"),
        Place("penalty", "percent", 1),
        Place("penalty", "for", 2),
        Place("penalty", "for", 3),
        Place("judge", "name", 1),
    ]
)


def put(raw: dict[str, object], place: Place, value: Value) -> None:
    """Do with plain dictionaries what is done with the text."""
    table: object = raw
    if place.number:
        tables = raw.setdefault(place.table, [])
        assert isinstance(tables, list)
        if len(tables) < place.number:
            tables.append({})
        table = tables[place.number - 1]
    elif place.table:
        table = raw.setdefault(place.table, {})
    assert isinstance(table, dict)
    table[place.key] = list(value) if isinstance(value, tuple) else value


@given(st.dictionaries(PLACES, VALUES, max_size=6), st.sampled_from([TEXT, *PRESETS.values()]))
def test_what_is_put_in_is_there_and_the_rest_is_as_it_was(values: dict[Place, Value], text: str) -> None:
    raw = tomllib.loads(text, parse_float=Decimal)
    heads = {name: len(tables) for name, tables in raw.items() if isinstance(tables, list)}
    values = {place: value for place, value in values.items() if place.number <= heads.get(place.table, 0) + 1}
    for place, value in values.items():
        put(raw, place, value)

    assert tomllib.loads(rewrite(text, values, name="rules.toml"), parse_float=Decimal) == raw


@given(st.dictionaries(PLACES, VALUES, max_size=6))
def test_comments_stay(values: dict[Place, Value]) -> None:
    values = {place: value for place, value in values.items() if place.number <= 2 or place.table == "penalty"}
    made = rewrite(TEXT, values, name="rules.toml")

    assert made.startswith("# what a person wrote\n")
    assert "# beside it" in made


def test_nothing_to_put_in_leaves_the_text_to_the_letter() -> None:
    assert rewrite(TEXT, {}, name="rules.toml") == TEXT


def test_none_takes_a_value_or_a_whole_table_out() -> None:
    made = rewrite(TEXT, {Place("sheets", "step"): None, Place("penalty", "", 1): None}, name="rules.toml")
    raw = tomllib.loads(made)

    assert raw["sheets"] == {}
    assert raw["penalty"] == [{"for": "over time"}]


@pytest.mark.parametrize(
    "text", ["sheets = 1\n", "[[sheets]]\nstep = 1\n", "penalty = [{for = 'restart'}]\n", "[penalty]\nfor = 'x'\n"]
)
def test_a_text_written_in_another_way_is_refused_and_not_spoilt(text: str) -> None:
    place = Place("sheets", "step") if "sheets" in text else Place("penalty", "percent", 1)
    with pytest.raises(InputError, match="change it in the text"):
        rewrite(text, {place: 1}, name="rules.toml")


def test_what_is_no_toml_is_refused() -> None:
    with pytest.raises(InputError, match="no TOML"):
        rewrite("title = ", {Place("", "title"): "x"}, name="rules.toml")
