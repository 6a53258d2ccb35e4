"""The drawings of a result say what the figures say, in shapes and in words, and the same bytes every time."""

from collections.abc import Mapping
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest

from judging.contest.every_line import EveryLine, Orders
from judging.marks import Placed, Safety, compare_judges
from judging.papers.drawings import judges_svg, lines_svg, safety_svg

SVG = "{http://www.w3.org/2000/svg}"
BANDS: Mapping[str, str] = {"a": "Alder & Co", "b": "Birch", "c": "A band with a name that no drawing has room for"}

SAFETY = Safety(
    resamples=1000,
    place_or_better={"a": 0.7, "b": 0.9, "c": 1.0},
    first={"a": 0.7, "b": 0.3, "c": 0.0},
    podium={"a": 1.0, "b": 1.0, "c": 1.0},
    at_place={"a": (0.7, 0.3, 0.0), "b": (0.3, 0.6, 0.1), "c": (0.0, 0.1, 0.9)},
    ahead_of_next=(0.7, 0.9),
    dispersion=1.0,
    degrees_of_freedom=4,
)
PLACED = [
    Placed(entry, place, tied=False, mark=Decimal(place), by_judge={}, machine=None, adjustments=(), reasons=())
    for place, entry in enumerate("abc", 1)
]
ORDERS = Orders(
    by_line={"a": (1, 1, 2), "b": (2, 2, 1), "c": (3, 3, 3)},
    by_scheme={"one": {"a": 1, "b": 2, "c": 3}},
    sentences={"a": "first from 0.2 to 0.24 gap, second beyond", "b": "second, then first", "c": "third"},
)
EVERY = EveryLine((0.2, 0.22, 0.24), 0.22, {}, ORDERS, None)


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  our own drawing, made a moment ago


def words(root: ET.Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


def test_bars_are_as_tall_as_the_shares_and_the_place_a_band_has_is_filled() -> None:
    root = parsed(safety_svg(SAFETY, PLACED, BANDS))
    bars = [bar.attrib for bar in root.iter(f"{SVG}rect")]

    assert [float(bar["height"]) / 20 for bar in bars] == pytest.approx([0.7, 0.3, 0.3, 0.6, 0.1, 0.1, 0.9])
    assert [float(bar["fill-opacity"]) > 0.5 for bar in bars] == [True, False, False, True, False, False, True]
    assert {"70", "30", "60", "10", "90"} <= set(words(root))
    told = root.find(f"{SVG}desc")
    assert told is not None
    assert told.text is not None
    assert told.text.startswith("Alder & Co: of 100 recounts first in 70, second in 30.")


def test_a_strip_changes_where_the_place_does_and_is_thickest_for_the_first() -> None:
    root = parsed(lines_svg(EVERY, ORDERS, ["a", "b", "c"], BANDS))
    strips = [strip.attrib for strip in root.iter(f"{SVG}rect")]

    assert [strip["class"] for strip in strips] == ["place-1", "place-2", "place-2", "place-1", "place-3"]
    thick = {strip["class"]: float(strip["height"]) for strip in strips}
    assert thick["place-1"] > thick["place-2"] > thick["place-3"]
    assert float(strips[0]["width"]) == pytest.approx(2 * float(strips[1]["width"]), rel=0.02)
    assert "as declared" in words(root)


def test_a_name_that_is_too_long_is_cut_in_the_drawing_and_whole_in_its_words() -> None:
    root = parsed(safety_svg(SAFETY, PLACED, BANDS))

    assert any(word.endswith("…") for word in words(root))
    told = root.find(f"{SVG}desc")
    assert told is not None
    assert BANDS["c"] in (told.text or "")


def test_a_judge_who_counts_more_stands_to_the_right_of_the_panel() -> None:
    table = {"j0": (20, 40, 60, 80), "j1": (30, 60, 90, 120)}
    figures = {judge: dict(zip("abcd", map(Decimal, line), strict=True)) for judge, line in table.items()}
    found = compare_judges(figures, "abcd")
    assert found is not None

    root = parsed(judges_svg(found, {"j0": "Mild", "j1": "Severe"}))

    upright = next(line for line in root.iter(f"{SVG}line") if line.attrib["x1"] == line.attrib["x2"])
    mild, severe = (float(point.attrib["cx"]) for point in root.iter(f"{SVG}circle"))
    assert mild < float(upright.attrib["x1"]) < severe
    assert {"Mild", "Severe", "−18 %", "+22 %"} <= set(words(root))


def test_judges_who_found_nothing_and_days_with_drift_are_drawn_without_a_crash() -> None:
    nothing = compare_judges({judge: dict.fromkeys("abc", Decimal(0)) for judge in ("j0", "j1")}, "abc")
    entries = [f"e{number}" for number in range(9)]
    long = compare_judges(
        {judge: {entry: Decimal(20 + index) for index, entry in enumerate(entries)} for judge in ("j0", "j1")}, entries
    )
    for found, parts in ((nothing, 1), (long, 2)):
        assert found is not None
        svg = judges_svg(found, {"j0": "One", "j1": "Two"})
        assert len(list(parsed(svg).iter(f"{SVG}circle"))) == 2 * parts
        assert "nan" not in svg
        assert "inf" not in svg


def test_the_same_result_is_drawn_with_the_same_bytes() -> None:
    assert safety_svg(SAFETY, PLACED, BANDS) == safety_svg(SAFETY, PLACED, BANDS)
    assert lines_svg(EVERY, ORDERS, ["a", "b", "c"], BANDS) == lines_svg(EVERY, ORDERS, ["a", "b", "c"], BANDS)
