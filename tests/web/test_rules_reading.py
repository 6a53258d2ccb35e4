"""The page of rules is made from what is read: every key has its line, every preset its text and worked example."""

import html

import pytest

from judging.contest import PRESETS, read_rules, worked_example
from judging.contest.documenting import every_table
from judging.contest.entries import ENTRY
from judging.contest.keys import TOP

from .conftest import Service


def test_every_key_that_is_read_has_its_line_with_its_meaning(finished: Service) -> None:
    page = html.unescape(finished.visitor().get("/reading/rules").text)

    for name, keys in {"top": TOP, **every_table(), "entry": ENTRY}.items():
        part = page.split(f'<h3 id="keys-{name}">')[1].split("<h3")[0]
        for key in keys:
            assert f"<code>{key.name}</code>" in part
            assert key.meaning.replace("`", "") in part
            assert all(choice in part for choice in key.choices)


@pytest.mark.parametrize("name", PRESETS)
def test_every_preset_stands_there_with_the_example_that_the_code_gives(finished: Service, name: str) -> None:
    page = html.unescape(finished.visitor().get("/reading/rules").text)
    part = page.split(f"<summary>{name.capitalize()}</summary>")[1].split("</details>")[0]

    assert PRESETS[name] in part
    for line in worked_example(read_rules(PRESETS[name], name=name)).result.places:
        assert line.entry.replace("-", " ").capitalize() in part
        assert all(reason in part for reason in line.reasons)
