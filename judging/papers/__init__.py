"""Papers: what bands take home and judges hold in the rain. Data in, bytes out; no database, no clock.

Every paper is a function of values; the same values give the same bytes.
"""

from judging.papers.bundle import NOT_MADE, bundle, bundled
from judging.papers.certificate import Certificate, certificate_pdf, certificate_setting, certificates
from judging.papers.day_papers import LinkSlip, Rest, Slot, draw_list_pdf, link_slips_pdf, steward_sheet_pdf
from judging.papers.ear_sheet import EarSheet, ear_sheet_data, ear_sheet_pdf
from judging.papers.fault_sheet import fault_sheet_data, fault_sheet_html, fault_sheet_pdf, fault_sheet_setting
from judging.papers.heading import Heading
from judging.papers.judges_paper import judges_paper_pdf, judges_papers_setting
from judging.papers.paper import Paper, Part
from judging.papers.results_sheet import ResultsSheet, results_sheet_data, results_sheet_html, results_sheet_pdf
from judging.papers.rules_paper import RulesPaper, rules_paper_data, rules_paper_pdf
from judging.papers.sheet_values import FaultSheet
from judging.papers.typesetting import Setting

__all__ = [
    "NOT_MADE",
    "Certificate",
    "EarSheet",
    "FaultSheet",
    "Heading",
    "LinkSlip",
    "Paper",
    "Part",
    "Rest",
    "ResultsSheet",
    "RulesPaper",
    "Setting",
    "Slot",
    "bundle",
    "bundled",
    "certificate_pdf",
    "certificate_setting",
    "certificates",
    "draw_list_pdf",
    "ear_sheet_data",
    "ear_sheet_pdf",
    "fault_sheet_data",
    "fault_sheet_html",
    "fault_sheet_pdf",
    "fault_sheet_setting",
    "judges_paper_pdf",
    "judges_papers_setting",
    "link_slips_pdf",
    "results_sheet_data",
    "results_sheet_html",
    "results_sheet_pdf",
    "rules_paper_data",
    "rules_paper_pdf",
    "steward_sheet_pdf",
]
