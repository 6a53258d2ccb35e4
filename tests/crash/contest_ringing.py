"""A contest of one band that is ringing now, for services that are killed."""

from sqlmodel import Session

from judging.store import StoredContest, create_contest, set_order, set_phase

RULES = """
rules = 1
title = "Weir"
[[section]]
name = "Six"
piece = "hunt"
[[judge]]
id = "ann"
name = "Ann"
[draw]
seed = "x"
"""
ENTRIES = '[[entry]]\nid = "weir"\nband = "Weir End"\npiece = "hunt"\n'
PIECE = "123456\n123456\n213546\n231456\n"


def make_contest(session: Session) -> StoredContest:
    contest = create_contest(
        session, rules_text=RULES, entries_text=ENTRIES, pieces={"hunt.txt": PIECE}, slug="weir", who="test"
    )
    set_order(session, contest, ["weir"], who="test")
    set_phase(session, contest, "ringing", who="test")
    return contest
