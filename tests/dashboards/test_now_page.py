"""The first page is made once for many browsers, is never another visitor's, and shows at once what somebody did."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.responses import PlainTextResponse

from daemon.access.values import Role, Visitor
from daemon.overview import Overview
from dashboards.now_page import NowPage
from dashboards.seen_at_once import SeenAtOnce
from dashboards.source import NothingToShowError, Source
from dashboards.visiting import visit
from tests.dashboards import samples
from tests.dashboards.asking import ask
from tests.support.processes import wait_until

LINKS = {"with_inbox": False, "with_alarms": False, "with_clutches": False, "with_answers": True}
LONG_S = 3600.0


class Counted:
    """Gives what a test puts in, and counts how often it was asked."""

    def __init__(self, now: Overview) -> None:
        self.now = now
        self.asked = 0

    def __call__(self) -> Overview:
        self.asked += 1
        return self.now


def alarmed() -> Overview:
    """An alarm that somebody may answer, so that there is a form with a token."""
    return samples.overview(samples.incubator(alarms=(replace(samples.alarm(), key="k", occurrence="o", version=1),)))


def as_visitor(who: Visitor | None, work: Callable[[], str]) -> str:
    """Do something in a request of somebody: each has a thread of its own."""

    def asked() -> str:
        visit(who)
        return work()

    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asked).result()


def test_an_answer_serves_everybody_for_a_while_and_is_asked_for_anew_after_a_change() -> None:
    ask_for = Counted(samples.overview())
    source = Source(ask_for, LONG_S)
    assert source() is source()
    assert ask_for.asked == 1
    source.forget()
    source()
    assert ask_for.asked == 2


def test_without_keeping_every_call_asks() -> None:
    ask_for = Counted(samples.overview())
    source = Source(ask_for)
    source()
    source()
    assert ask_for.asked == 2


def test_of_many_who_ask_at_once_one_does_the_work() -> None:
    started, go_on = threading.Event(), threading.Event()
    asked: list[int] = []

    def slow() -> int:
        asked.append(1)
        started.set()
        go_on.wait(10)
        return 7

    source = Source(slow, LONG_S)
    with ThreadPoolExecutor(8) as pool:
        found = [pool.submit(source) for _ in range(8)]
        assert started.wait(10)
        go_on.set()
        assert [each.result(10) for each in found] == [7] * 8
    assert asked == [1]


def test_what_changed_while_an_answer_was_being_made_is_not_missed() -> None:
    started, go_on = threading.Event(), threading.Event()
    answers = iter(["before", "after"])

    def slow() -> str:
        found = next(answers)
        started.set()
        go_on.wait(10)
        return found

    source = Source(slow, LONG_S)
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(source)
        assert started.wait(10)
        source.forget()
        go_on.set()
        assert first.result(10) == "before"
    assert source() == "after"


def test_a_failure_is_not_kept() -> None:
    answers: list[str] = []

    def failing() -> str:
        if not answers:
            answers.append("there")
            raise OSError("no disk")
        return answers[0]

    source = Source(failing, LONG_S)
    with pytest.raises(NothingToShowError):
        source()
    assert source() == "there"


def test_each_visitor_gets_the_token_of_their_own_and_what_their_role_may_do() -> None:
    page = NowPage(Source(Counted(alarmed()), LONG_S), LINKS)
    ana, ben = Visitor("ana", Role.KEEPER, "token-of-ana"), Visitor("ben", Role.KEEPER, "token-of-ben")
    again, reader = Visitor("ana", Role.KEEPER, "other-phone-of-ana"), Visitor("cleo", Role.VIEWER, "token-of-cleo")
    pages = {each.guard: as_visitor(each, page.html) for each in (ana, ben, again, reader)}
    for guard, html in pages.items():
        others = set(pages) - {guard}
        assert not any(other in html for other in others)
        assert "the-guard-of-whoever-asks" not in html
    for guard in ("token-of-ana", "token-of-ben", "other-phone-of-ana"):
        assert f'name="guard" value="{guard}"' in pages[guard]
    assert 'action="/alarms/acknowledge"' in pages["token-of-ana"]
    assert 'action="/alarms/acknowledge"' not in pages["token-of-cleo"]


def test_of_many_phones_that_ask_in_the_moment_of_a_change_one_has_the_page_made() -> None:
    phones, made = 12, []
    asked = Counted(alarmed())

    class Watched(NowPage):
        def _rendered(self, *view: Any) -> str:
            made.append(threading.get_ident())
            wait_until(lambda: asked.asked >= phones, "all phones")
            return super()._rendered(*view)

    page = Watched(asked, LINKS)

    def ask_as(number: int) -> str:
        visit(Visitor("ana", Role.KEEPER, f"token-{number}"))
        return page.html()

    with ThreadPoolExecutor(phones) as pool:
        pages = list(pool.map(ask_as, range(phones)))
    assert len(made) == 1
    assert [f'value="token-{number}"' in html for number, html in enumerate(pages)] == [True] * phones


def test_whoever_has_a_session_is_offered_its_end_and_whoever_has_none_is_not() -> None:
    page = NowPage(Source(Counted(samples.overview()), LONG_S), LINKS)
    without = as_visitor(Visitor("ana", Role.KEEPER, "token"), page.html)
    with_one = as_visitor(Visitor("ana", Role.KEEPER, "token", session=7), page.html)
    assert "sign-out" not in without
    assert "sign-out" in with_one


def test_the_page_is_that_of_the_overview_of_now() -> None:
    ask_for = Counted(samples.overview())
    page = NowPage(Source(ask_for), LINKS)
    assert "28.4<" in as_visitor(None, page.html)
    before = page.version()
    ask_for.now = samples.overview(samples.incubator(samples.temperature(29.7)))
    assert "29.7<" in as_visitor(None, page.html)
    assert page.version() != before


@pytest.mark.parametrize(("method", "forgotten"), [("GET", 0), ("HEAD", 0), ("POST", 1), ("DELETE", 1)])
def test_only_what_may_change_something_has_it_forgotten_and_before_the_answer(method: str, forgotten: int) -> None:
    app, done = FastAPI(), []
    app.add_middleware(SeenAtOnce, forget=lambda: done.append("forgotten"))

    @app.api_route("/", methods=["GET", "HEAD", "POST", "DELETE"])
    def work() -> PlainTextResponse:
        done.append("worked")
        return PlainTextResponse("")

    ask(app, "/", method)
    assert done == ["worked", *["forgotten"] * forgotten]
