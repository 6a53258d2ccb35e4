"""How long each paper takes beside one blank page set in the same run: ``python tests/bench/bench_papers.py``.

The blank page costs what any page costs: the process, the faces, the tags. A paper of one band must be made within
`LIMIT_S`; what is expected to take longer on the web is set by a worker, and is said to be so.
"""

import runpy
import time
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import typst

from judging.contest import read_rules
from judging.marks.values import Placed, Result, Sheet, Tap
from judging.papers import (
    Certificate,
    Heading,
    LinkSlip,
    Slot,
    certificate_pdf,
    draw_list_pdf,
    ear_sheet_data,
    ear_sheet_pdf,
    fault_sheet_data,
    fault_sheet_html,
    fault_sheet_setting,
    judges_paper_pdf,
    judges_papers_setting,
    link_slips_pdf,
    results_sheet_data,
    results_sheet_pdf,
    rules_paper_data,
    rules_paper_pdf,
    steward_sheet_pdf,
)

#: Seconds of processor that a usual paper may take; less by the clock, since the engine works on several at once.
LIMIT_S = 0.5

#: One page of the papers' own size and face, tagged as they are.
_BLANK = b"""#set document(title: sys.inputs.day, date: none)
#set page(paper: "a4")
#set text(font: "Libertinus Serif", lang: "en")
~
"""

HEADING = Heading("Spring Striking Contest", "Vale District", "14 June 2025", "Six bells", fingerprint="5f0c9a7e21b4")


def best(make: Callable[[Heading], object]) -> tuple[float, float]:
    """Best of three by the clock and by the processor, in seconds; each another day, for the engine remembers."""
    found = []
    for day in range(3):
        heading = replace(HEADING, date=f"{day + 1} June 2025")
        began, worked = time.perf_counter(), time.process_time()
        make(heading)
        found.append((time.perf_counter() - began, time.process_time() - worked))
    return min(clock for clock, _ in found), min(processor for _, processor in found)


def blank(heading: Heading) -> object:
    """One page with nothing on it."""
    day = {"day": heading.date}
    return typst.compile(_BLANK, sys_inputs=day, ignore_system_fonts=True, pdf_standards="ua-1", timestamp=0)


def papers() -> dict[str, Callable[[Heading], object]]:
    """Every usual paper, and the heaviest, by what it is called in the table."""
    made_count: Any = runpy.run_path(str(Path(__file__).parents[1] / "papers" / "conftest.py"))["made_count"]
    rules = read_rules('rules = 1\ntitle = "Spring"\n[draw]\nseed = "s"\n', name="rules.toml")
    bands = [f"Band named {number}" for number in range(1, 13)]
    slots = [Slot(n, band, "14:15", "Six bells", "120 Plain Bob Doubles", "0f" * 32) for n, band in enumerate(bands, 1)]
    lines = [Placed(b, n, False, Decimal(n), {"j": Decimal(n)}, None, (), ("Why.",)) for n, b in enumerate(bands, 1)]
    result, names = Result("Six bells", "faults", True, tuple(lines)), {band: band for band in bands}
    taps = tuple(Tap(change, Decimal(1)) for change in range(1, 120, 3))
    six, eight = made_count(6, 120, 0).rung.piece, made_count(8, 224, 0).rung.piece

    def fault_sheet(bells: int, changes: int, faults: int) -> Callable[[Heading], object]:
        count = made_count(bells, changes, faults)
        return lambda heading: fault_sheet_setting(fault_sheet_data(count, heading=heading, band="Wick")).pdf()

    def ear(heading: Heading) -> bytes:
        sheets = [Sheet("j", "e", Decimal(20), taps, "Steady.")]
        return ear_sheet_pdf(ear_sheet_data(heading=heading, band="Wick", judges={"j": "Judge"}, sheets=sheets))

    count = made_count(6, 120, 24)
    return {
        "certificate": lambda heading: certificate_pdf([Certificate(heading, "Wick", "First", "120", "18½ faults")]),
        "certificates of 12 bands": lambda heading: certificate_pdf([Certificate(heading, b, "First") for b in bands]),
        "draw and timetable": lambda heading: draw_list_pdf(slots, heading=heading, seed="s"),
        "steward's sheet": lambda heading: steward_sheet_pdf(slots, heading=heading),
        "link slips of 12": lambda heading: link_slips_pdf(
            [LinkSlip("Judge", band, "http://10.0.0.1/e/" + "k" * 43) for band in bands], heading=heading
        ),
        "rules": lambda heading: rules_paper_pdf(rules_paper_data(rules, heading=heading)),
        "results of 12 bands": lambda heading: results_sheet_pdf(
            results_sheet_data(result, heading=heading, bands=names, judges={"j": "Judge"}, order=bands)
        ),
        "judge's paper, 120 on six": lambda heading: judges_paper_pdf(six, heading=heading),
        "judge's paper, 224 on eight": lambda heading: judges_paper_pdf(eight, heading=heading),
        "judged by ear": ear,
        "fault sheet, 120 on six, no fault": fault_sheet(6, 120, 0),
        "fault sheet, 120 on six, 24 faults": fault_sheet(6, 120, 24),
        "fault sheet, 120 on six, 300 faults": fault_sheet(6, 120, 300),
        "fault sheet, 224 on eight, 60 faults": fault_sheet(8, 224, 60),
        "fault sheet as a page": lambda heading: fault_sheet_html(
            fault_sheet_data(count, heading=heading, band="Wick")
        ),
        "(worker) judge's papers of 12, six bells": lambda heading: judges_papers_setting(
            dict.fromkeys(range(1, 13), "six"), {"six": six}, heading=heading
        ).pdf(),
        "(worker) fault sheet, 400 on 16, 300 faults": fault_sheet(16, 400, 300),
        "(worker) fault sheet, 5,040 on eight, 500 faults": fault_sheet(8, 5040, 500),
    }


def main() -> None:
    """Print the table; the exit code is 1 where a usual paper takes too long."""
    _, page_s = best(blank)
    print(f"{'':<52} {'clock':>8} {'processor':>11}")
    print(f"{'a blank page':<52} {'':>11} {1000 * page_s:8.0f} ms")
    slow = []
    for name, make in papers().items():
        clock_s, taken_s = best(make)
        print(f"{name:<52} {1000 * clock_s:8.0f} ms {1000 * taken_s:8.0f} ms {taken_s / page_s:8.1f} blank pages")
        if taken_s > LIMIT_S and not name.startswith("(worker)"):
            slow.append(name)
    raise SystemExit(f"more than {LIMIT_S} s: {', '.join(slow)}" if slow else 0)


if __name__ == "__main__":
    main()
