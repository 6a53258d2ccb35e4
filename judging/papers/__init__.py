"""Papers: what bands take home and judges hold in the rain. Data in, bytes out; no database, no clock.

Every paper is a function of values; the same values give the same bytes.
"""

from judging.papers.certificate import Certificate, certificate_pdf, certificates
from judging.papers.fault_sheet import FaultSheet, fault_sheet_data, fault_sheet_html, fault_sheet_pdf
from judging.papers.heading import Heading
from judging.papers.results_sheet import ResultsSheet, results_sheet_data, results_sheet_html, results_sheet_pdf

__all__ = [
    "Certificate",
    "FaultSheet",
    "Heading",
    "ResultsSheet",
    "certificate_pdf",
    "certificates",
    "fault_sheet_data",
    "fault_sheet_html",
    "fault_sheet_pdf",
    "results_sheet_data",
    "results_sheet_html",
    "results_sheet_pdf",
]
