"""What stands before every route: requests from other sites are refused, and every answer carries safe headers.

Writing requests must come from our own pages. Browsers say where a request comes from in ``Sec-Fetch-Site`` (on
https and localhost) and in ``Origin`` (everywhere, plain http on a local network included), which a page elsewhere
cannot forge. Programs send neither; they hold no cookie that another site could use behind somebody's back.
"""

import logging

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from judging.errors import RuleError
from judging.web.refusals import answer_refusal

#: Methods that change nothing.
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

#: Everything comes from us: no script, style or frame of anybody else, none inside a page.
CONTENT_SECURITY_POLICY = (
    "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)

#: ``same-origin`` and not ``no-referrer``: under the latter a browser says ``Origin: null`` when it sends our own
#: forms, and on plain http there is nothing else to tell them from a stranger's. Other sites learn nothing either way.
_HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(self)",
    "referrer-policy": "same-origin",
    "x-content-type-options": "nosniff",
}

_STRANGE = RuleError("This was sent from another site, or by a page that is no longer ours; open the page again.")
_OURS = RuleError("Something went wrong here that should not. Nothing was lost; it is in the log of this machine.")

_log = logging.getLogger(__name__)


class Guard:
    """ASGI middleware: refuses writing requests from other sites, sets every answer's headers, tells our own errors.

    Parameters
    ----------
    app : ASGIApp
        What it stands before.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        has_begun = False

        async def send_with_headers(message: Message) -> None:
            nonlocal has_begun
            if message["type"] == "http.response.start":
                has_begun = True
                answered = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    answered[name] = value
                answered.setdefault("cache-control", "private, no-cache" if "cookie" in headers else "no-cache")
            await send(message)

        if scope["method"] not in SAFE_METHODS and not is_own(headers):
            await answer_refusal(scope, _STRANGE, status=403)(scope, receive, send_with_headers)
            return
        try:
            await self.app(scope, receive, send_with_headers)
        except HTTPException:  # a body over the limit, which is answered further out
            raise
        except Exception:
            _log.exception("unforeseen error at %s", scope["path"])
            if has_begun:
                raise
            await answer_refusal(scope, _OURS, status=500)(scope, receive, send_with_headers)


def is_own(headers: Headers) -> bool:
    """Whether a request comes from one of our own pages, or from a program that is no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    origin = headers.get("origin")
    return origin is None or origin.partition("://")[2] == headers.get("host", "")
