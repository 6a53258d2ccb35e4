"""Facts of the trade that the room must agree with, each with its source.

The courses' lead heads of Plain Bob and Grandsire are printed in the Framework for Method Ringing (App. C); those of
Kent in a published lesson. Hashes are of rows made by another program: SHA-256, first twelve hex digits, of the rows
joined by newlines, the opening rounds left out and the last row included.
"""

import hashlib
from collections.abc import Iterable
from typing import NamedTuple


class Course(NamedTuple):
    """A plain course."""

    title: str
    stage: int
    notation: str
    lead: int
    lead_heads: tuple[str, ...]
    sha256_12: str
    first_row_after_bob: str = ""
    first_row_after_single: str = ""

    @property
    def length(self) -> int:
        return self.lead * (len(self.lead_heads) + 1)


#: First rows after a call at the first lead head: bob 14 (145, 147), single 1234 (123, 12347); Grandsire 3.1 and 3.123.
COURSES = (
    Course(
        "Plain Bob Doubles",
        5,
        "5.1.5.1.5,125",
        10,
        ("13524", "15432", "14253"),
        "e1ebf6aed876",
        "12354",
        "13245",
    ),
    Course(
        "Plain Bob Minor",
        6,
        "x16x16x16,12",
        12,
        ("135264", "156342", "164523", "142635"),
        "40a0c48c5740",
        "123564",
        "132564",
    ),
    Course(
        "Plain Bob Triples",
        7,
        "7.1.7.1.7.1.7,127",
        14,
        ("1352746", "1573624", "1765432", "1647253", "1426375"),
        "102decb4b917",
        "1235746",
        "1325746",
    ),
    Course(
        "Plain Bob Major",
        8,
        "x18x18x18x18,12",
        16,
        ("13527486", "15738264", "17856342", "18674523", "16482735", "14263857"),
        "cccb4030f505",
        "12357486",
        "13257486",
    ),
    Course("Grandsire Doubles", 5, "3,1.5.1.5.1", 10, ("12534", "12453"), "70b83c8e8bc8", "14523", "15423"),
    Course(
        "Grandsire Triples",
        7,
        "3,1.7.1.7.1.7.1",
        14,
        ("1253746", "1275634", "1267453", "1246375"),
        "5b1b3afeb70e",
        "1752634",
        "1572634",
    ),
    Course("Stedman Doubles", 5, "3.1.5.3.1.3.1.3.5.1.3.1", 12, ("53412", "24153", "31524", "45231"), "391f2b7c9225"),
    Course(
        "Kent Treble Bob Minor",
        6,
        "34x34.16x12x16x12x16,16",
        24,
        ("142635", "164523", "156342", "135264"),
        "6873d3172a2b",
        "142356",
    ),
    Course(
        "Oxford Treble Bob Minor",
        6,
        "x34x16x12x16x12x16,16",
        24,
        ("142635", "164523", "156342", "135264"),
        "f35731c7bf1b",
        "142356",
    ),
    Course(
        "Cambridge Surprise Minor",
        6,
        "x36x14x12x36x14x56,12",
        24,
        ("156342", "142635", "135264", "164523"),
        "9c5fea80e5a8",
        "135642",
        "153642",
    ),
    Course(
        "Cambridge Surprise Major",
        8,
        "x38x14x1258x36x14x58x16x78,12",
        32,
        ("15738264", "18674523", "14263857", "13527486", "17856342", "16482735"),
        "2b00d15091d3",
    ),
)

#: Stedman Doubles six by six from rounds, the fourth row of a quick six (value from memory; the course is a true 60).
STEDMAN_SIXES = (
    "21354 23145",
    "32415 23451 24315 42351 43215 34251",
    "43521 45312 54321 53412 35421 34512",
    "43152 34125 31452 13425 14352 41325",
)

#: First leads, rows made by another program.
KENT_MINOR_LEAD = (
    "213465 124356 214365 241635 426153 421635 246153 264513 625431 624513 265431 256341 "
    "523614 526341 253614 235164 321546 325164 231546 213456 123465 214356 124365 142635"
)
CAMBRIDGE_MINOR_LEAD = (
    "214365 124635 216453 261435 624153 621435 264153 624513 265431 256413 524631 256431 "
    "524613 542631 456213 546123 451632 456123 541632 514623 156432 516342 153624 156342"
)

#: Extract of "60 on Thirds" as the Central Council's call-change test piece prints it: each call and the row it makes.
SIXTY_ON_THIRDS = (
    ("4 to 5", "123546"),
    ("2 to 3", "132546"),
    ("2 to 5", "135246"),
    ("1 to 3", "315246"),
    ("1 to 5", "351246"),
    ("1 to 2", "352146"),
    ("1 to 4", "352416"),
    ("3 to 5", "532416"),
    ("4 to 1", "532146"),
    ("2 to 1", "531246"),
    ("3 to 1", "513246"),
    ("5 to 1", "153246"),
    ("3 to 2", "152346"),
    ("1 to 5", "512346"),
    ("1 to 2", "521346"),
    ("1 to 3", "523146"),
    ("1 to 4", "523416"),
    ("3 to 4", "524316"),
    ("3 to 1", "524136"),
    ("4 to 1", "521436"),
    ("2 to 1", "512436"),
    ("5 to 1", "152436"),
    ("5 to 2", "125436"),
)

#: "Cambridge Eight and Forty" (Tintinnalogia, 1668, public domain), rounds at both ends.
EIGHT_AND_FORTY = (
    "12345 21345 21354 21534 25134 25314 23514 23154 32154 32514 35214 35124 31524 31254 31245 31425 34125 34215 32415 "
    "32145 23145 23415 24315 24135 21435 21453 24153 24513 25413 25143 21543 12543 15243 15423 14523 14253 12453 12435 "
    "14235 14325 13425 13245 13254 13524 15324 15234 12534 12354 12345"
)
EIGHT_AND_FORTY_SHA256_12 = "681c5d1eca1d"

#: Touches, one letter a lead, with the hash of their rows (made by another program).
BOB_DOUBLES_120_SHA256_12 = "86d19ef71f11"  # pppb three times, as in two published lessons
GRANDSIRE_DOUBLES_60_SHA256_12 = "06e4845f333c"  # pbpbpb, as in a published lesson
GRANDSIRE_DOUBLES_120_SHA256_12 = "f1a5c31a4289"  # pbpbps twice (value from memory)
BOB_MINOR_120_SHA256_12 = "d7509983234c"  # bpppb twice (value from memory)


def sha256_12(rows: Iterable[str]) -> str:
    """Hash as the oracles have it."""
    return hashlib.sha256("\n".join(rows).encode()).hexdigest()[:12]
