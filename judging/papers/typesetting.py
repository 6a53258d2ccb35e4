"""Data → PDF: the one place that knows the typesetter.

A paper is a Typst template in ``templates/print`` and a tree of plain values. The tree goes in as JSON, never as
source, so that whatever a band calls itself is printed and not obeyed. The same tree gives the same bytes: no clock is
read, and only the fonts inside the engine are used, unless the text has signs they lack (see `typeset`).
"""

import json
from collections.abc import Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import Any, Literal

import typst

from judging.errors import InputError
from judging.figures import figure
from judging.shipped import shipped

#: Tagged, titled and with alternative text, so that it can be read aloud (ISO 14289-1).
_STANDARD: Literal["ua-1"] = "ua-1"

#: How the engine says, under that standard, that none of its fonts has a sign.
_NO_SIGN = "could not be displayed"


def typeset(template: str, data: Mapping[str, Any], *, name: str) -> bytes:
    """PDF of a paper.

    Latin, Greek, Cyrillic, Hebrew and Arabic come out of the engine's own fonts: the same bytes on every machine. Signs
    beyond them (Han, Kana, emoji …) come from whatever fonts the machine has, and as empty boxes where it has none.

    Parameters
    ----------
    template : str
        Name of a file in ``templates/print`` without ``.typ``.
    data : mapping
        What JSON can hold, and Decimals (printed as figures) and dataclasses.
    name : str
        Title of the document, shown by readers' programs.

    Returns
    -------
    bytes
        A PDF/UA-1 file; plain PDF only where a sign has no font at all.

    Raises
    ------
    InputError
        Where a text holds a control character, which no paper can show.
    """
    given = json.dumps({"name": name, **data}, default=_plain, ensure_ascii=False, allow_nan=False)
    for own_fonts, standard in ((True, _STANDARD), (False, _STANDARD), (False, None)):
        try:
            return _compile(template, given, own_fonts=own_fonts, standard=standard)
        except typst.TypstError as error:
            if _NO_SIGN not in str(error):
                raise
    raise InputError(name, "holds a sign that cannot be printed; is there a control character in a name or a comment?")


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
