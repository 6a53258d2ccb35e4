"""The service: pages and documents over the store, thin routes split by who uses them.

::

    request → guard (own pages only, safe headers) → access (who, and what of it they may have)
            → views (the contest as it stands, as this visitor may see it) → pages (Jinja2) or documents (JSON, PDF)

Nothing is computed here that the command line could not do; nothing is shown that `showing` does not allow.
"""

from judging.web.app import create_app
from judging.web.organiser_links import organiser_link
from judging.web.serving import serve

__all__ = ["create_app", "organiser_link", "serve"]
