"""Counts made by hand for papers: any number of bells, rows and faults, with no ear and no counting behind them."""

import os
import shutil
import subprocess
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from judging.papers import Heading
from judging.piece.piece import SYMBOLS, Label, Piece
from judging.striking.values import Count, Deviations, Event, Fault, Habit, Rhythm, Rung


def made_count(bells: int = 6, changes: int = 120, faults: int = 24, *, title: str = "120 Plain Bob Doubles") -> Count:
    """Count of a piece that plain-hunts for ever, struck a little unevenly, with so many faults charged."""
    random = np.random.default_rng(bells * 1000 + changes + faults)
    opening, closing = 4, 2
    row = np.arange(1, bells + 1)
    rows = [row] * opening
    for change in range(changes):
        row = row.copy()
        for left in range(change % 2, bells - 1, 2):
            row[[left, left + 1]] = row[[left + 1, left]]
        rows.append(row)
    rows += [np.arange(1, bells + 1)] * closing
    heads = range(opening + 2 * bells - 1, opening + changes, 2 * bells)
    labels = [Label(head, "lead head", "lead") for head in heads]
    labels += [Label(head - 1, "call", "bob") for head in list(heads)[1::3]]
    piece = Piece(
        title, np.array(rows, dtype=np.int8), opening, closing, labels=tuple(sorted(labels, key=lambda one: one.row))
    )
    shape = piece.rows.shape
    gap_s = 0.293 * (1 + 0.02 * np.sin(np.linspace(0, 7, shape[0])))
    h = 0.92
    starts = np.concatenate(([0.0], np.cumsum((bells + h * ~piece.is_hand) * gap_s)[:-1])) + 2.5
    ideal = starts[:, np.newaxis] + np.arange(bells) * gap_s[:, np.newaxis]
    ms = random.normal(0, 22, shape) + 9 * (piece.rows == 5) - 14 * ((piece.rows == 2) & piece.is_hand[:, np.newaxis])
    judged = piece.is_change
    charge = np.zeros(shape)
    cells = [(r, p) for r in np.flatnonzero(judged).tolist() for p in range(bells)]
    chosen = sorted(random.choice(len(cells), size=min(faults, len(cells)), replace=False).tolist())
    found = []
    for index in chosen:
        r, p = cells[index]
        whole = random.random() < 0.35
        size = (130 if whole else 85) * (1 if random.random() < 0.6 else -1)
        ms[r, p] = size
        charge[r, p] = 1 if whole else 0.5
        found.append(made_fault(piece, r, p, size, starts[r] + p * gap_s[r], whole=whole, doubtful=index % 9 == 0))
    gaps = ms / 1000 / gap_s[:, np.newaxis]
    rung = Rung(
        piece,
        ideal + ms / 1000,
        piece.rows.copy(),
        np.full(shape, 1.5),
        np.arange(piece.rows.size).reshape(shape),
        events=(
            Event(
                "exchanged",
                opening + 20,
                opening + 24,
                (3, 4),
                "3 and 4 crossed over and were right again in five rows.",
            ),
        )
        if faults
        else (),
    )
    total = sum((fault.charge for fault in found), Decimal(0))
    habits = (
        Habit((5,), "5 leads late at handstroke: 9 of 14 leads, 38 ms on average.", (10, 20, 30), Decimal("4.5")),
        Habit((2,), "2 is quick at handstroke: 14 ms on average.", (11, 21), Decimal(2)),
        Habit((), "Backstroke leads are even throughout.", (), praise=True),
    )
    return Count(
        rung,
        Rhythm(gap_s, h, True, ideal, np.full(shape, 2.0)),
        Deviations(ms, gaps, ms, gaps, np.full(shape, -1)),
        judged,
        tuple(found),
        charge,
        total,
        total,
        int(judged.sum()),
        Decimal(int(judged.sum())) * bells,
        habits if faults else habits[2:],
        "The pull-off was together; 4 was a little late at backstroke.",
        "A steady piece at a good pace. Most of the faults are late handstroke leads, and they are of one kind.",
        "half and whole faults, blow by blow",
        "5f0c9a7e21b44d10",
        ("The handstroke gap is the band's own.",),
    )


def made_fault(piece: Piece, r: int, p: int, size_ms: float, time_s: float, *, whole: bool, doubtful: bool) -> Fault:
    bell = int(piece.rows[r, p])
    change = piece.change_of(r)
    stroke = "handstroke" if piece.is_hand[r] else "backstroke"
    lateness = "late, leaving a wide gap" if size_ms > 0 else "early, close"
    before = SYMBOLS[int(piece.rows[r, p - 1]) - 1]
    return Fault(
        r, p + 1, bell, change, bool(piece.is_hand[r]), "late" if size_ms > 0 else "early",
        "whole" if whole else "half", size_ms, time_s, doubtful, True, Decimal(1) if whole else Decimal("0.5"),
        f"Change {change}, {stroke}: {bell} struck {abs(size_ms)} ms {lateness} after {before}.",
    )  # fmt: skip


@pytest.fixture(scope="session")
def make_count() -> Callable[..., Count]:
    """Make counts of any size."""
    return made_count


@pytest.fixture(scope="session")
def heading() -> Heading:
    """Invent a contest."""
    return Heading(
        "Spring Striking Contest",
        "Vale District",
        "14 June 2025",
        "Six bells",
        fingerprint="5f0c9a7e21b44d10",
        audit_head="ab12cd34ef56ab12",
    )


@pytest.fixture(scope="session")
def poppler() -> str:
    """Folder of poppler's commands, which read papers back independently of what made them."""
    found = shutil.which("pdftotext")
    if found is None:
        if "CI" in os.environ:
            pytest.fail("poppler's pdftotext is needed")
        pytest.skip("poppler's pdftotext is not installed")
    return str(Path(found).parent)


@pytest.fixture(scope="session")
def read(poppler: str) -> Callable[[bytes], str]:
    """Text of a PDF, in the order in which it is read, with single spaces."""

    def reader(pdf: bytes) -> str:
        done = subprocess.run([f"{poppler}/pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
        return " ".join(done.stdout.decode().split())

    return reader


@pytest.fixture(scope="session")
def read_by_line(poppler: str) -> Callable[[bytes], str]:
    """Text of a PDF as it was set, with single spaces: a table line by line, and not column by column."""

    def reader(pdf: bytes) -> str:
        done = subprocess.run([f"{poppler}/pdftotext", "-raw", "-", "-"], input=pdf, capture_output=True, check=True)
        return " ".join(done.stdout.decode().split())

    return reader


@pytest.fixture(scope="session")
def pages(poppler: str) -> Callable[[bytes], list[str]]:
    """Text of each page of a PDF."""

    def reader(pdf: bytes) -> list[str]:
        done = subprocess.run([f"{poppler}/pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
        return done.stdout.decode().split("\f")[:-1]

    return reader


@pytest.fixture(scope="session")
def look(poppler: str) -> Callable[[bytes], list[NDArray[np.uint8]]]:
    """Pages of a PDF as pictures, in grey, 72 points an inch."""

    def looker(pdf: bytes) -> list[NDArray[np.uint8]]:
        command = [f"{poppler}/pdftoppm", "-r", "72", "-gray", "-"]
        raw = subprocess.run(command, input=pdf, capture_output=True, check=True).stdout
        pages = []
        while raw:
            _, size, _, rest = raw.split(b"\n", 3)  # binary greymap: P5, width and height, 255, pixels
            width, height = (int(part) for part in size.split())
            pages.append(np.frombuffer(rest[: width * height], np.uint8).reshape(height, width))
            raw = rest[width * height :]
        return pages

    return looker
