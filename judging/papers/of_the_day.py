"""A judged day → its papers: the one place where values of the contest become what a paper says.

Names are given by the caller, since who reads decides whether a band is a name or a number.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

from judging.contest import ContestDay, Outcome, piece_of
from judging.errors import InputError
from judging.marks.values import Placed, Result, Sheet
from judging.papers.before_the_day import PapersBefore
from judging.papers.certificate import MOST_SIGNATURES, Certificate, certificate_pdf, certificates
from judging.papers.fault_sheet import fault_sheet_data, fault_sheet_html, fault_sheet_pdf
from judging.papers.heading import Heading
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
        )

    def makers(self) -> dict[str, Callable[[], bytes]]:
        """What makes each paper, by the name of its file.

        Returns
        -------
        dict of str to callable
            PDF and HTML of results and fault sheets, PDF of certificates and of what was printed before the day.
        """
        makers: dict[str, Callable[[], bytes]] = {}
        several = len(self.outcome.results) > 1
        for number, result in enumerate(self.outcome.results, 1):
            suffix = f"-{number}" if several else ""
            sheet = self.results_sheet(result)
            makers[f"results{suffix}.pdf"] = partial(results_sheet_pdf, sheet)
            makers[f"results{suffix}.html"] = partial(_results_page, sheet)
            if placed := self.certificates(result):
                makers[f"certificates{suffix}.pdf"] = partial(certificate_pdf, placed)
        for entry in self.outcome.counts:
            makers[f"fault-sheet-{entry}.pdf"] = partial(self._fault_sheet_file, fault_sheet_pdf, entry)
            makers[f"fault-sheet-{entry}.html"] = partial(self._fault_sheet_file, _fault_sheet_page, entry)
        return makers | PapersBefore(self.day, self.bands, audit_head=self.audit_head).makers()

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Every paper of the day as a file, made when it is asked for.

        Yields
        ------
        (str, bytes)
            Name and content, as `makers` has them.
        """
        return ((name, make()) for name, make in self.makers().items())

    def _fault_sheet_file(self, make: Callable[[FaultSheet], bytes], entry: str) -> bytes:
        """Fault sheet as a file; its drawings are made only now, band by band."""
        return make(self.fault_sheet(entry))

    def _judges(self, result: Result | None = None) -> dict[str, str]:
        """Names of the judges, or of a section's panel, by identifier."""
        panel = self.day.rules.section(result.section).judges if result else ()
        return {judge.id: judge.name for judge in self.day.judges if not panel or judge.id in panel}

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


def _results_page(sheet: ResultsSheet) -> bytes:
    return results_sheet_html(sheet).encode()


def _fault_sheet_page(sheet: FaultSheet) -> bytes:
    return fault_sheet_html(sheet).encode()
