"""Every key of ``rules.toml``, documented: the reader obeys this list, and the page of rules is made from it."""

from decimal import Decimal

from judging.contest.tables import Key

_ZERO, _ONE, _HUNDRED = Decimal(0), Decimal(1), Decimal(100)

POLICIES = ("sum", "mean", "ratio", "standard score", "placings", "majority of placings", "agreed mark")
DROPS = ("none", "highest and lowest")
MISSING_JUDGE = ("refuse", "leave the judge out", "use those present")
PARTS = ("cross-check", "tie-break", "voice")
BASES = ("each judge", "combined")
PERCENT_OF = ("as counted", "so far")
MODES = ("half up", "half even", "half down", "up", "down")
UNITS = ("faults", "marks")
LINES = ("any", "total", "blow", "row", "whole pull", "block", "criterion")
PENALTIES = ("missing rows", "restart", "borrowed ringers", "over time", "wrong method", "novice handicap")
TIE_RULES = (
    "chief judge",
    "fewest whole faults",
    "fewest faulty changes",
    "fewest faults in the last changes",
    "better by more judges",
    "best single sheet",
    "lowest total of placings",
    "machine",
)
LATE = ("rings last", "refused")
SWAPS = ("with consent", "not allowed")
CONFLICT_RULES = ("declared only", "sheet left out")
SHOWN_WHEN = ("final", "provisional")

