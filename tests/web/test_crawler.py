"""Every role follows every link and sends every form: nothing breaks, and before the result is final no name gets out.

A form is sent as it stands, empty, and with each of a few hostile texts in its fields. What a judge, a judge who does
not count or the public receives is searched byte for byte, and what is packed in it too, for bands' names and for the
identifiers that are made from them.
"""

import io
import re
import shutil
import subprocess
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from judging.store import add_shadow_judge, contest_by_slug

from .conftest import ADDRESS, BANDS, Service

#: Most requests of one role in one phase; more of the same form on other bands' pages would teach nothing.
MOST_REQUESTS = 150

#: Addresses of one page that differ only in what they ask it for: every fault of a fault sheet has its own.
MOST_ALIKE = 3

HOSTILE = (
    "<b>x</b>\"'&",
    "x" * 200,
    "\u202eabc \u05d0\u05d1\u05d2",
    "a\x00b",
    "",
)

#: Elements without an end.
VOID = frozenset({"meta", "link", "input", "br", "img", "hr", "source", "wbr", "col"})

#: Ends the session that the crawl runs on.
NOT_SENT = ("/leave",)

ROLES = ("public", "rival", "own", "steward", "judge", "shadow judge", "organiser", "stranger", "service")
PHASES = ("ringing", "sheets in", "provisional")
ORGANISING = {"organiser", "stranger", "service"}
#: Who may know a band's name before the result is final; a band knows its own.
KNOWING = {"organiser", "service", "steward"}


@dataclass
class Sent:
    """A form of a page, as a browser would send it."""

    method: str
    action: str
    is_files: bool
    fields: dict[str, str] = field(default_factory=dict)
    typed: set[str] = field(default_factory=set)
    files: set[str] = field(default_factory=set)


