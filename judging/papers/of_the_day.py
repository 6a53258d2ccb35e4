"""A judged day → its papers: the one place where values of the contest become what a paper says.

Names are given by the caller, since who reads decides whether a band is a name or a number.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from judging.contest import ContestDay, Outcome, piece_of
from judging.errors import InputError
from judging.marks.values import Placed, Result, Sheet
from judging.papers.certificate import Certificate, certificate_pdf, certificates
from judging.papers.fault_sheet import FaultSheet, fault_sheet_data, fault_sheet_html, fault_sheet_pdf
from judging.papers.heading import Heading
from judging.papers.results_sheet import ResultsSheet, results_sheet_data, results_sheet_html, results_sheet_pdf
from judging.papers.words import POLICIES, day_in_words


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
        Such as ``"provisional"``; empty when final.
    audit_head : str
        Head of the audit chain; empty where there is none.
    """

    day: ContestDay
    outcome: Outcome
    bands: Mapping[str, str]
    state: str = ""
    audit_head: str = ""

    def heading(self, result: Result | None = None) -> Heading:
        """Head and foot of every paper of the day, or of one section of it."""
        rules = self.day.rules
        return Heading(
            contest=rules.title,
            district=rules.district,
            date=day_in_words(rules.date) if rules.date else "",
            section=result.section if result else "",
            state=self.state,
            revision=result.revision if result else 1,
            fingerprint=rules.short_fingerprint,
            audit_head=self.audit_head,
        )

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
        return fault_sheet_data(
            self.outcome.counts[entry],
            heading=self.heading(result),
            band=self.bands[entry],
            number=self.day.order.index(entry) + 1 if entry in self.day.order else None,
            placed=placed,
            unit=result.unit if result else "faults",
            combining=POLICIES[self.day.rules.marks.combining.policy],
            judges=self._judges(),
            comments=self._comments(entry),
        )

    def results_sheet(self, result: Result) -> ResultsSheet:
        """Results sheet of one section."""
        return results_sheet_data(
            result,
            heading=self.heading(result),
            bands=self.bands,
            judges=self._judges(),
            order=self.day.order,
            pieces=self._pieces(),
            comments={entry.id: self._comments(entry.id) for entry in self.day.entries},
            combining=POLICIES[self.day.rules.marks.combining.policy],
        )

    def certificates(self, result: Result) -> tuple[Certificate, ...]:
        """Certificates of a section's placed bands, best first."""
        return certificates(
            result,
            heading=self.heading(result),
            bands=self.bands,
            pieces=self._pieces(),
            signatures=(*self._judges().values(), "For the district"),
        )

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Every paper of the day as a file.

        Yields
        ------
        (str, bytes)
            Name and content: PDF and HTML of results and fault sheets, PDF of certificates.
        """
        several = len(self.outcome.results) > 1
        for number, result in enumerate(self.outcome.results, 1):
            suffix = f"-{number}" if several else ""
            sheet = self.results_sheet(result)
            yield f"results{suffix}.pdf", results_sheet_pdf(sheet)
            yield f"results{suffix}.html", results_sheet_html(sheet).encode()
            if placed := self.certificates(result):
                yield f"certificates{suffix}.pdf", certificate_pdf(placed)
        for entry in self.outcome.counts:
            fault_sheet = self.fault_sheet(entry)
            yield f"fault-sheet-{entry}.pdf", fault_sheet_pdf(fault_sheet)
            yield f"fault-sheet-{entry}.html", fault_sheet_html(fault_sheet).encode()

    def _judges(self) -> dict[str, str]:
        return {judge.id: judge.name for judge in self.day.judges}

    def _pieces(self) -> dict[str, str]:
        return {entry.id: piece_of(entry, self.day).title for entry in self.day.entries}

    def _comments(self, entry: str) -> tuple[tuple[str, str], ...]:
        latest: dict[str, Sheet] = {}
        for sheet in self.day.sheets:
            if sheet.entry == entry and sheet.revision >= latest.get(sheet.judge, sheet).revision:
                latest[sheet.judge] = sheet
        return tuple(
            (judge.name, latest[judge.id].comment)
            for judge in self.day.judges
            if judge.id in latest and latest[judge.id].comment
        )
