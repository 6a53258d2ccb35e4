"""Tolerance bands fitted on a page to contests that judges and machine have counted before."""

import re
import tomllib
import zipfile
from html import unescape
from io import BytesIO

import pytest

from judging.contest import read_rules
from judging.sounding import Character, human_log
from judging.striking import CountingRules, ToleranceBands, count_striking, write_log

from .conftest import ADDRESS, ROWS, RULES, SLUG, Service, rows_piece

HERE = f"{ADDRESS}/calibration"

#: The judges of last year draw every line at 1.4 times the width of the shipped ones.
THEIRS = ToleranceBands(blemish_gaps=0.21, half_gaps=0.35, whole_gaps=0.56, blemish_ms=42, half_ms=63, whole_ms=98)


def archive(*spreads_ms: float) -> bytes:
    """Pack a contest of bands with these spreads, as one judge counted them."""
    entries, sheet, packed = "", "entry,total,comment\n", BytesIO()
    with zipfile.ZipFile(packed, "w") as files:
        for index, spread_ms in enumerate(spreads_ms):
            character = Character(spread_ms=spread_ms)
            log = human_log(rows_piece(), character, seed=index, peal_minutes=170.0, handstroke_gap=1.0).log
            files.writestr(f"logs/band-{index}.csv", write_log(log))
            entries += f'[[entry]]\nid = "band-{index}"\nband = "Band {index}"\n'
            sheet += f"band-{index},{count_striking(log, rows_piece(), CountingRules(bands=THEIRS)).total},\n"
        files.writestr("rules.toml", RULES)
        files.writestr("entries.toml", entries)
        files.writestr("pieces/bob.txt", ROWS)
        files.writestr("sheets/ann.csv", sheet)
    return packed.getvalue()


def sent(service: Service, *archives: bytes, **typed: str) -> tuple[int, str]:
    files = [("archives", (f"year-{index}.zip", data, "application/zip")) for index, data in enumerate(archives)]
    answer = service.visitor("organiser").post(HERE, files=files or None, data=typed)
    return answer.status_code, unescape(answer.text)


def test_an_organiser_finds_the_page_from_the_desk_with_the_contests_judged_here(finished: Service) -> None:
    organiser = finished.visitor("organiser")
    assert f'href="{HERE}"' in organiser.get(f"{ADDRESS}/desk").text
    shown = organiser.get(HERE).text
    assert f'value="{SLUG}"' in shown
    assert "(3 bands counted by both)" in shown


def test_the_lines_of_last_years_judges_are_shown_for_the_rules(finished: Service) -> None:
    status, shown = sent(finished, archive(25, 32, 39, 46, 53, 60, 67, 74))
    assert status == 200
    assert "From 8 pieces: lines 1." in shown
    apart = re.search(r"totals were ([\d.]+) faults apart on average and are now ([\d.]+)", shown)
    assert apart
    assert float(apart[2]) < float(apart[1])
    toml = re.search(r"<pre><code>(.*?)</code></pre>", shown, re.DOTALL)
    assert toml
    lines = tomllib.loads(toml[1])
    assert lines["tolerance"]["half_gaps"] == pytest.approx(0.35, abs=0.026)  # within two steps of the scale
    assert 0 < lines["machine"]["lines_unsure_percent"] < 25
    assert (
        float(read_rules(RULES + toml[1], name="rules.toml").counting.bands.half_gaps)
        == lines["tolerance"]["half_gaps"]
    )


def test_contests_of_the_service_and_archives_are_taken_together(finished: Service) -> None:
    status, shown = sent(finished, archive(25, 40, 60), before=SLUG)
    assert status == 200, shown
    assert "From 6 pieces: " in shown
    assert ">year-0, band-1<" in shown
    assert ">Dell Deanery six-bell contest, saltmarsh<" in shown


@pytest.mark.parametrize(
    ("archives", "typed", "why"),
    [
        ((), {}, "No contest is chosen"),
        ((), {"before": SLUG}, "3 pieces were counted by both, at least 6 are needed"),
        ((), {"before": "no-such-contest"}, '"no-such-contest" is no final contest'),
        ((b"no archive",), {}, "year-0.zip: "),
    ],
)
def test_too_little_or_what_cannot_be_read_is_refused_and_what_was_ticked_is_kept(
    finished: Service, archives: tuple[bytes, ...], typed: dict[str, str], why: str
) -> None:
    status, shown = sent(finished, *archives, **typed)
    assert status == 422
    assert why in shown
    assert (f'value="{SLUG}" checked' in shown) == (typed.get("before") == SLUG)
    assert "archive.zip" not in shown


def test_before_the_rules_are_published_the_page_says_where_the_lines_go(service: Service) -> None:
    service.set_phase("draft")
    status, shown = sent(service, archive(25, 32, 39, 46, 53, 60))
    assert status == 200
    assert "Put them into the rules before you publish them" in shown
    assert service.visitor("judge", "ann").get(HERE).status_code in {403, 404}
