"""Figures that surprise: slips of the pen are asked about, honest disagreement is left alone."""

from decimal import Decimal

import numpy as np

from judging.marks import Surprise, surprising


def surprises(table: object) -> tuple[Surprise, ...]:
    lines = np.asarray(table, dtype=float).tolist()
    entries = [f"e{number}" for number in range(len(lines[0]))]
    return surprising(
        {
            f"j{judge}": {
                entry: Decimal(str(figure)) for entry, figure in zip(entries, line, strict=True) if figure >= 0
            }
            for judge, line in enumerate(lines)
        },
        entries,
    )


def test_a_figure_ten_times_too_large_is_asked_about_and_only_that_one() -> None:
    table = [[18, 24, 30, 41, 27, 22], [25, 36, 410, 60, 40, 31], [20, 27, 31, 45, 30, 25]]

    (found,) = surprises(table)

    assert (found.judge, found.entry, found.figure) == ("j1", "e2", 410)
    assert 35 < found.foretold < 55
    assert "e2" not in found.sentence


def test_judges_who_differ_as_in_the_worked_example_are_left_alone() -> None:
    assert surprises([[18, 24, 30], [62, 50, 45]]) == ()


def test_honest_counts_are_seldom_asked_about() -> None:
    generator = np.random.default_rng(8)
    asked = 0
    for _ in range(100):
        asked += len(surprises(generator.poisson(np.outer([0.8, 1.0, 1.3], generator.uniform(15, 90, 8)))))

    assert asked <= 5  # of 2,400 figures


def test_a_missing_sheet_is_no_surprise_and_hides_none() -> None:
    (found,) = surprises([[18, 24, 300, 41, 27], [25, -1, 38, 60, 40], [20, 27, 31, 45, 30]])

    assert (found.judge, found.entry) == ("j0", "e2")


def test_nothing_is_foretold_from_one_judge_or_two_bands() -> None:
    assert surprises([[18, 240, 30]]) == ()
    assert surprises([[18, 24], [250, 30]]) == ()
