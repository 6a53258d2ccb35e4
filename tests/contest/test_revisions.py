"""What changed between two published results."""

from copy import deepcopy
from typing import Any

from judging.contest import changes_between


def line(entry: str, place: int | None, mark: float, **more: Any) -> dict[str, Any]:  # noqa: ANN401  any key of a line
    return {
        "entry": entry,
        "place": place,
        "tied": False,
        "mark": mark,
        "by_judge": {"a": mark},
        "adjustments": [],
    } | more


FIRST = {"sections": [{"section": "", "places": [line("weir", 1, 10), line("lock", 2, 12), line("mill", None, 30)]}]}


def test_the_same_result_has_no_changes() -> None:
    assert changes_between(FIRST, deepcopy(FIRST)) == ()


def test_each_change_is_said_and_unchanged_bands_are_not_named() -> None:
    penalty = {"judge": "", "rule": "1 minute begun over time at 5", "before": 10, "after": 15}
    second = {
        "sections": [
            {
                "section": "",
                "places": [
                    line("lock", 1, 12),
                    line("weir", 2, 15, by_judge={"a": 10}, adjustments=[penalty]),
                    line("mill", None, 30),
                ],
            }
        ]
    }

    assert [(changed.entry, changed.what) for changed in changes_between(FIRST, second)] == [
        ("lock", ("first, was second",)),
        ("weir", ("second, was first", "mark 15, was 10", "now: 1 minute begun over time at 5")),
    ]
    assert ("weir", ("first, was second", "mark 10, was 15", "no longer: 1 minute begun over time at 5")) in [
        (changed.entry, changed.what) for changed in changes_between(second, FIRST)
    ]


def test_a_band_that_came_or_went_is_said() -> None:
    without = deepcopy(FIRST)
    del without["sections"][0]["places"][2]

    assert [(c.entry, c.what) for c in changes_between(FIRST, without)] == [("mill", ("is no longer in the result",))]
    assert [(c.entry, c.what) for c in changes_between(without, FIRST)] == [("mill", ("is in the result now",))]
