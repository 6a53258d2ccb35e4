"""Templates and what every page may use: filters for figures, addresses of static files."""

import hashlib
from functools import cache
from pathlib import Path

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from judging import __version__
from judging.shipped import shipped
from judging.web import words


def pages_folder() -> Path:
    """Folder of the page templates, with ``static`` in it."""
    return shipped("templates") / "pages"


def page(template: str, *, status: int = 200, **data: object) -> HTMLResponse:
    """Answer with a page; every text in it is escaped.

    Parameters
    ----------
    template : str
        File in ``templates/pages``.
    status : int
        Of the answer.
    **data
        What the template names; a name it uses and does not get is an error.

    Returns
    -------
    HTMLResponse
        The whole page.
    """
    return HTMLResponse(page_text(template, **data), status_code=status)


def page_text(template: str, **data: object) -> str:
    """Return the text of a page."""
    return _environment().get_template(template).render(**data)


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(pages_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(static=_static, version=__version__)
    environment.filters.update(
        clock=words.clock,
        figure=words.figure,
        minutes=words.minutes,
        moment=words.moment,
        stopped=words.stopped,
    )
    return environment


@cache
def _static(name: str) -> str:
    """Return the address of a static file, changing with its content so that browsers may keep it."""
    digest = hashlib.sha256((pages_folder() / "static" / name).read_bytes()).hexdigest()
    return f"/static/{name}?{digest[:10]}"
