"""Data → PDF: the one place that knows the typesetter.

A paper is a Typst template in ``templates/print`` and a tree of plain values. The tree goes in as JSON, never as
source, so that whatever a band calls itself is printed and not obeyed. The same tree gives the same bytes: no clock is
read, and only the fonts inside the engine are used, unless the text has signs they lack (see `Setting.pdf`).
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, Literal

import typst

from judging.figures import figure
from judging.shipped import shipped

#: Tagged, titled and with alternative text, so that it can be read aloud (ISO 14289-1).
_STANDARD: Literal["ua-1"] = "ua-1"

#: How the engine says, under that standard, that none of its fonts has a sign.
_NO_SIGN = "could not be displayed"


#: A paper that is expected to take the processor longer than this is for a worker, and not for whoever waits for it.
LONG_MS = 400.0


@dataclass(frozen=True, slots=True)
class Setting:
    """A paper ready to be set: everything that its bytes follow from, in plain texts that can go to another process.

    Parameters
    ----------
    template : str
        Name of a file in ``templates/print`` without ``.typ``.
    given : str
        Its values, as JSON.
    name : str
        Title of the document.
    expected_ms : float
        About how long setting takes one processor, as measured on many sizes of it; 0 for a paper that never takes
        long.
    """

    template: str
    given: str
    name: str
    expected_ms: float = 0.0

    @property
    def is_long(self) -> bool:
        """Whether it is for a worker."""
        return self.expected_ms > LONG_MS

    @property
    def sha256(self) -> str:
        """Of everything that its bytes follow from."""
        return hashlib.sha256(f"{self.template}\n{self.name}\n{self.given}".encode()).hexdigest()

    def pdf(self) -> bytes:
        """Set the paper.

        Latin, Greek, Cyrillic, Hebrew and Arabic come out of the engine's own fonts: the same bytes on every machine.
        Signs beyond them (Han, Kana, emoji …) come from whatever fonts the machine has, and as empty boxes where it
        has none.

        Returns
        -------
        bytes
            A PDF/UA-1 file; plain PDF only where a sign has no font at all.
        """
        for own_fonts in (True, False):
            try:
                return _compile(self.template, self.given, own_fonts=own_fonts, standard=_STANDARD)
            except typst.TypstError as error:
                if _NO_SIGN not in str(error):
                    raise
        return _compile(self.template, self.given, own_fonts=False, standard=None)


def setting(template: str, data: Mapping[str, Any], *, name: str, expected_ms: float = 0.0) -> Setting:
    """Paper ready to be set.

    Parameters
    ----------
    template : str
        Name of a file in ``templates/print`` without ``.typ``.
    data : mapping
        What JSON can hold, and Decimals (printed as figures) and dataclasses.
    name : str
        Title of the document, shown by readers' programs.
    expected_ms : float
        As `Setting` has it.

    Returns
    -------
    Setting
    """
    given = json.dumps({"name": name, **data}, default=_plain, ensure_ascii=False, allow_nan=False)
    return Setting(template, given, name, expected_ms)


def typeset(template: str, data: Mapping[str, Any], *, name: str) -> bytes:
    """PDF of a paper that never takes long; as `setting` and `Setting.pdf` have it."""
    return setting(template, data, name=name).pdf()


def _compile(template: str, given: str, *, own_fonts: bool, standard: Literal["ua-1"] | None) -> bytes:
    folder = shipped("templates") / "print"
    return typst.compile(
        folder / f"{template}.typ",
        root=folder,
        ignore_system_fonts=own_fonts,
        sys_inputs={"data": given},
        pdf_standards=standard,
        timestamp=0,
        format="pdf",
    )


def _plain(value: object) -> object:
    """JSON's own kinds for what it does not know."""
    if isinstance(value, Decimal):
        return figure(value)
    return asdict(value)  # type: ignore[call-overload]  # anything else is a mistake of ours, and asdict says so
