"""The drawings are true to the count, legible without colour, told in words, and the same bytes every time."""

from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from judging.papers.drawings import habits_svg, habits_told, map_blocks, pace_svg, peal_minutes, rows_map
from judging.papers.drawings.svg import EARLY_INK, LATE_INK, text, wedge
from judging.striking.values import Count

SVG = "{http://www.w3.org/2000/svg}"


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  our own drawing, made a moment ago


def brightness(ink: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    parts = [int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize("ink", [EARLY_INK, LATE_INK])
def test_inks_stand_out_from_white_paper_as_small_text_must(ink: str) -> None:
    assert 1.05 / (brightness(ink) + 0.05) >= 4.5  # WCAG 2.2, 1.4.3


@pytest.mark.parametrize("early", [True, False])
def test_a_wedge_points_left_for_early_and_right_for_late_whatever_its_ink(early: bool) -> None:  # noqa: FBT001  a case, not an option
    points = parsed(wedge(50, 50, 5, early=early)).attrib["points"].split()
    tips = [float(point.split(",")[0]) for point in points]
    (alone,) = [x for x in tips if tips.count(x) == 1]
    assert (alone < 50) == early


def test_words_in_a_drawing_are_escaped() -> None:
    assert parsed(text(0, 0, "<b>&")).text == "<b>&"


@pytest.mark.parametrize("draw", [pace_svg, habits_svg])
@pytest.mark.parametrize("size", [(6, 120, 24), (16, 400, 300), (3, 1, 0)])
def test_a_drawing_is_well_formed_and_told_in_words(
    draw: Callable[[Count], str], size: tuple[int, int, int], make_count: Callable[..., Count]
) -> None:
    root = parsed(draw(make_count(*size)))
    assert root.attrib["role"] == "img"
    told = [root.find(f"{SVG}{name}") for name in ("title", "desc")]
    assert root.attrib["aria-labelledby"].split() == [one.attrib["id"] for one in told if one is not None]
    assert all(one is not None and one.text for one in told)


@pytest.mark.parametrize("draw", [pace_svg, habits_svg])
def test_the_same_count_is_drawn_with_the_same_bytes(
    draw: Callable[[Count], str], make_count: Callable[..., Count]
) -> None:
    assert draw(make_count()) == draw(make_count())


@pytest.mark.parametrize("draw", [pace_svg, habits_svg])
def test_nothing_is_drawn_outside_the_drawing(draw: Callable[[Count], str], make_count: Callable[..., Count]) -> None:
    count = make_count(12, 100, 300)
    root = parsed(draw(replace(count, deviations=replace(count.deviations, ms=count.deviations.ms * 40))))
    width, height = (float(part) for part in root.attrib["viewBox"].split()[2:])
    for shape in root.iter():
        for key, limit in (("x", width), ("x1", width), ("x2", width), ("cx", width), ("y", height), ("cy", height)):
            assert 0 <= float(shape.attrib.get(key, 0)) <= limit, ET.tostring(shape)


def test_a_peal_of_5000_rows_is_drawn_as_small_as_a_touch(make_count: Callable[..., Count]) -> None:
    assert len(pace_svg(make_count(8, 5000, 0))) < 120_000


def test_pace_follows_the_arithmetic_of_the_whole_pull(make_count: Callable[..., Count]) -> None:
    """A whole pull lasts (2n + h) gaps: on six bells with a full open lead, 293 ms make 2h40 (computed, 13 × 0.293)."""
    count = make_count()
    gap_s = np.full_like(count.rhythm.gap_s, 2 * 160 * 60 / 5040 / 13)
    steady = replace(count, rhythm=replace(count.rhythm, gap_s=gap_s, handstroke_gap=1.0))
    assert round(float(gap_s[0]) * 1000) == 293
    assert peal_minutes(steady) == pytest.approx(160)
    assert "Peal speed 2h40 on average" in pace_svg(steady)


def test_an_assumed_handstroke_gap_is_said_to_be_assumed(make_count: Callable[..., Count]) -> None:
    count = make_count()
    assert "cannot be seen" in pace_svg(replace(count, rhythm=replace(count.rhythm, handstroke_gap_is_seen=False)))


def test_habits_tell_each_bell_at_each_stroke_by_the_middle_of_its_blows(make_count: Callable[..., Count]) -> None:
    count = make_count(faults=0)
    ms = np.zeros_like(count.deviations.ms)
    late = (count.rung.bells == 5) & count.rung.piece.is_hand[:, np.newaxis]
    ms[late] = 38
    told = habits_told(replace(count, deviations=replace(count.deviations, ms=ms)))
    assert "5 at handstroke 38 ms late, within 0 ms" in told
    assert "5 at backstroke true" in told
    assert told.count("late") == 1


def test_a_bell_that_fell_silent_is_drawn_as_such(make_count: Callable[..., Count]) -> None:
    count = make_count()
    bells = np.where(count.rung.bells == 3, 0, count.rung.bells)
    drawn = habits_svg(replace(count, rung=replace(count.rung, bells=bells)))
    assert drawn.count("did not strike here") == 2


def test_the_map_has_every_blow_once_and_tells_every_fault_where_it_was(make_count: Callable[..., Count]) -> None:
    count = make_count(8, 224, 100)
    cells = [cell for row in rows_map(count).rows for cell in row.cells]
    assert [cell.bell for cell in cells] == count.rung.piece.rows.ravel().tolist()
    assert len({cell.id for cell in cells}) == len(cells)
    amiss = {(cell.row, cell.place): cell for cell in cells if cell.direction}
    assert set(amiss) == {(fault.row, fault.place) for fault in count.faults}
    for fault in count.faults:
        cell = amiss[fault.row, fault.place]
        assert cell.direction == ("late" if fault.own_ms > 0 else "early")
        assert (cell.level, cell.doubtful, fault.sentence in cell.title) == (fault.level, fault.doubtful, True)
        assert 0 < cell.size <= 1


def test_a_blow_further_out_has_a_deeper_shade(make_count: Callable[..., Count]) -> None:
    count = make_count(faults=100)
    gap_s = count.rhythm.gap_s
    sizes = {(cell.row, cell.place): cell.size for row in rows_map(count).rows for cell in row.cells if cell.direction}
    out = {(f.row, f.place): abs(f.own_ms) / gap_s[f.row] for f in count.faults}
    by_distance = [sizes[key] for key in sorted(out, key=out.__getitem__)]
    assert by_distance == sorted(by_distance)


def test_a_bell_out_of_course_is_shown_as_the_bell_that_struck(make_count: Callable[..., Count]) -> None:
    count = make_count()
    bells = count.rung.bells.copy()
    bells[30, [2, 3]] = bells[30, [3, 2]]
    row = rows_map(replace(count, rung=replace(count.rung, bells=bells))).rows[30]
    assert [cell.in_course for cell in row.cells] == [True, True, False, False, True, True]
    assert row.cells[2].bell == count.rung.piece.rows[30, 3]


@pytest.mark.parametrize("size", [(6, 120, 24), (16, 400, 0), (3, 1, 1)])
def test_the_map_is_cut_at_leads_with_no_row_lost(size: tuple[int, int, int], make_count: Callable[..., Count]) -> None:
    whole = rows_map(make_count(*size))
    blocks = map_blocks(whole)
    assert [row for block in blocks for row in block.rows] == list(whole.rows)
    assert blocks[0].title == "Opening rounds"
    assert all(block.rows[0].is_lead_head for block in blocks[2:])


def test_the_habits_on_a_phone_are_the_same_bars_in_half_the_width(make_count: Callable[..., Count]) -> None:
    count = make_count()
    wide, narrow = habits_svg(count), habits_svg(count, is_narrow=True)
    assert 'viewBox="0 0 360 ' in narrow
    for kind in ("true hand", "true back", "late hand", "early hand"):
        assert narrow.count(f'class="{kind}"') == wide.count(f'class="{kind}"')
    assert habits_told(count) in narrow
