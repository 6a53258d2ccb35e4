"""A judged day → its papers: the one place where values of the contest become what a paper says.

Names are given by the caller, since who reads decides whether a band is a name or a number.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import time
from functools import partial
from typing import Literal, cast

from judging.contest import ContestDay, Entry, Outcome, piece_of
from judging.errors import InputError
from judging.marks.values import Placed, Result, Sheet
from judging.papers.before_the_day import DRAFT, PapersBefore
from judging.papers.certificate import MOST_SIGNATURES, Certificate, certificate_setting, certificates
from judging.papers.ear_sheet import EarSheet, ear_sheet_data, ear_sheet_pdf
from judging.papers.fault_sheet import fault_sheet_data, fault_sheet_html, fault_sheet_setting
from judging.papers.heading import Heading
from judging.papers.paper import Paper, Part, may_be_long
from judging.papers.results_sheet import ResultsSheet, results_sheet_data, results_sheet_html, results_sheet_pdf
from judging.papers.sheet_values import FaultSheet
from judging.papers.words import POLICIES


@dataclass(frozen=True, slots=True)
class DayPapers:
    """The papers of one judged day, for one kind of reader.

    Parameters
    ----------
    day : ContestDay
        What the contest holds.
    outcome : Outcome
        What was made of it.
    bands : mapping of str to str
        Names as the reader may see them, by entry.
    state : str
        `DRAFT` before the rules are published, ``"provisional"`` after; empty when final.
    audit_head : str
        Head of the audit chain; empty where there is none.
    first : time or None
        When the first band began, where that is not as the rules declare it.
    checked_at : str
        Address of the page that confirms a certificate's code; empty where there is none that will last.
    notes : mapping of str to sequence of str
        What the ear said of each recording, by entry; stands before the count's own notes.
    """

    day: ContestDay
    outcome: Outcome
    bands: Mapping[str, str]
    state: str = ""
    audit_head: str = ""
    first: time | None = None
    checked_at: str = ""
    notes: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def heading(self, result: Result | None = None) -> Heading:
        """Head and foot of every paper of the day, or of one section of it."""
        before = PapersBefore(self.day, self.bands, audit_head=self.audit_head)
        heading = before.heading(result.section if result else "")
        return replace(heading, state=self.state, revision=result.revision if result else 1)

    def result_of(self, entry: str) -> tuple[Result, Placed] | None:
        """First result that holds an entry, with its line; None where it is in none."""
        for result in self.outcome.results:
            for placed in result.places:
                if placed.entry == entry:
                    return result, placed
        return None

    def fault_sheet(self, entry: str) -> FaultSheet:
        """Fault sheet of one band.

        Raises
        ------
        InputError
            Where the band has no machine count.
        """
        if entry not in self.outcome.counts:
            why = self.outcome.uncounted.get(entry, "there is no such entry")
            raise InputError(f"fault sheet of {self.bands.get(entry, entry)}", f"there is no machine count: {why}")
        result, placed = self.result_of(entry) or (None, None)
        sheet = fault_sheet_data(
            self.outcome.counts[entry],
            heading=self.heading(result),
            band=self.bands[entry],
            number=self._number(entry),
            placed=placed,
            unit=result.unit if result else "faults",
            combining=POLICIES[self.day.rules.marks.combining.policy],
            judges=self._judges(),
            comments=self._comments(entry),
        )
        return replace(sheet, notes=(*self.notes.get(entry, ()), *sheet.notes))

    def results_sheet(self, result: Result) -> ResultsSheet:
        """Results sheet of one section."""
        return results_sheet_data(
            result,
            heading=self.heading(result),
            bands=self.bands,
            judges=self._judges(result),
            order=self.day.order,
            pieces=self._pieces(),
            comments={entry.id: self._comments(entry.id) for entry in self.day.entries},
            combining=POLICIES[self.day.rules.marks.combining.policy],
        )

    def certificates(self, result: Result) -> tuple[Certificate, ...]:
        """Certificates of a section's placed bands, best first, signed by its judges or one for all of them."""
        judges = tuple(self._judges(result).values())
        return certificates(
            result,
            heading=self.heading(result),
            bands=self.bands,
            pieces=self._pieces(),
            signatures=(*(judges if len(judges) < MOST_SIGNATURES else ("For the judges",)), "For the district"),
            checked_at=self.checked_at,
        )

    def ear_sheet(self, entry: str) -> EarSheet:
        """Sheet of a band that the machine did not count, with nothing of the machine on it.

        Raises
        ------
        InputError
            Where there is no such entry, or no sheet and no result that could be printed for it.
        """
        result, placed = self.result_of(entry) or (None, None)
        sheets = self._sheets(entry)
        if placed is None and not sheets:
            raise InputError(f"sheet of {self.bands.get(entry, entry)}", "no judge has given one")
        return ear_sheet_data(
            heading=self.heading(result),
            band=self.bands[entry],
            number=self._number(entry),
            piece=self._pieces()[entry],
            why=self.outcome.uncounted.get(entry, ""),
            placed=replace(placed, machine=None) if placed else None,
            unit=result.unit if result else "faults",
            sheet_unit=self.day.rules.marks.sheets.unit,
            rules=self.day.rules.marks.sheets,
            combining=POLICIES[self.day.rules.marks.combining.policy],
            judges=self._judges(),
            sheets=sheets,
        )

    def papers(self) -> tuple[Paper, ...]:
        """Every paper of the day, those that were printed beforehand among them.

        Returns
        -------
        tuple of Paper
            Results and fault sheets as PDF and as a page, everything else as PDF.
        """
        state = self.state if self.state == DRAFT else ""  # published rules and a draw are as firm as they will be
        before = PapersBefore(self.day, self.bands, first=self.first, audit_head=self.audit_head, state=state)
        papers = list(before.papers())
        several = len(self.outcome.results) > 1
        for number, result in enumerate(self.outcome.results, 1):
            of, suffix = f", {result.section}" if result.section else "", f"-{number}" if several else ""
            sheet, placed = self.results_sheet(result), self.certificates(result)
            papers += [
                Paper(Part.RESULTS, f"results{suffix}.pdf", f"Results sheet{of}", partial(results_sheet_pdf, sheet)),
                Paper(Part.RESULTS, f"results{suffix}.html", f"Results as a page{of}", partial(_results_page, sheet)),
            ]
            if placed:
                for size, ending in (("a4", ""), ("a5", "-a5")):
                    papers.append(
                        may_be_long(
                            Part.CERTIFICATES,
                            f"certificates{suffix}{ending}.pdf",
                            f"Certificates, {size.upper()}{of}",
                            partial(certificate_setting, placed, size=cast(Literal["a4", "a5"], size)),
                        )
                    )
        for entry in self.day.entries:
            papers += self._papers_of(entry)
        return tuple(papers)

    def makers(self) -> dict[str, Callable[[], bytes]]:
        """What makes each paper, by the name of its file."""
        return {paper.file: paper.make for paper in self.papers()}

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Every paper of the day as a file, made when it is asked for.

        Yields
        ------
        (str, bytes)
            Name and content, as `makers` has them.
        """
        return ((name, make()) for name, make in self.makers().items())

    def _papers_of(self, entry: Entry) -> tuple[Paper, ...]:
        """What one band takes home: a fault sheet, or the judges' words and figures alone."""
        band, file = self.bands[entry.id], f"fault-sheet-{entry.id}"
        if entry.id in self.outcome.counts:
            return (
                may_be_long(
                    Part.SHEETS,
                    f"{file}.pdf",
                    f"{band}: fault sheet",
                    lambda: fault_sheet_setting(self.fault_sheet(entry.id)),  # its drawings are made only now
                ),
                Paper(
                    Part.SHEETS,
                    f"{file}.html",
                    f"{band}: fault sheet as a page",
                    lambda: fault_sheet_html(self.fault_sheet(entry.id)).encode(),
                ),
            )
        if self.result_of(entry.id) is None or not self._sheets(entry.id):
            return ()
        return (
            Paper(
                Part.SHEETS,
                f"judged-by-ear-{entry.id}.pdf",
                f"{band}: judges’ marks and words (no machine count)",
                lambda: ear_sheet_pdf(self.ear_sheet(entry.id)),
            ),
        )

    def _judges(self, result: Result | None = None) -> dict[str, str]:
        """Names of the judges, or of a section's panel, by identifier."""
        panel = self.day.rules.section(result.section).judges if result else ()
        return {judge.id: judge.name for judge in self.day.judges if not panel or judge.id in panel}

    def _pieces(self) -> dict[str, str]:
        return {entry.id: piece_of(entry, self.day).title for entry in self.day.entries}

    def _number(self, entry: str) -> int | None:
        """Place of an entry in the drawn order of ringing."""
        return self.day.order.index(entry) + 1 if entry in self.day.order else None

    def _sheets(self, entry: str) -> tuple[Sheet, ...]:
        """The last version of each judge's sheet for an entry, in the order of the judges."""
        latest: dict[str, Sheet] = {}
        for sheet in self.day.sheets:
            if sheet.entry == entry and sheet.revision >= latest.get(sheet.judge, sheet).revision:
                latest[sheet.judge] = sheet
        return tuple(latest[judge.id] for judge in self.day.judges if judge.id in latest)

    def _comments(self, entry: str) -> tuple[tuple[str, str], ...]:
        names = {judge.id: judge.name for judge in self.day.judges}
        return tuple((names[sheet.judge], sheet.comment) for sheet in self._sheets(entry) if sheet.comment)


def _results_page(sheet: ResultsSheet) -> bytes:
    return results_sheet_html(sheet).encode()
