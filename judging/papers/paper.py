"""One paper of a contest before it is made: what it is called, what it is for, and what makes it."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from judging.papers.typesetting import Setting


class Part(StrEnum):
    """What a paper is for; also its folder where all of them are in one file."""

    BEFORE = "before the day"
    RESULTS = "results"
    CERTIFICATES = "certificates"
    SHEETS = "bands"


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper that can be made.

    Parameters
    ----------
    part : Part
        What it is for.
    file : str
        Name of its file: letters, digits, dots, hyphens and underscores.
    title : str
        What it is, for a list of papers.
    make : callable
        Makes its bytes.
    set_up : callable or None
        Makes its `Setting`, of a paper that may be so long that a worker should set it.
    """

    part: Part
    file: str
    title: str
    make: Callable[[], bytes]
    set_up: Callable[[], Setting] | None = None

    @property
    def path(self) -> str:
        """Its name with its folder, such as ``"results/results.pdf"``."""
        return f"{self.part.replace(' ', '-')}/{self.file}"


def may_be_long(part: Part, file: str, title: str, set_up: Callable[[], Setting]) -> Paper:
    """Paper that a worker should set where it is long."""
    return Paper(part, file, title, lambda: set_up().pdf(), set_up)


def file_name(*words: str) -> str:
    """Name of a file out of any words, with no sign in it that a system could take for something else.

    Examples
    --------
    >>> file_name("judges-paper", 'Plain Bob / "x"') + ".pdf"
    'judges-paper-Plain-Bob-x.pdf'
    """
    return "-".join(re.sub(r"[^A-Za-z0-9_]+", "-", word).strip("-") for word in words)


def file_names(before: str, names: Iterable[str]) -> dict[str, str]:
    """Name of a file for each of several things, no two the same.

    Parameters
    ----------
    before : str
        What each begins with.
    names : iterable of str
        All different; they may differ only in signs that a file name does not have.

    Returns
    -------
    dict of str to str
        By name, without a suffix.
    """
    files: dict[str, str] = {}
    for name in names:
        plain = file_name(before, name)
        files[name], number = plain, 1
        while list(files.values()).count(files[name]) > 1:
            number += 1
            files[name] = f"{plain}-{number}"
    return files
