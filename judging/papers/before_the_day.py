"""A contest that is still to be rung → what is printed for it: rules, draw, steward's and judges' papers, blanks."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import partial

from judging.contest import ContestDay, Entry, Section, piece_of
from judging.contest.order import ticket
from judging.figures import figure
from judging.papers.certificate import Certificate, certificate_pdf
from judging.papers.day_papers import Slot, draw_list_pdf, steward_sheet_pdf, timetable
from judging.papers.heading import Heading
from judging.papers.judges_paper import judges_paper_pdf
from judging.papers.paper import Paper, Part, file_names
from judging.papers.rules_paper import rules_paper_data, rules_paper_pdf
from judging.papers.words import day_in_words

#: Stands on every paper while the rules may still change.
DRAFT = "draft"


@dataclass(frozen=True, slots=True)
class PapersBefore:
    """The papers that need no result, for one kind of reader.

    Parameters
    ----------
    day : ContestDay
        What the contest holds; recordings and sheets are not looked at.
    bands : mapping of str to str
        Names as the reader may see them, by entry.
    first : datetime or None
        When the first band rings; None for a draw without a timetable.
    audit_head : str
        Head of the audit chain; empty where there is none.
    state : str
        `DRAFT` while the rules may still change; empty once they are published.
    """

    day: ContestDay
    bands: Mapping[str, str]
    first: datetime | None = None
    audit_head: str = ""
    state: str = ""

    def heading(self, section: str = "") -> Heading:
        """Head and foot of every paper."""
        rules = self.day.rules
        return Heading(
            contest=rules.title,
            district=rules.district,
            date=day_in_words(rules.date) if rules.date else "",
            section=section,
            state=self.state,
            fingerprint=rules.short_fingerprint,
            audit_head=self.audit_head,
        )

    def slots(self) -> tuple[Slot, ...]:
        """Turns in the drawn order; with times where a first time and every section's slot are declared."""
        rules = self.day.rules
        entries = {entry.id: entry for entry in self.day.entries}
        rung = [entries[name] for name in self.day.order]
        minutes = [self._section(entry).slot_minutes for entry in rung]
        known: list[Decimal] = [slot for slot in minutes if slot is not None]
        times = timetable(self.first, known) if self.first and len(known) == len(rung) else ("",) * len(rung)
        return tuple(
            Slot(
                number=number,
                band=self.bands[entry.id],
                starts=starts,
                section=entry.section,
                piece=piece_of(entry, self.day).title,
                ticket=ticket(entry.id, rules.draw_seed),
            )
            for number, (entry, starts) in enumerate(zip(rung, times, strict=True), 1)
        )

    def papers(self) -> tuple[Paper, ...]:
        """Every paper that is printed beforehand.

        Returns
        -------
        tuple of Paper
            Rules, draw, the judges' timetable, steward's sheet, a judge's paper a test piece, blank certificates; PDF.
        """
        rules, heading, slots = self.day.rules, self.heading(), self.slots()
        made = [_before("rules", "Rules", lambda: rules_paper_pdf(rules_paper_data(rules, heading=heading)))]
        if slots:
            timed = " and timetable" if slots[0].starts else ""
            numbers = [replace(slot, band="", ticket="") for slot in slots]  # a ticket gives its band away
            made += [
                _before(
                    "draw",
                    f"Draw{timed}, with names and how to run it again",
                    partial(draw_list_pdf, slots, heading=heading, seed=rules.draw_seed),
                ),
                _before(
                    "draw-by-number",
                    f"Draw{timed} by number only, for wherever a judge may pass",
                    partial(draw_list_pdf, numbers, heading=heading),
                ),
                _before(
                    "stewards-sheet",
                    "Steward’s sheet for the ringing room",
                    partial(steward_sheet_pdf, slots, heading=heading, minutes_allowed=self._allowed()),
                ),
            ]
        files = file_names("judges-paper", self.day.pieces)
        made += [
            _before(
                files[name],
                f"Judge’s blank paper: {piece.title}",
                partial(judges_paper_pdf, piece, heading=heading, rules=rules.counting),
            )
            for name, piece in self.day.pieces.items()
        ]
        blanks = [Certificate(self.heading(section.name), band="", place="") for section in rules.sections]
        return (
            *made,
            _before("certificates-blank", "Blank certificates, A4", partial(certificate_pdf, blanks)),
            _before("certificates-blank-a5", "Blank certificates, A5", partial(certificate_pdf, blanks, size="a5")),
        )

    def _section(self, entry: Entry) -> Section:
        sections = self.day.rules.sections
        return next((section for section in sections if section.name == entry.section), sections[0])

    def _allowed(self) -> str:
        """What each section allows, in words."""
        told = []
        for section in self.day.rules.sections:
            parts = []
            if section.practice_minutes is not None:
                parts.append(f"{figure(section.practice_minutes)} minutes of practice")
            if section.minutes_allowed is not None:
                parts.append(f"{figure(section.minutes_allowed)} minutes for the test piece")
            if parts:
                told.append(f"{section.name}: {', '.join(parts)}" if section.name else ", ".join(parts))
        return "; ".join(told)


def _before(name: str, title: str, make: Callable[[], bytes]) -> Paper:
    return Paper(Part.BEFORE, f"{name}.pdf", title, make)