TOP = (
    Key("", "rules", "whole number", None, "Version of this file's form: 1.", required=True),
    Key("", "title", "text", None, "The contest's name, as it is printed.", required=True),
    Key("", "district", "text", "", "The association, guild, district or branch that holds it."),
    Key("", "date", "date", None, "The day of the contest."),
    Key("", "place", "text", "", "Where it is rung."),
)
SECTION = (
    Key("[section]", "name", "text", None, "The section's name, as it is printed.", required=True),
    Key("[section]", "piece", "text", "", "Identifier of its test piece; an entry may name another."),
    Key("[section]", "changes", "whole number", None, "Length of its test piece; another is refused.", least=_ONE),
    Key("[section]", "least_changes", "whole number", None, "Fewest changes its test piece may have.", least=_ONE),
    Key("[section]", "most_changes", "whole number", None, "Most changes its test piece may have.", least=_ONE),
    Key("[section]", "piece_is_true", "yes or no", False, "Whether no row of its test piece may be repeated."),
    Key("[section]", "piece_comes_round", "yes or no", False, "Whether its test piece must end in rounds."),
    Key("[section]", "every_bell_leads", "yes or no", False, "Whether every bell but the tenor must lead in it."),
    Key("[section]", "practice_minutes", "number", None, "Practice allowed before the test piece.", least=_ZERO),
    Key("[section]", "slot_minutes", "number", None, "Time from one band to the next.", least=_ZERO),
    Key("[section]", "minutes_allowed", "number", None, "Time allowed for the test piece.", least=_ZERO),
    Key(
        "[section]",
        "most_borrowed",
        "whole number",
        None,
        "With more borrowed ringers than this an entry takes no place in this section.",
        least=_ZERO,
    ),
    Key("[section]", "judges", "list of text", (), "The section's panel by identifier; every judge where left out."),
    Key("[section]", "eligibility", "text", "", "Who may enter, in words."),
    Key(
        "[section]",
        "notes",
        "text",
        "",
        'For strike logs that are MIDI files: the note of each bell, treble first, such as "72,71,69,67,65,64"; where '
        "left out the highest note is the treble.",
    ),
)
JUDGE = (
    Key("[judge]", "id", "text", None, "Identifier: names the sheet's file.", required=True),
    Key("[judge]", "name", "text", None, "Name as it is printed.", required=True),
    Key("[judge]", "chief", "yes or no", False, "The chief judge, whom a tie rule may ask; one at most."),
)
TIMETABLE = (
    Key(
        "timetable",
        "first_band",
        "time of day",
        None,
        "When the first band begins its practice, such as 14:00; each section's slot_minutes then give the rest.",
    ),
)
BREAK = (
    Key(
        "[break]",
        "at",
        "time of day",
        None,
        "When a break is due, such as 15:30; it begins once the band then ringing has rung.",
        required=True,
    ),
    Key("[break]", "minutes", "number", None, "How long it lasts.", least=_ONE, most=Decimal(600), required=True),
    Key("[break]", "for", "text", "Break", "What it is for, as it is printed."),
)
DRAW = (
    Key("draw", "seed", "text", "", "Declared before the draw; anyone can run the draw again from it."),
    Key(
        "draw",
        "late",
        "one of",
        "rings last",
        "What becomes of a band that is incomplete at the draw, or enters after it.",
        LATE,
    ),
    Key("draw", "swaps", "one of", "with consent", "Whether two bands may change places after the draw.", SWAPS),
)
CONFLICT = (
    Key(
        "conflict",
        "then",
        "one of",
        "declared only",
        "What happens to the sheet of a judge who has to do with the band.",
        CONFLICT_RULES,
    ),
)
PROTEST = (
    Key(
        "protest",
        "minutes",
        "whole number",
        10,
        "How long after the provisional result a protest may be handed in; 0 where the judges' decision is final.",
        least=_ZERO,
    ),
    Key("protest", "to", "text", "", "Whom a protest is handed to."),
)
ELIGIBILITY = (
    Key(
        "eligibility",
        "bands_per_ringer",
        "whole number",
        None,
        "In how many bands one person may ring. Stated on the rules page; ringers' names are not held, so the "
        "organiser checks it.",
        least=_ONE,
    ),
    Key(
        "eligibility",
        "residents",
        "whole number",
        None,
        "How many ringers must belong to the tower. Stated on the rules page; the organiser checks it.",
        least=_ZERO,
    ),
    Key("eligibility", "words", "text", "", "Anything more about who may ring, in words."),
)
PUBLIC = (
    Key("public", "result", "one of", "final", "From when the public sees the result.", SHOWN_WHEN),
    Key("public", "by_judge", "yes or no", True, "Whether the public sees each judge's figure."),
    Key("public", "machine", "yes or no", True, "Whether the public sees the machine's count."),
    Key("public", "safety", "yes or no", True, "Whether the public sees how safe each place is."),
    Key(
        "public",
        "judges_compared",
        "yes or no",
        False,
        "Whether the public sees the judges compared with each other, and with the machine where its count is public.",
    ),
    Key(
        "public", "fault_sheets", "yes or no", False, "Whether the public sees fault sheets; a band always has its own."
    ),
)
SHEETS = (
    Key(
        "sheets",
        "unit",
        "one of",
        "faults",
        "What a sheet holds: faults (fewer is better) or marks (more is better).",
        UNITS,
    ),
    Key("sheets", "step", "number", Decimal("0.5"), "The finest figure a judge may give.", least=Decimal("0.001")),
    Key("sheets", "most", "number", None, "The most one sheet may hold; none where there is no limit.", least=_ZERO),
    Key(
        "sheets",
        "lines",
        "one of",
        "any",
        "What a line of a sheet is for; with `any` a judge gives a total, or faults change by change.",
        LINES,
    ),
    Key("sheets", "block_changes", "whole number", None, "Changes in a block, for lines of blocks.", least=_ONE),
    Key(
        "sheets",
        "most_a_line",
        "number",
        None,
        "The most one blow, row, whole pull or block may hold; none where there is no limit.",
        least=_ZERO,
    ),
)
CRITERION = (
    Key("[criterion]", "name", "text", None, "The criterion's name, as it is printed.", required=True),
    Key("[criterion]", "most", "number", None, "The most that may be given for it.", required=True, least=_ZERO),
    Key("[criterion]", "words", "text", "", "What it is about, for the judge."),
)
COMBINING = (
    Key("combining", "policy", "one of", "sum", "How the judges' figures become one.", POLICIES),
    Key(
        "combining",
        "drop",
        "one of",
        "none",
        "Whether each entry's highest and lowest figure is left out; for three judges or more.",
        DROPS,
    ),
    Key(
        "combining",
        "missing_judge",
        "one of",
        "refuse",
        "What happens where a judge has no sheet for a band.",
        MISSING_JUDGE,
    ),
)
MACHINE = (
    Key("machine", "part", "one of", "cross-check", "What weight the machine's count has.", PARTS),
    Key("machine", "weight", "number", _ONE, "Weight of its voice; a judge weighs 1.", least=_ZERO, most=Decimal(10)),
    Key(
        "machine",
        "sure_within_ms",
        "number",
        Decimal(10),
        "A blow is timed surely where its stated spread is within this.",
        least=_ZERO,
        most=_HUNDRED,
    ),
    Key(
        "machine",
        "most_unsure_percent",
        "number",
        Decimal(15),
        "A count with more of its judged blows unheard or not timed surely has no part in its section.",
        least=_ZERO,
        most=_HUNDRED,
    ),
    Key(
        "machine",
        "lines_unsure_percent",
        "number",
        _ZERO,
        "Standard error of the tolerance lines from their calibration; where the machine has a voice, the safety of "
        "places counts it in.",
        least=_ZERO,
        most=Decimal(25),
    ),
    Key(
        "machine",
        "tower_delays",
        "yes or no",
        False,
        "Whether a delay that a bell has at one stroke for every band alike (it hangs far, or is odd-struck) is taken "
        "out before counting; at least five bands on the same number of bells must show it.",
    ),
)
PENALTY = (
    Key(
        "[penalty]",
        "for",
        "one of",
        None,
        "What it is for; penalties apply in the order of the file.",
        PENALTIES,
        required=True,
    ),
    Key(
        "[penalty]",
        "base",
        "one of",
        "each judge",
        "Whether each judge's figure is changed, or the combined mark.",
        BASES,
    ),
    Key("[penalty]", "percent", "number", _ZERO, "Per cent of the figure, for each one counted.", least=_ZERO),
    Key(
        "[penalty]",
        "percent_of",
        "one of",
        "as counted",
        "Of the figure before any penalty of this base, or of what earlier penalties have made of it.",
        PERCENT_OF,
    ),
    Key("[penalty]", "amount", "number", _ZERO, "Faults added, or marks taken off, for each one counted.", least=_ZERO),
    Key(
        "[penalty]",
        "multipliers",
        "list of text",
        (),
        'For a novice handicap: what faults are multiplied by with 0, 1, 2, ... experienced ringers, such as "4/3".',
    ),
    Key("[penalty]", "most", "whole number", None, "With more than this many, the entry takes no place.", least=_ZERO),
    Key(
        "[penalty]",
        "within_changes",
        "whole number",
        None,
        "For a restart: with more changes rung before it than this, the entry takes no place.",
        least=_ZERO,
    ),
    Key("[penalty]", "step", "number", None, "Rounds the figure after this penalty; none leaves it to the end."),
    Key("[penalty]", "mode", "one of", "half up", "How this penalty rounds.", MODES),
)
TIES = (
    Key(
        "ties",
        "rules",
        "list of",
        (),
        "What is asked, in order, of equal marks; what stays level shares the place.",
        TIE_RULES,
    ),
    Key(
        "ties",
        "last_changes",
        "whole number",
        None,
        "How many last changes the rule of that name looks at.",
        least=_ONE,
    ),
)
ROUNDING = (
    Key(
        "rounding",
        "step",
        "number",
        None,
        "The finest mark; 0.001 for ratios and standard scores, which differ less than faults do, otherwise 0.01.",
    ),
    Key("rounding", "mode", "one of", "half up", "What happens between two steps.", MODES),
    Key(
        "rounding",
        "rank_rounded",
        "yes or no",
        True,
        "Whether the rounded mark ranks, so that equal print is equal place; otherwise it is rounded for print only.",
    ),
)

#: Tables of the file by name, each with its keys; those of the machine's counting are in `judging.contest.counting`.
TABLES: dict[str, tuple[Key, ...]] = {
    "section": SECTION,
    "judge": JUDGE,
    "draw": DRAW,
    "timetable": TIMETABLE,
    "break": BREAK,
    "conflict": CONFLICT,
    "sheets": SHEETS,
    "criterion": CRITERION,
    "combining": COMBINING,
    "penalty": PENALTY,
    "ties": TIES,
    "rounding": ROUNDING,
    "machine": MACHINE,
    "eligibility": ELIGIBILITY,
    "protest": PROTEST,
    "public": PUBLIC,
}
