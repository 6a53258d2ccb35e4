"""A certificate says who came where, has room for any name, and can be checked."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
import segno
from numpy.typing import NDArray

from judging.errors import InputError
from judging.marks.values import Placed, Result
from judging.papers import Certificate, Heading, certificate_pdf, certificates
from judging.papers.certificate import qr_svg

LONGEST = "St Michael and All Angels, Great Wetherby-under-the-Wold and Lit"


def line(entry: str, place: int | None, *, tied: bool = False) -> Placed:
    return Placed(entry, place, tied, Decimal("42.5"), {}, None, (), ())


@pytest.fixture
def certificate(heading: Heading) -> Certificate:
    return Certificate(heading, "Upper Wick", "Second", "120 Plain Bob Doubles", "42½ faults")


def test_every_placed_band_has_one_page_and_an_unplaced_band_has_none(
    heading: Heading, look: Callable[[bytes], list[NDArray[np.uint8]]]
) -> None:
    places = (line("a", 1), line("b", 2, tied=True), line("c", 2, tied=True), line("d", None))
    result = Result("", "faults", lower_is_better=True, places=places)
    bands = {"a": "Ash", "b": "Beech", "c": "Cedar", "d": "Scratch"}
    made = certificates(result, heading=heading, bands=bands, pieces={})
    assert [(one.place, one.band, one.mark) for one in made] == [
        ("First", "Ash", "42½ faults"),
        ("Joint second", "Beech", "42½ faults"),
        ("Joint second", "Cedar", "42½ faults"),
    ]
    assert len(look(certificate_pdf(made))) == 3


def test_everything_that_is_certified_is_printed(certificate: Certificate, read: Callable[[bytes], str]) -> None:
    words = read(certificate_pdf([certificate]))
    for part in ("Spring Striking Contest", "14 June 2025", "Upper Wick", "120 Plain Bob Doubles", "42½ faults"):
        assert part in words
    assert certificate.code in words
    assert "5f0c 9a7e 21b4" in words


def test_the_code_changes_with_anything_the_certificate_says(certificate: Certificate) -> None:
    others = [
        replace(certificate, band="Lower Wick"),
        replace(certificate, place="First"),
        replace(certificate, mark="42 faults"),
        replace(certificate, piece="120 Grandsire Doubles"),
        replace(certificate, heading=replace(certificate.heading, revision=2)),
        replace(certificate, heading=replace(certificate.heading, section="Eight bells")),
    ]
    assert len({one.code for one in (certificate, *others)}) == len(others) + 1


def test_a_blank_certificate_has_lines_to_write_on_and_no_code(heading: Heading, read: Callable[[bytes], str]) -> None:
    blank = Certificate(heading, band="", place="")
    assert blank.code == ""
    words = read(certificate_pdf([blank]))
    assert "This is to certify that" in words
    assert "code" not in words


@pytest.mark.parametrize("size", ["a4", "a5"])
@pytest.mark.parametrize("band", [LONGEST, "W" * 60, "Ω" * 60, "שלום " * 12])
def test_the_longest_names_stay_inside_the_border(
    band: str, size: str, certificate: Certificate, look: Callable[[bytes], list[NDArray[np.uint8]]]
) -> None:
    """Between border and text a strip stays white: 19 to 22 mm from the edges of an A4."""
    made = replace(certificate, band=band, heading=replace(certificate.heading, contest=band, district=band))
    (page,) = look(certificate_pdf([made], size=size))  # type: ignore[arg-type]  # parametrised
    mm = page.shape[1] / 297
    left, right, top, bottom = (round(edge * mm) for edge in (19, 22, 20, 190))
    assert page[top:bottom, left:right].min() == 255
    assert page[top:bottom, -right:-left].min() == 255


@pytest.mark.parametrize(("size", "points"), [("a4", (595, 842)), ("a5", (420, 595))])
def test_a_certificate_is_landscape_on_the_paper_asked_for(
    size: str, points: tuple[int, int], certificate: Certificate, look: Callable[[bytes], list[NDArray[np.uint8]]]
) -> None:
    (page,) = look(certificate_pdf([certificate], size=size))  # type: ignore[arg-type]  # parametrised
    assert page.shape == pytest.approx(points, abs=1)


def test_six_may_sign_and_a_seventh_is_refused(certificate: Certificate, read: Callable[[bytes], str]) -> None:
    names = tuple(f"Signatory {n}" for n in range(1, 8))
    words = read(certificate_pdf([replace(certificate, signatures=names[:6])]))
    assert all(name in words for name in names[:6])
    with pytest.raises(InputError, match="there are 7"):
        certificate_pdf([replace(certificate, signatures=names)])


def test_no_certificates_at_all_are_refused() -> None:
    with pytest.raises(InputError, match="none to print"):
        certificate_pdf([])


def test_the_square_printed_is_the_qr_code_of_the_address(
    certificate: Certificate, look: Callable[[bytes], list[NDArray[np.uint8]]]
) -> None:
    """The page's dark modules, sampled at their middles, are those of the code, which ISO/IEC 18004 defines."""
    (page,) = look(certificate_pdf([replace(certificate, checked_at="https://contest.example/verify")]))
    address = f"https://contest.example/verify?code={certificate.code}"
    matrix = np.array([list(row) for row in segno.make(address, error="m", micro=False).matrix])
    mm = page.shape[1] / 297
    corner = page[round(170 * mm) : round(190 * mm), round(250 * mm) : round(276 * mm)] < 128
    rows, columns = np.flatnonzero(corner.any(axis=1)), np.flatnonzero(corner.any(axis=0))
    dark = corner[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    middle = (np.arange(len(matrix)) + 0.5) / len(matrix)
    sampled = dark[np.ix_((middle * dark.shape[0]).astype(int), (middle * dark.shape[1]).astype(int))]
    assert (sampled == matrix.astype(bool)).mean() > 0.95  # at 72 points an inch a module is 1.5 points wide


def test_the_address_is_what_a_phone_reads_where_there_is_one(certificate: Certificate) -> None:
    assert qr_svg("https://contest.example/a") != qr_svg("https://contest.example/b")
    assert certificate_pdf([certificate]) != certificate_pdf(
        [replace(certificate, checked_at="https://contest.example")]
    )
