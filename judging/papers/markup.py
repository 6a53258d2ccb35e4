"""Data → one HTML file that opens from a disk: no server, no network, no script."""

from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from judging.papers.words import twelve
from judging.shipped import shipped


@cache
def _template(name: str) -> Template:
    environment = Environment(
        loader=FileSystemLoader(shipped("templates") / "print"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["twelve"] = twelve
    return environment.get_template(f"{name}.html")


def fill_page(name: str, **data: object) -> str:
    """Document from a template in ``templates/print``; every text in it is escaped.

    Parameters
    ----------
    name : str
        Name of the template without ``.html``.
    **data
        What the template names.

    Returns
    -------
    str
        A whole document.
    """
    return _template(name).render(**data)
