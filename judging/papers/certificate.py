"""The certificate: place, band and piece, worth framing; one page a band, all of them in one file."""

import hashlib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import segno

from judging.errors import InputError
from judging.figures import counted
from judging.marks.values import Result
from judging.papers.heading import Heading
from judging.papers.typesetting import Setting, setting
from judging.papers.words import place_in_words

#: Lines to sign on that fit side by side.
MOST_SIGNATURES = 6


@dataclass(frozen=True, slots=True)
class Certificate:
    """What stands on one certificate; an empty text leaves a line to write on, or is left out.

    Parameters
    ----------
    heading : Heading
        The contest, its section, district and day.
    band : str
        Empty for a certificate printed beforehand: a line is ruled for the name.
    place : str
        In words; empty likewise.
    piece : str
        What was rung.
    mark : str
        As declared, with its unit.
    signatures : tuple of str
        Who signs, one line each: a name or an office.
    checked_at : str
        Address of the page that confirms a code, printed and opened by the QR code; empty where there is none that
        will last.
    """

    heading: Heading
    band: str
    place: str
    piece: str = ""
    mark: str = ""
    signatures: tuple[str, ...] = ("Judge", "For the contest")
    checked_at: str = ""

    @property
    def code(self) -> str:
        """Verification code: eight letters and digits out of everything the certificate says.

        Returns
        -------
        str
            Such as ``"4F0A-91C2"``; empty on a blank certificate. It shows that a certificate has not been altered to
            whoever holds the same facts; it is no secret.
        """
        if not (self.band and self.place):
            return ""
        of = self.heading
        facts = (of.contest, of.district, of.date, of.section, str(of.revision), of.fingerprint)
        said = "\n".join((*facts, self.band, self.place, self.piece, self.mark))
        digest = hashlib.sha256(said.encode()).hexdigest().upper()
        return f"{digest[:4]}-{digest[4:8]}"


def certificates(
    result: Result,
    *,
    heading: Heading,
    bands: Mapping[str, str],
    pieces: Mapping[str, str],
    signatures: Sequence[str] = ("Judge", "For the contest"),
    checked_at: str = "",
) -> tuple[Certificate, ...]:
    """Certificates of every placed band of a section, in order of place.

    Parameters
    ----------
    result : Result
        The ranked result.
    heading : Heading
        The contest; the certificate's section is the heading's.
    bands, pieces : mapping of str to str
        Name and title of the piece as printed, by entry.
    signatures : sequence of str
        Who signs.
    checked_at : str
        As `Certificate` has it.

    Returns
    -------
    tuple of Certificate
    """
    return tuple(
        Certificate(
            heading=heading,
            band=bands[placed.entry],
            place=place_in_words(placed.place, tied=placed.tied),
            piece=pieces.get(placed.entry, ""),
            mark=counted(placed.mark, result.unit) if placed.mark is not None else "",
            signatures=tuple(signatures),
            checked_at=checked_at,
        )
        for placed in result.places
        if placed.place is not None
    )


def certificate_pdf(sheets: Sequence[Certificate], *, size: Literal["a4", "a5"] = "a4") -> bytes:
    """Certificates in one file, landscape, one a page.

    Parameters
    ----------
    sheets : sequence of Certificate
        At least one.
    size : {"a4", "a5"}
        Of the paper.

    Returns
    -------
    bytes
        PDF; the same certificates give the same bytes.

    Raises
    ------
    InputError
        Where there is no certificate, or more than six are to sign one.
    """
    return certificate_setting(sheets, size=size).pdf()


def certificate_setting(sheets: Sequence[Certificate], *, size: Literal["a4", "a5"] = "a4") -> Setting:
    """Certificates in one file ready to be set, which takes the longer the more there are; as `certificate_pdf`.

    Raises
    ------
    InputError
        As there.
    """
    if not sheets:
        raise InputError("certificates", "there are none to print; has no band been placed?")
    for sheet in sheets:
        if len(sheet.signatures) > MOST_SIGNATURES:
            raise InputError(
                "signatures",
                f"there are {len(sheet.signatures)}, but only {MOST_SIGNATURES} have room on a certificate",
            )
    pages = [_page(sheet) for sheet in sheets]
    name = "Certificate" if len(sheets) == 1 else "Certificates"
    return setting(
        "certificate",
        {"pages": pages, "size": size},
        name=f"{name}: {sheets[0].heading.contest}",
        expected_ms=60 + 25 * len(pages),
    )


def _page(sheet: Certificate) -> dict[str, object]:
    """Values of one page; the QR code opens the page that confirms the code, or says what is certified."""
    said = f"{sheet.heading.contest}\n{sheet.place}: {sheet.band}\n{sheet.code}"
    told = f"{sheet.checked_at}?code={sheet.code}" if sheet.checked_at else said
    return {
        "sheet": sheet,
        "code": sheet.code,
        "checked_at": sheet.checked_at.split("://")[-1],
        "square": qr_svg(told) if sheet.code else "",
    }


def qr_svg(words: str) -> str:
    """QR code as SVG text, at a level of correction that survives a fold (M)."""
    written = io.BytesIO()
    segno.make(words, error="m", micro=False).save(written, kind="svg", border=0, omitsize=True, xmldecl=False)
    return written.getvalue().decode()
