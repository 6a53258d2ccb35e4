"""Answers that are files: named safely, told apart by type, never opened as a page."""

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
