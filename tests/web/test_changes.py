"""News of a contest for a desk that is left open."""

import asyncio
from collections.abc import AsyncIterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from judging.store import StoredContest, audit, contest_by_slug
from judging.web import changes

from .conftest import ADDRESS, SLUG, Service


@pytest.fixture
def slow_news(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(changes, "LONGEST_S", 5.0)


def contest_of(service: Service) -> StoredContest:
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
    assert contest is not None
    return contest


def touch(service: Service) -> None:
    with service.store.write() as session:
        audit(session, who="test", what="something happened", contest=SLUG)


async def next_news(news: AsyncIterator[str]) -> str:
    async for line in news:
        if line.startswith("data:"):
            return line
    return "over"


@pytest.mark.usefixtures("slow_news")
def test_each_change_is_told_once_and_the_stream_ends_with_the_session(service: Service) -> None:
    organiser = service.visitor("organiser")
    token = organiser.cookies["evenblow"]

    async def listen() -> list[str]:
        news = changes.changes(service.store, contest_of(service), token)
        heard = [await anext(news)]
        for _ in range(2):
            touch(service)
            heard.append(await next_news(news))
        organiser.post("/leave")
        heard.append(await next_news(news))
        return heard

    with ThreadPoolExecutor(1) as thread:  # the browser tests' own event loop may still be running in this one
        heard = thread.submit(asyncio.run, listen()).result()
    assert heard == [": listening\n\n", "data: 1\n\n", "data: 2\n\n", "over"]


def test_news_of_another_contest_is_none(service: Service) -> None:
    before = changes.state_of(service.store, contest_of(service))
    with service.store.write() as session:
        audit(session, who="test", what="something happened", contest="another")

    assert changes.state_of(service.store, contest_of(service)) == before
    touch(service)
    assert changes.state_of(service.store, contest_of(service)) != before


def test_the_stream_is_no_page_and_is_kept_by_nobody(service: Service) -> None:
    answer = service.visitor("organiser").get(f"{ADDRESS}/desk/changes")

    assert answer.headers["content-type"].startswith("text/event-stream")
    assert answer.headers["cache-control"] == "no-store"
