"""A certificate's code → what it certifies: looked up in the results as they were published, word for word."""

import ipaddress
import json
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from fastapi import Request
from sqlmodel import Session, col, select

from judging.contest import read_rules
from judging.marks.values import Placed, Result
from judging.papers import Certificate, Heading, certificates
from judging.papers.words import day_in_words
from judging.piece import piece_from_file
from judging.store import StoredContest, StoredPublication, contests, entries_of, piece_of
from judging.web.access import Visitor, may_see

#: Endings of names that only one network knows.
_ONE_NETWORK = (".local", ".lan", ".home", ".internal", ".home.arpa", ".localhost")


@dataclass(frozen=True, slots=True)
class Certified:
    """What a code stands for.

    Parameters
    ----------
    certificate : Certificate
        As it was printed.
    contest : str
        Address of the contest's page.
    latest : int
        The newest revision of its result.
    """

    certificate: Certificate
    contest: str
    latest: int

    @property
    def stands(self) -> bool:
        """Whether the result it was made from has not been corrected since."""
        return self.certificate.heading.revision == self.latest


def certified(session: Session, visitor: Visitor, code: str) -> tuple[Certified, ...]:
    """Return every certificate of a published final result that has a code: one, none, or by rare chance two.

    Parameters
    ----------
    session : Session
        A reading session will do.
    visitor : Visitor
        Who asks; contests that they may not know of are not looked at.
    code : str
        As `plain_code` leaves it.
    """
    return tuple(
        Certified(certificate, f"/contests/{contest.slug}", latest)
        for contest in contests(session)
        if may_see(contest, visitor)
        for latest, certificate in _printed(session, contest)
        if certificate.code == code
    )


def plain_code(typed: str) -> str:
    """Return a code as it is printed, whatever of it was typed: with or without the hyphen, O for 0, I or L for 1.

    Examples
    --------
    >>> plain_code(" 4foa 91c2")
    '4F0A-91C2'
    """
    digits = typed.upper().translate(str.maketrans("OIL", "011"))
    digits = "".join(sign for sign in digits if sign in "0123456789ABCDEF")
    return f"{digits[:4]}-{digits[4:]}" if len(digits) > 4 else digits


def lasting_address(request: Request) -> str:
    """Return the address of the page that confirms codes, as a certificate on a wall may carry it for years.

    Empty where the service is only known on this computer or this network: then the code alone is printed.
    """
    host = (request.url.hostname or "").casefold()
    try:
        ipaddress.ip_address(host)
    except ValueError:
        if "." in host and not host.endswith(_ONE_NETWORK):
            return f"{request.base_url}verify"
    return ""


def _printed(session: Session, contest: StoredContest) -> Iterator[tuple[int, Certificate]]:
    """Yield every certificate of a contest's final results, with the newest revision of them."""
    published = session.exec(
        select(StoredPublication)
        .where(StoredPublication.contest_id == contest.id, StoredPublication.phase == "final")
        .order_by(col(StoredPublication.revision))
    ).all()
    if not published:
        return
    entries = entries_of(session, contest.id or 0)
    bands = {entry.key: entry.band for entry in entries}
    files = {entry.key: piece_of(session, entry) for entry in entries}
    titles = {file.id: piece_from_file(file.file_name, file.text).title for file in files.values()}
    pieces = {key: titles[file.id] for key, file in files.items()}
    for publication in published:
        rules = read_rules(publication.rules_text, name="rules.toml")
        for section in json.loads(publication.result_json)["sections"]:
            heading = Heading(
                contest=rules.title,
                district=rules.district,
                date=day_in_words(rules.date) if rules.date else "",
                section=section["section"],
                revision=publication.revision,
                fingerprint=rules.short_fingerprint,
            )
            for certificate in certificates(_result(section), heading=heading, bands=bands, pieces=pieces):
                yield published[-1].revision, certificate


def _result(section: dict[str, object]) -> Result:
    """Return as much of a section's result as a certificate says."""
    places = tuple(
        Placed(
            entry=line["entry"],
            place=line["place"],
            tied=line["tied"],
            mark=None if line["mark"] is None else Decimal(str(line["mark"])),
            by_judge={},
            machine=None,
            adjustments=(),
            reasons=(),
        )
        for line in section["places"]  # type: ignore[attr-defined]  # as `result_document` wrote it
    )
    return Result(str(section["section"]), str(section["unit"]), bool(section["lower_is_better"]), places)
