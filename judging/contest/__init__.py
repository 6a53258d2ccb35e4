"""THE CONTEST: rules, entries, draw, sheets, phases, who sees what, and the whole day judged. Pure."""

from judging.contest.comparing import PanelCompared, compare_panel
from judging.contest.day import judge_contest, piece_name_of, piece_of
from judging.contest.describing import describe
from judging.contest.document import cross_check_document, result_document
from judging.contest.documenting import reference
from judging.contest.entries import read_entries
from judging.contest.every_line import EveryLine, under_every_line
from judging.contest.order import draw, numbered, swap
from judging.contest.phases import LIFE, NEXT, Missing, Phase, Standing, advance, missing, rules_are_frozen
from judging.contest.presets import PRESETS
from judging.contest.rules import RuleSet, Section, read_judges, read_rules
from judging.contest.sheets import read_comments, read_sheets
from judging.contest.timetable import Pause, Timetable, Turn, remark_of, timetable
from judging.contest.values import ContestDay, Entry, Judge, Outcome
from judging.contest.viewing import Role, Viewer, display_name, sees_name
from judging.contest.worked_example import WorkedExample, worked_example

__all__ = [
    "LIFE",
    "NEXT",
    "PRESETS",
    "ContestDay",
    "Entry",
    "EveryLine",
    "Judge",
    "Missing",
    "Outcome",
    "PanelCompared",
    "Pause",
    "Phase",
    "Role",
    "RuleSet",
    "Section",
    "Standing",
    "Timetable",
    "Turn",
    "Viewer",
    "WorkedExample",
    "advance",
    "compare_panel",
    "cross_check_document",
    "describe",
    "display_name",
    "draw",
    "judge_contest",
    "missing",
    "numbered",
    "piece_name_of",
    "piece_of",
    "read_comments",
    "read_entries",
    "read_judges",
    "read_rules",
    "read_sheets",
    "reference",
    "remark_of",
    "result_document",
    "rules_are_frozen",
    "sees_name",
    "swap",
    "timetable",
    "under_every_line",
    "worked_example",
]
