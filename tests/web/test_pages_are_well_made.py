"""Every page that a visitor can reach: well-formed, reachable without a script, named for those who cannot see it."""

from collections import Counter
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient

from .conftest import ADDRESS, BANDS, Service

VOID = frozenset(["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"])


class Page(HTMLParser):
    """What a page is made of."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.wrong: list[str] = []
        self.feed(text)
        self.wrong += [f"<{tag}> is never closed" for tag in self.open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(f"</{tag}> closes nothing")

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for found, attributes in self.tags if found == tag]


def faults_of(text: str) -> list[str]:
    """Everything wrong with a page's making."""
    page = Page(text)
    wrong = list(page.wrong)
    ids = Counter(attributes["id"] for _, attributes in page.tags if attributes.get("id"))
    wrong += [f"id {name} is there {count} times" for name, count in ids.items() if count > 1]
    if len(page.named("h1")) != 1:
        wrong.append(f"{len(page.named('h1'))} headings of the first order")
    if page.named("html")[0].get("lang") != "en-GB":
        wrong.append("no language")
    labels = {attributes.get("for") for attributes in page.named("label")}
    for tag in ("input", "select", "textarea", "progress"):
        wrong += [
            f"<{tag} {attributes.get('name')}> has no label"
            for attributes in page.named(tag)
            if attributes.get("type") != "hidden" and attributes.get("id") not in labels
        ]
    wrong += [
        f"<{tag}> has an inline {name}"
        for tag, found in page.tags
        for name in found
        if name == "style" or name.startswith("on")
    ]
    wrong += ["a script inside the page" for found in page.named("script") if "src" not in found]
    wrong += ["a style sheet inside the page" for _ in page.named("style")]
    wrong += ["a table without a caption" for _ in range(len(page.named("table")) - len(page.named("caption")))]
    wrong += [f"{name} points at nothing" for _, found in page.tags for name in _pointed_at(found) if name not in ids]
    wrong += ["a heading cell without a scope" for found in page.named("th") if "scope" not in found]
    return wrong


def _pointed_at(attributes: dict[str, str | None]) -> list[str]:
    names = []
    for name in ("aria-labelledby", "aria-describedby"):
        names += (attributes.get(name) or "").split()
    return names


def crawl(client: TestClient, start: str = "/") -> dict[str, str]:
    """Text of every page that follows from links and forms read with GET, by address."""
    pages: dict[str, str] = {}
    waiting = [start]
    while waiting:
        address = waiting.pop()
        if address in pages:
            continue
        answer = client.get(address)
        assert answer.status_code < 400, (address, answer.status_code)
        if answer.has_redirect_location:
            waiting.append(answer.headers["location"])
            continue
        is_page = answer.headers["content-type"].startswith("text/html")
        pages[address] = (
            answer.text if not answer.headers["content-type"].startswith(("audio", "application/pdf")) else ""
        )
        if is_page:
            for attributes in Page(answer.text).named("a"):
                target = (attributes.get("href") or "").partition("#")[0]
                if target.startswith("/") and not target.startswith("//"):
                    waiting.append(target)
    return pages


@pytest.mark.parametrize("role", ["public", "organiser", "judge", "steward"])
def test_every_page_that_links_lead_to_is_well_made(service: Service, role: str) -> None:
    if role in {"judge", "steward"}:
        service.set_phase("ringing")
    client = service.visitor(role, "ann" if role == "judge" else "", anywhere=role == "organiser")

    start = {"judge": f"{ADDRESS}/judging", "steward": f"{ADDRESS}/ringing"}.get(role, "/")
    pages = {
        address: text
        for address, text in crawl(client, start).items()
        if text.startswith("<!doctype html>") and not address.endswith(".html")  # a paper to keep, with its own style
    }

    assert len(pages) >= {"public": 6, "organiser": 20, "judge": 6, "steward": 6}[role]
    assert {address: wrong for address, text in pages.items() if (wrong := faults_of(text))} == {}


@pytest.mark.parametrize("phase", ["published", "drawn", "ringing", "sheets in", "provisional", "protest"])
@pytest.mark.parametrize("role", ["public", "judge", "band"])
def test_no_name_is_in_any_byte_that_is_sent_before_the_result_is_final(
    service: Service, role: str, phase: str
) -> None:
    service.set_phase(phase)
    client = service.visitor(role, {"judge": "ann", "band": "gorse"}.get(role, ""))
    start = f"{ADDRESS}/judging" if role == "judge" else "/"

    pages = crawl(client, start)

    hidden = {name for key, name in BANDS.items() if role != "band" or key != "gorse"} | set(BANDS) - {"gorse"}
    found = {(address, name) for address, text in pages.items() for name in hidden if name in text or name in address}
    assert found == set()


def test_the_checker_finds_what_it_looks_for() -> None:
    bad = (
        '<!doctype html><html lang="en-GB"><h1>a</h1><h1>b</h1><p id="x" style="a"><p id="x"></p><input name="q">'
        "<table></table><th></th><script>1</script></html>"
    )

    found = " ".join(faults_of(bad))

    for words in (
        "2 headings",
        "inline style",
        "id x",
        "no label",
        "without a caption",
        "without a scope",
        "a script",
        "closes nothing",
    ):
        assert words in found
