"""The heartbeat against a real HTTP receiver."""

import json
import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from config.heartbeat import HeartbeatSettings
from config.settings import read_settings
from daemon.heartbeat import MISSES_SHOWN, Heartbeat
from tests.support.processes import free_port
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.secrets import assert_no_secret, secrets_of

PATH = "/T0pS3cret-x9Yz/c4fe-Babe?key=qu3ryT0ken"


def beating(url: str, reasons: Callable[[], list[str]] = list, **stated: Any) -> Heartbeat:
    return Heartbeat(HeartbeatSettings.model_validate({"url": url, **stated}), "Test house", reasons)


def test_a_heartbeat_says_that_all_is_well_and_where() -> None:
    with Receiver() as receiver:
        assert beating(receiver.url(PATH)).beat()
        [came] = receiver.received
    assert (came.method, came.path) == ("POST", PATH)
    assert came.json() == {
        "format": "clutchwarden-heartbeat-1",
        "site": "Test house",
        "healthy": True,
        "reasons": [],
    }


def test_with_get_nothing_but_the_address_is_asked() -> None:
    with Receiver() as receiver:
        assert beating(receiver.url(PATH), method="GET").beat()
        [came] = receiver.received
    assert (came.method, came.body) == ("GET", b"")


def test_while_not_all_is_well_nothing_is_sent_and_the_reason_is_logged_once(caplog: pytest.LogCaptureFixture) -> None:
    told = [[f"The newest reading is {minutes} min old."] for minutes in range(5)] + [[]]
    course = iter(told)
    with Receiver() as receiver, caplog.at_level(logging.INFO):
        heart = beating(receiver.url(PATH), lambda: next(course))
        for _ in range(5):
            assert heart.beat()
        assert list(receiver.received) == []
        assert [record.message for record in caplog.records] == [
            "No heartbeat is sent, because not all is well: The newest reading is 0 min old."
        ]
        heart.beat()
        assert len(receiver.received) == 1
    assert caplog.records[-1].message == "All is well again; heartbeats are sent."


def test_a_fail_url_is_told_the_reasons() -> None:
    with Receiver() as receiver:
        url = receiver.url("/fail/abcdefgh")
        beating(receiver.url(PATH), lambda: ["The broker is not connected."], fail_url=url).beat()
        [came] = receiver.received
    assert came.path == "/fail/abcdefgh"
    assert came.json()["healthy"] is False
    assert came.json()["reasons"] == ["The broker is not connected."]


@pytest.mark.parametrize(
    "answer", [Answer(404), Answer(302, {"Location": "http://127.0.0.1/"}), Answer(503), Answer(manner=Manner.HANG)]
)
def test_several_misses_are_a_trouble_and_neither_they_nor_the_log_hold_the_address(
    answer: Answer, caplog: pytest.LogCaptureFixture
) -> None:
    with Receiver() as receiver, caplog.at_level(logging.DEBUG):
        receiver.answer_with(answer)
        heart = beating(receiver.url(PATH), timeout_s=0.05)
        for _ in range(MISSES_SHOWN - 1):
            assert not heart.beat()
        assert heart.trouble == ""
        heart.beat()
        assert "did not take the last 3 heartbeats" in heart.trouble
        ours = [record.getMessage() for record in caplog.records]
        assert len(ours) == 1
        assert_no_secret([heart.trouble, *ours], secrets_of(receiver.url(PATH)))
        receiver.release()
        receiver.answer_with(Answer())
        assert beating_again(heart)
        assert heart.trouble == ""


def beating_again(heart: Heartbeat) -> bool:
    return any(heart.beat() for _ in range(20))


def test_that_the_outside_check_was_away_is_no_reason_to_tell_it_nothing_when_it_is_back() -> None:
    port = free_port()
    shown: list[Heartbeat] = []
    heart = beating(f"http://127.0.0.1:{port}/ping", lambda: [one.trouble for one in shown if one.trouble])
    shown.append(heart)
    for _ in range(MISSES_SHOWN + 2):
        heart.beat()
    assert heart.trouble
    with Receiver(port) as receiver:
        assert heart.beat()
        assert receiver.received[0].json()["healthy"] is True


def test_it_beats_in_a_thread_of_its_own_and_ends_at_once_although_the_check_hangs() -> None:
    with Receiver() as receiver:
        receiver.answer_with(Answer(manner=Manner.HANG))
        heart = beating(receiver.url(PATH), every_s=1, timeout_s=60)
        heart.start()
        receiver.wait_for(1)
        heart.stop()  # waits for nothing


def test_without_an_address_nothing_is_started() -> None:
    heart = Heartbeat(HeartbeatSettings(), "Test house", list)
    heart.start()
    assert heart.beat()
    assert heart.trouble == ""


@pytest.mark.parametrize(
    ("stated", "key", "said"),
    [
        ('url = "http://a.example"\nurl_file = "x"', "heartbeat", "both url and url_file"),
        ('fail_url = "http://a.example/T0ken99"', "heartbeat", "fail_url is given without url"),
        ('url = "T0ken99"', "heartbeat.url", "not a web address"),
        ('url = "ftp://a.example/T0ken99"', "heartbeat.url", "not a web address"),
        ('url_file = "missing"', "heartbeat.url_file", "cannot be read"),
        ('url = "http://a.example"\nmethod = "T0ken99"', "heartbeat.method", "not one of the words"),
        ('url = "http://a.example"\nevery_s = 0', "heartbeat.every_s", "0 is not"),
        ('adress = "T0ken99"', "heartbeat.adress", "not a key"),
    ],
)
def test_what_cannot_be_meant_is_refused_without_its_content(tmp_path: Path, stated: str, key: str, said: str) -> None:
    (tmp_path / "settings.toml").write_text(f"[heartbeat]\n{stated}\n", encoding="utf-8")
    read = read_settings(tmp_path)
    assert read.settings is None
    [mistake] = read.mistakes
    assert mistake.key == key
    assert said in mistake.reason
    assert "T0ken99" not in str(mistake)


def test_the_address_may_lie_in_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("http://a.example/T0ken99\n", encoding="utf-8")
    (tmp_path / "settings.toml").write_text('[heartbeat]\nurl_file = "secret"\n', encoding="utf-8")
    settings = read_settings(tmp_path).settings
    assert settings is not None
    url = settings.heartbeat.reveal_url()
    assert url is not None
    assert url.get_secret_value() == "http://a.example/T0ken99"
    assert "T0ken99" not in repr(settings) + json.dumps(settings.model_dump(mode="json"))
