"""Answers that are files: named safely, told apart by type, never opened as a page."""

import re
from typing import Literal
from urllib.parse import quote

from fastapi import Response


def pdf(content: bytes, name: str) -> Response:
    """Answer with a paper, shown in the browser.

    Parameters
    ----------
    content : bytes
        The PDF.
    name : str
        File name without its suffix; letters, digits and hyphens.

    Returns
    -------
    Response
    """
    return Response(
        content,
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{name}.pdf"'},
    )


def csv(text: str, name: str) -> Response:
    """Answer with a table to keep; `name` as in `pdf`."""
    return Response(
        text,
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{name}.csv"'},
    )


def paper_answer(content: bytes, name: str) -> Response:
    """Answer with a paper: a PDF is shown in the browser, a page is only to keep (it brings its own style with it).

    Parameters
    ----------
    content : bytes
        The paper.
    name : str
        File name; ``.pdf`` or ``.html``.

    Returns
    -------
    Response
    """
    if name.endswith(".pdf"):
        return Response(content, media_type="application/pdf", headers=disposition("inline", name))
    return Response(content, media_type="text/html; charset=utf-8", headers=disposition("attachment", name))


def disposition(kind: Literal["inline", "attachment"], name: str) -> dict[str, str]:
    """Header that names a file (RFC 6266): plain signs for every browser, and the whole name for those that read it.

    Parameters
    ----------
    kind : {"inline", "attachment"}
        Whether it is shown, or only kept.
    name : str
        Any text.

    Returns
    -------
    dict of str to str
    """
    plain = re.sub(r"[^A-Za-z0-9._-]", "-", name)
    whole = "" if plain == name else f"; filename*=UTF-8''{quote(name, safe='', errors='replace')}"
    return {"content-disposition": f'{kind}; filename="{plain}"{whole}'}
