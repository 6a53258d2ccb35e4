"""A contest that is still to be rung → what is printed for it: rules, draw, steward's and judges' papers, blanks."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import time
from functools import partial

from judging.contest import ContestDay, Entry, Pause, Timetable, Turn, piece_name_of, piece_of, timetable
from judging.contest.order import ticket
from judging.figures import figure
from judging.papers.certificate import Certificate, certificate_pdf
from judging.papers.day_papers import Rest, Slot, draw_list_pdf, steward_sheet_pdf
from judging.papers.heading import Heading
from judging.papers.judges_paper import judges_paper_pdf, judges_papers_setting
from judging.papers.paper import Paper, Part, file_names, may_be_long
from judging.papers.rules_paper import rules_paper_data, rules_paper_pdf
from judging.papers.words import day_in_words, time_of_day

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
    first : time or None
        When the first band begins, where that is not as the rules declare it.
    audit_head : str
        Head of the audit chain; empty where there is none.
    state : str
        `DRAFT` while the rules may still change; empty once they are published.
    """

    day: ContestDay
    bands: Mapping[str, str]
    first: time | None = None
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

    def timetable(self) -> Timetable:
        """Timetable of the day, with times where they are declared or ``first`` is given."""
        return timetable(self.day.rules, self.day.entries, self.day.order, first=self.first)

    def lines(self) -> tuple[Slot | Rest, ...]:
        """Turns in the drawn order, and the breaks between them, as printed."""
        entries = {entry.id: entry for entry in self.day.entries}
        return tuple(
            Rest(time_of_day(line.begins), time_of_day(line.ends), line.what)
            if isinstance(line, Pause)
            else self._slot(line, entries[line.entry])
            for line in self.timetable().lines
        )

    def _slot(self, turn: Turn, entry: Entry) -> Slot:
        return Slot(
            number=turn.number,
            band=self.bands[entry.id],
            starts=time_of_day(turn.rings),
            section=turn.section,
            piece=piece_of(entry, self.day).title,
            ticket=ticket(entry.id, self.day.rules.draw_seed),
            practice=time_of_day(turn.practice),
            remark=turn.remark,
            is_off=turn.is_off,
        )

    def papers(self) -> tuple[Paper, ...]:
        """Every paper that is printed beforehand.

        Returns
        -------
        tuple of Paper
            Rules, draw, the judges' timetable, steward's sheet, a judge's paper a test piece, blank certificates; PDF.
        """
        rules, heading, lines = self.day.rules, self.heading(), self.lines()
        made = [_before("rules", "Rules", lambda: rules_paper_pdf(rules_paper_data(rules, heading=heading)))]
        if lines:
            ends = time_of_day(self.timetable().ends)
            timed = " and timetable" if ends else ""
            made += [
                _before(
                    "draw",
                    f"Draw{timed}, with names and how to run it again",
                    partial(draw_list_pdf, lines, heading=heading, seed=rules.draw_seed, ends=ends),
                ),
                _before(
                    "draw-by-number",
                    f"Draw{timed} by number only, for wherever a judge may pass",
                    partial(draw_list_pdf, tuple(map(_by_number, lines)), heading=heading, ends=ends),
                ),
                _before(
                    "stewards-sheet",
                    "Steward’s sheet for the ringing room",
                    partial(steward_sheet_pdf, lines, heading=heading, minutes_allowed=self._allowed()),
                ),
            ]
        files = file_names("judges-paper", self.day.pieces)
        made += [
            _before(
                files[name],
                f"Judge’s blank paper: {piece.title}",
                partial(judges_paper_pdf, piece, heading=heading, rules=rules.counting, sheets=rules.marks.sheets),
            )
            for name, piece in self.day.pieces.items()
        ]
        rung = {slot.number: slot.entry for slot in self.timetable().turns if not slot.is_off}
        if rung:
            entries = {entry.id: entry for entry in self.day.entries}
            pieces = {number: piece_name_of(entries[entry], self.day) for number, entry in rung.items()}
            made.append(
                may_be_long(
                    Part.BEFORE,
                    "judges-papers-by-number.pdf",
                    "Judge’s papers, one a band with its number on it",
                    partial(
                        judges_papers_setting,
                        pieces,
                        self.day.pieces,
                        heading=heading,
                        rules=rules.counting,
                        sheets=rules.marks.sheets,
                    ),
                )
            )
        blanks = [Certificate(self.heading(section.name), band="", place="") for section in rules.sections]
        return (
            *made,
            _before("certificates-blank", "Blank certificates, A4", partial(certificate_pdf, blanks)),
            _before("certificates-blank-a5", "Blank certificates, A5", partial(certificate_pdf, blanks, size="a5")),
        )

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


def _by_number(line: Slot | Rest) -> Slot | Rest:
    """Line with nothing that gives its band away: neither name nor ticket, nor that it is a scratch band."""
    return line if isinstance(line, Rest) else replace(line, band="", ticket="", remark=line.remark * line.is_off)


def _before(name: str, title: str, make: Callable[[], bytes]) -> Paper:
    return Paper(Part.BEFORE, f"{name}.pdf", title, make)
