"""Figures as people read them, and that there is one way of writing them."""

import re
from decimal import Decimal
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from judging import figures
from judging.figures import counted, figure


@given(st.decimals(min_value=-9999, max_value=9999, places=3))
def test_a_figure_can_be_read_back_to_the_number_it_was(number: Decimal) -> None:
    text = figure(number).replace("−", "-")
    for sign, part in {"¼": ".25", "½": ".5", "¾": ".75"}.items():
        text = text.replace(sign, part)
    assert Decimal(text) == number


@given(st.decimals(min_value=0, max_value=9999, places=2))
def test_a_figure_has_no_trailing_zeros_and_no_exponent(number: Decimal) -> None:
    text = figure(number)
    assert "E" not in text
    assert not ("." in text and text.endswith("0"))


@given(st.decimals(min_value=0, max_value=99, places=2))
def test_only_one_and_its_quarters_are_one_fault(number: Decimal) -> None:
    is_one = number in {Decimal(text) for text in ("0.25", "0.5", "0.75", "1")}
    assert counted(number, "faults").endswith(" fault") == is_one


def test_the_signs_of_quarters_are_written_in_one_place_only() -> None:
    """A reason, a page and a paper that wrote halves each in their own way would disagree."""
    package = Path(figures.__file__).parent
    makers = [path.name for path in package.rglob("*.py") if re.search(r"""["'][¼¾]["']""", path.read_text())]
    assert makers == ["figures.py"]
