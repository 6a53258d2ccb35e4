"""Where no step is declared, the usual one is fine enough for the policy."""

from decimal import Decimal

import pytest

from judging.contest import read_rules


@pytest.mark.parametrize(
    ("policy", "step"), [("ratio", "0.001"), ("standard score", "0.001"), ("sum", "0.01"), ("placings", "0.01")]
)
def test_the_usual_step_is_finer_where_marks_are_ratios_or_scores(policy: str, step: str) -> None:
    assert read_rules(
        f'rules = 1\ntitle = "A contest"\n[combining]\npolicy = "{policy}"\n', name="r"
    ).marks.rounding.step == Decimal(step)


def test_a_declared_step_stands_under_every_policy() -> None:
    text = 'rules = 1\ntitle = "A contest"\n[combining]\npolicy = "ratio"\n[rounding]\nstep = 0.1\n'
    assert read_rules(text, name="r").marks.rounding.step == Decimal("0.1")