class Page(HTMLParser):
    """Links, sources and forms of a page."""

    def __init__(self, text: str, address: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.forms: list[Sent] = []
        self._address = address
        self._select = ""
        self._form: Sent | None = None
        self._within: list[tuple[str, bool]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag not in VOID:
            self._within.append((tag, "hidden" in found))
        for name in ("href", "src", "data-changes"):
            if name in found and not any(is_hidden for _, is_hidden in self._within):
                self.links.append(urljoin(self._address, found[name].partition("#")[0]))
        if tag == "form":
            action = urljoin(self._address, found.get("action", "")).partition("#")[0]
            self._form = Sent(found.get("method", "get").lower(), action, "multipart" in found.get("enctype", ""))
            self.forms.append(self._form)
        elif self._form is not None and (name := found.get("name")):
            self._field(tag, name, found)
        elif tag == "option" and self._form is not None and self._select:
            first = self._form.fields.setdefault(self._select, found.get("value", ""))
            self._form.fields[self._select] = found.get("value", "") if "selected" in found else first

    def _field(self, tag: str, name: str, found: dict[str, str]) -> None:
        form = self._form
        assert form is not None
        kind = found.get("type", "text" if tag == "input" else "")
        if tag == "select":
            self._select = name
        elif kind == "file":
            form.files.add(name)
        elif kind in {"checkbox", "radio"}:
            form.fields.setdefault(name, found.get("value", "on"))
        elif tag in {"input", "textarea", "button"}:
            form.fields.setdefault(name, found.get("value", ""))
            if tag == "textarea" or kind not in {"hidden", "", "submit"}:
                form.typed.add(name)

    def handle_endtag(self, tag: str) -> None:
        while self._within and self._within.pop()[0] != tag:
            pass
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = ""


@dataclass
class Crawl:
    """What one role met."""

    client: TestClient
    broken: list[tuple[str, str, int]] = field(default_factory=list)
    received: list[tuple[str, Response]] = field(default_factory=list)
    asked: int = 0

    def run(self, *starts: str) -> None:
        """Read everything that links lead to, breadth first; then send every form that was met."""
        waiting, seen = list(starts), set(starts)
        forms: dict[tuple[str, ...], Sent] = {}
        alike: Counter[tuple[str, ...]] = Counter()
        while waiting and self.asked < MOST_REQUESTS:
            address = waiting.pop(0)
            answer = self._ask("GET", address)
            if address not in starts and answer.status_code >= 400:
                self.broken.append(("link", address, answer.status_code))
            while 300 <= answer.status_code < 400:
                answer = self._ask("GET", answer.headers["location"])
            if not answer.headers.get("content-type", "").startswith("text/html"):
                continue
            page = Page(answer.text, address)
            for link in page.links:
                parts = urlsplit(link)
                if not parts.netloc and link.startswith("/") and link not in seen:
                    seen.add(link)
                    asked = (parts.path, *sorted(parse_qs(parts.query, keep_blank_values=True)))
                    alike[asked] += 1
                    if alike[asked] <= MOST_ALIKE:
                        waiting.append(link)
            for form in page.forms:
                forms.setdefault((form.method, shape(form.action), *sorted(form.fields)), form)
        for form in forms.values():
            self._send(form)

    def _send(self, form: Sent) -> None:
        if form.action in NOT_SENT:
            return
        ways: list[dict[str, str]] = [dict.fromkeys(form.typed, text) for text in HOSTILE]
        for way in [dict.fromkeys(form.fields, "x"), *ways, {}]:  # as it stands last: it may change much
            data = {**form.fields, **way}
            if form.method == "get":
                self._ask("GET", form.action, params=data)
            elif form.files:
                self._ask("POST", form.action, data=data, files=dict.fromkeys(form.files, ("a.toml", b"\x00<b>")))
            else:
                self._ask("POST", form.action, data=data)

    def _ask(self, method: str, address: str, **sent: Any) -> Response:  # noqa: ANN401 whatever the client takes
        self.asked += 1
        answer = self.client.request(method, address, headers={"accept": "text/html"}, **sent)
        self.received.append((f"{method} {address}", answer))
        if answer.status_code >= 500:
            self.broken.append((method, address, answer.status_code))
        return answer


def shape(address: str) -> str:
    """Address with what differs from band to band, judge to judge taken out: the same form on every band's page."""
    return re.sub(r"/(bands|sheets|links|jobs|pieces|protests)/[^/]+", r"/\1/*", address.partition("?")[0])


def texts_of(answer: Response) -> Iterator[str]:
    """Everything in an answer that somebody could read: headers, body, what is packed in it, the words of a paper."""
    yield "\n".join(f"{name}: {value}" for name, value in answer.headers.items())
    yield from unpacked(answer.content)


def unpacked(data: bytes) -> Iterator[str]:
    yield unescape(data.decode("utf-8", "replace"))
    yield data.decode("utf-16-le", "replace")
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            for name in packed.namelist():
                yield name
                yield from unpacked(packed.read(name))
    if data.startswith(b"%PDF") and (pdftotext := shutil.which("pdftotext")):
        with tempfile.TemporaryDirectory() as folder:
            paper = Path(folder) / "paper.pdf"
            paper.write_bytes(data)
            yield subprocess.run([pdftotext, paper, "-"], check=True, capture_output=True, text=True).stdout
            if pdfinfo := shutil.which("pdfinfo"):
                yield subprocess.run([pdfinfo, paper], check=True, capture_output=True, text=True).stdout


def around(word: str, text: str) -> str:
    """Where a word stands, for whoever has to mend it."""
    at = text.index(word)
    return text[max(0, at - 80) : at + 80]


def hidden_from(role: str, own: str) -> set[str]:
    """Names and identifiers that a role may not meet before the result is final."""
    keys = set(BANDS) - ({own} if own else set())
    if role in KNOWING:
        return set()
    return {word for key in keys for word in (key, BANDS[key], BANDS[key].replace("<b>", "").replace("</b>", ""))}


def comes_in(service: Service, role: str) -> tuple[TestClient, str, tuple[str, ...]]:
    """Client of a role, the band that is its own, and where it begins."""
    if role == "shadow judge":
        with service.store.write() as session:
            contest = contest_by_slug(session, "dell-deanery-six-bell-contest")
            assert contest is not None
            key = add_shadow_judge(session, contest, "Learner", who="test").key
        return service.visitor("judge", key), "", (f"{ADDRESS}/judging", "/")
    if role == "stranger":
        return service.stranger(), "", ("/",)
    own = {"own": "saltmarsh", "rival": "gorse"}.get(role, "")
    client = {
        "public": service.visitor,
        "own": lambda: service.visitor("band", own),
        "rival": lambda: service.visitor("band", own),
        "judge": lambda: service.visitor("judge", "ann"),
        "steward": lambda: service.visitor("steward"),
        "organiser": lambda: service.visitor("organiser"),
        "service": lambda: service.visitor("organiser", anywhere=True),
    }[role]()
    start = {"judge": "/judging", "steward": "/ringing", "organiser": "/desk", "service": "/desk"}.get(role, "")
    return client, own, (f"{ADDRESS}{start}", "/")


#: Organisers know every name and have the most forms: they are sent while the bands ring.
CASES = [(role, phase) for role in ROLES for phase in PHASES if role not in ORGANISING or phase == "ringing"]


@pytest.mark.parametrize(("role", "phase"), CASES)
def test_nothing_breaks_and_no_name_gets_out_before_the_result_is_final(
    service: Service, role: str, phase: str
) -> None:
    service.set_phase(phase)
    client, own, starts = comes_in(service, role)
    crawl = Crawl(client)

    crawl.run(*starts)

    hidden = hidden_from(role, own)
    leaked = {
        (what, around(word, text))
        for what, answer in crawl.received
        for text in texts_of(answer)
        for word in hidden
        if word in text
    }
    assert crawl.broken == []
    assert leaked == set()
    assert crawl.asked > 20


def test_the_search_finds_a_name_wherever_it_is_put() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.txt", "Saltmarsh &amp; Co")

    assert any("Saltmarsh & Co" in text for text in unpacked(packed.getvalue()))
    assert any("pinfold" in text for text in texts_of(Response(200, headers={"content-disposition": "pinfold.wav"})))
