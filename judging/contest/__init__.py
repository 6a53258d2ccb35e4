"""THE CONTEST: rules, entries, draw, sheets, phases, who sees what, and the whole day judged. Pure."""

from judging.contest.comparing import PanelCompared, compare_panel
from judging.contest.conflicts import may_be
from judging.contest.day import judge_contest, notes_of, piece_name_of, piece_of
from judging.contest.describing import describe
from judging.contest.document import cross_check_document, result_document
from judging.contest.documenting import reference
from judging.contest.entries import read_entries
from judging.contest.entry_table import read_entry_table
from judging.contest.every_line import EveryLine, under_every_line
from judging.contest.keyings import Compared, Keying, agreed, side_by_side
from judging.contest.marks_said import penalty_said
from judging.contest.order import Ticket, draw, numbered, swap, tickets
from judging.contest.phases import (
    LIFE,
    NEXT,
    Missing,
    Phase,
    Standing,
    advance,
    is_back,
    missing,
    rules_are_frozen,
    shows_result,
)
from judging.contest.piece_asked import check_changes, check_pieces, lacking
from judging.contest.presets import PRESETS, fill_in
from judging.contest.protests import ANSWERS, Window, refuse_outside, window_of
from judging.contest.revisions import Changed, changes_between
from judging.contest.rules import RuleSet, Section, read_judges, read_rules
from judging.contest.sheets import read_comments, read_sheets
from judging.contest.timetable import Pause, Timetable, Turn, remark_of, timetable
from judging.contest.values import ContestDay, Entry, Judge, Outcome
from judging.contest.viewing import Role, Viewer, display_name, sees_name
from judging.contest.worked_example import WorkedExample, worked_example

__all__ = [
    "ANSWERS",
    "LIFE",
    "NEXT",
    "PRESETS",
    "Changed",
    "Compared",
    "ContestDay",
    "Entry",
    "EveryLine",
    "Judge",
    "Keying",
    "Missing",
    "Outcome",
    "PanelCompared",
    "Pause",
    "Phase",
    "Role",
    "RuleSet",
    "Section",
    "Standing",
    "Ticket",
    "Timetable",
    "Turn",
    "Viewer",
    "Window",
    "WorkedExample",
    "advance",
    "agreed",
    "changes_between",
    "check_changes",
    "check_pieces",
    "compare_panel",
    "cross_check_document",
    "describe",
    "display_name",
    "draw",
    "fill_in",
    "is_back",
    "judge_contest",
    "lacking",
    "may_be",
    "missing",
    "notes_of",
    "numbered",
    "penalty_said",
    "piece_name_of",
    "piece_of",
    "read_comments",
    "read_entries",
    "read_entry_table",
    "read_judges",
    "read_rules",
    "read_sheets",
    "reference",
    "refuse_outside",
    "remark_of",
    "result_document",
    "rules_are_frozen",
    "sees_name",
    "shows_result",
    "side_by_side",
    "swap",
    "tickets",
    "timetable",
    "under_every_line",
    "window_of",
    "worked_example",
]
