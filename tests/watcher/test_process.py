"""The watcher as a real process: what its daemon does, and what arrives at a real HTTP receiver.

X-19 and X-20 of the checks in tests/alarms/README.md.
"""

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from config.heartbeat import HeartbeatSettings
from daemon.cli import main
from daemon.heartbeat import Heartbeat
from tests.support.household import House, Probe, now_ms, pack, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import free_port, wait_until
from tests.support.receiver import Answer, Manner, Receiver
from tests.watcher.watching import LISTENING, TOKEN, Watching, asking, link_in, turns

SMALL_MB = 60


@pytest.fixture
def phone() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@dataclass
class Command:
    """`clutchwarden watch` in this process, which is quicker than in one of its own."""

    patch: pytest.MonkeyPatch
    caught: pytest.CaptureFixture[str]

    def __call__(self, watching: Watching, *options: str) -> tuple[int, str, str]:
        self.patch.setattr(sys, "argv", ["clutchwarden", "watch", str(watching.file), *options])
        with pytest.raises(SystemExit) as ended:
            main()
        said = self.caught.readouterr()
        return int(ended.value.code or 0), said.out, said.err


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    return Command(monkeypatch, capsys)


@pytest.fixture
def outside() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.mark.services
def test_a_daemon_that_is_killed_is_told_and_its_return_is_told_once(
    tmp_path: Path, mosquitto: Mosquitto, phone: Receiver, outside: Receiver
) -> None:
    house = House(write_site(tmp_path / "site", mosquitto.port))
    (house.folder / "outside").write_text(outside.url("/p1ng-S3cret"), encoding="utf-8")
    with (house.folder / "settings.toml").open("a", encoding="utf-8") as stated:
        stated.write('[heartbeat]\nurl_file = "outside"\nevery_s = 1\n')
    command = ("-m", "daemon.cli", "watch")
    # Repeated, since a question that took too long may be the reason that stands in any single message.
    watching = Watching(
        tmp_path / "watcher", asking(f"{house.url}/health"), phone.url("/phone"), repeat_s=1, command=command
    )
    probe = Probe(mosquitto.port)
    house.start()
    try:
        watching.start()
        # Before the first reading the daemon itself says that it is not well: 503, with the reason.
        why = "Why: No reading has arrived yet."
        first = watching.wait_to_tell(phone, why, lambda each: why in each["body"])["occurrence"]
        wait_until(lambda: "No heartbeat is sent" in house.service.output(), "the daemon to say why it tells nothing")
        assert outside.received == ()
        probe.send([pack(now_ms(), {"air": 28.5})])
        watching.wait_to_tell(
            phone, "the return", lambda each: (each["kind"], each["occurrence"]) == ("cleared", first)
        )
        assert outside.wait_for(2, 30)[0].json()["healthy"] is True

        earlier = watching.told(phone)
        house.service.kill()
        why = "Why: no answer: no connection: refused"
        lost = watching.wait_to_tell(phone, why, lambda each: each not in earlier and why in each["body"])["occurrence"]
        silent = next(each for each in watching.told(phone) if each["occurrence"] == lost)
        assert silent["headline"] == "CRITICAL Test house: nobody watches the eggs"
        assert silent["status"] == "actual"
        assert silent["priority"] == 1
        assert "Nobody has answered yet" in watching.get("/")[1]

        probe.send([pack(now_ms(), {"air": 28.5})])
        house.start()
        over = "CLEARED Test house: the watch is back"
        watching.wait_to_tell(phone, over, lambda each: (each["headline"], each["occurrence"]) == (over, lost))
        wait_until(lambda: "Last well answer" in watching.get("/")[1], "the page to say so")
        assert watching.service.stop() == 0, watching.service.output()
        told = turns(watching.told(phone))
        assert told[first] == told[lost] == ["alarm", "cleared"]
        # Answers that took too long on a busy machine may have been a silence of their own, which is told once too.
        assert all(len(each) == len(set(each)) for each in told.values())
        assert "S3cret" not in house.service.output()
    finally:
        probe.close()
        watching.service.stop()
        house.service.stop()


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        (Answer(manner=Manner.HANG), "it took the connection but did not answer in time"),
        (Answer(manner=Manner.CLOSE_EARLY), "no connection"),
        (Answer(manner=Manner.DRIP_HEADERS), "it held the connection too long"),
        (Answer(manner=Manner.DRIP_BODY), "it held the connection too long"),
        (Answer(200), "something answered 200, but not as clutchwarden does"),
        (Answer(302, {"Location": "/elsewhere"}), "something answered 302, but not as clutchwarden does"),
    ],
    ids=lambda value: value.manner.name + str(value.status) if isinstance(value, Answer) else "",
)
def test_whatever_is_no_clear_yes_is_told(tmp_path: Path, phone: Receiver, answer: Answer, why: str) -> None:
    sentence = f"Why: {'' if 'answered' in why else 'no answer: '}{why}"
    with Receiver() as daemon:
        daemon.answer_with(answer)
        # The reason told is that of the newest question, which on a busy machine may be that the answer took too long.
        watching = Watching(tmp_path, asking(daemon.url("/health")), phone.url(), repeat_s=1)
        watching.start()
        try:
            watching.wait_to_tell(phone, sentence, lambda each: sentence in each["body"])
        finally:
            watching.service.stop()
    first, *more = watching.kinds(phone)
    assert first == "alarm"
    assert set(more) <= {"reminder"}


def test_a_restart_forgets_nothing_and_repeats_nothing_and_an_answer_ends_the_repetition(
    tmp_path: Path, phone: Receiver
) -> None:
    watching = Watching(tmp_path, asking(f"http://127.0.0.1:{free_port()}/health"), phone.url())
    watching.start()
    try:
        link = link_in(phone.wait_for(1)[0].json()["body"])
        wait_until(
            lambda: '"token"' in (kept := watching.memory()) and '"unsent": {}' in kept,
            "the memory to know that it was accepted",
        )
        watching.service.kill()
        watching.start()
        path = link.removeprefix(f"http://127.0.0.1:{watching.port}")
        for _ in range(3):  # a mail program that opens links answers nothing
            assert watching.get(path)[0] == 200
        assert "Nobody has answered yet" in watching.get("/")[1]
        assert watching.answer(link, "")[0] == 400
        assert watching.answer(f"{link}x", "Ana")[0] == 410
        assert watching.answer(link, "Ana <Lopez>")[0] == 200
        assert "Ana &lt;Lopez&gt; has answered already." in watching.answer(link, "Ben")[1]
        watching.wait_to_tell(phone, "that she looks after it", lambda each: each["kind"] == "reminder")
    finally:
        watching.service.stop()
    assert watching.kinds(phone) == ["alarm", "reminder"]
    taken = watching.told(phone)[1]
    assert taken["headline"] == "UPDATE Test house: somebody looks after it"
    assert taken["body"].startswith("Ana <Lopez> has answered, ")
    assert watching.file.with_name("watch.state.json").stat().st_mode & 0o777 == 0o600
    assert link.rpartition("/")[2] not in watching.service.output()


def test_it_is_repeated_until_answered_and_by_command_too(tmp_path: Path, phone: Receiver, command: Command) -> None:
    url = f"http://127.0.0.1:{free_port()}/health"
    watching = Watching(tmp_path, asking(url), phone.url(), repeat_s=1)
    watching.start()
    try:
        wait_until(lambda: len(watching.told(phone)) >= 3, "two repetitions")
        assert watching.kinds(phone)[:3] == ["alarm", "reminder", "reminder"]
        assert command(watching, "--answer", "--who", "Ben")[:2] == (
            0,
            "Noted: Ben looks after it. The others are told.\n",
        )
        page = watching.get("/")[1]
        assert "Ben looks after it." in page
    finally:
        watching.service.stop()


def test_a_message_that_nobody_accepted_before_a_kill_is_sent_by_the_next_run(tmp_path: Path) -> None:
    port = free_port()
    watching = Watching(
        tmp_path, asking(f"http://127.0.0.1:{free_port()}/health"), f"http://127.0.0.1:{port}/S3cret-pl4ce"
    )
    watching.start()
    wait_until(lambda: '"ana/0": {' in watching.memory(), "the memory to hold the message")
    wait_until(lambda: "Not delivered to ana/0" in watching.service.output(), "the log to say so")
    watching.service.kill()
    with Receiver(port) as phone:
        watching.start()
        try:
            assert phone.wait_for(1)[0].json()["kind"] == "alarm"
        finally:
            watching.service.stop()
    assert "S3cret" not in watching.service.output()


def test_a_heartbeat_that_stops_is_told_and_one_that_says_what_is_wrong_too(tmp_path: Path, phone: Receiver) -> None:
    # Repeated, so that the reason is told also where it came only after the silence was noticed.
    watching = Watching(tmp_path, LISTENING, phone.url(), repeat_s=1)
    watching.start()
    url = f"http://127.0.0.1:{watching.port}/heartbeat/{TOKEN}"
    reasons: list[str] = []
    heart = Heartbeat(HeartbeatSettings.model_validate({"url": url, "fail_url": url}), "Test house", lambda: reasons)
    try:
        assert heart.beat()
        reasons.append("The disk is full.")
        assert heart.beat()
        why = "Why: The disk is full."
        first = watching.wait_to_tell(phone, why, lambda each: why in each["body"])["occurrence"]
        assert watching.post("/heartbeat/wrong-wrong-wrong-wrong", b"")[0] == 404
        assert watching.post(f"/heartbeat/{TOKEN}", b"<html>")[0] == 400
        assert watching.post(f"/heartbeat/{TOKEN}", b"x" * 70_000)[0] == 400
        assert watching.get(f"/heartbeat/{TOKEN}")[0] == 405
        reasons.clear()

        def returned() -> bool:
            return heart.beat() and "cleared" in watching.kinds(phone)

        wait_until(returned, "the return to be told")
        silent = watching.wait_to_tell(phone, "the silence", lambda each: each["occurrence"] != first)
        assert "Why" not in silent["body"]
    finally:
        watching.service.stop()
    told = turns(watching.told(phone))
    assert list(told) == [first, silent["occurrence"]]
    assert told[first] == ["alarm", "cleared"]
    # A repetition takes the place of an alarm that a receiver which stands still has not taken.
    assert told[silent["occurrence"]] in (["alarm"], [])
    assert TOKEN not in watching.service.output()


@pytest.mark.parametrize("kind", ["webhook", "apprise"])
def test_it_stays_small_also_after_it_has_sent(tmp_path: Path, phone: Receiver, kind: str) -> None:
    way = phone.url("/phone") if kind == "webhook" else phone.url("/phone", scheme="json")
    source = asking(f"http://127.0.0.1:{free_port()}/health")
    watching = Watching(tmp_path, source, way, kind=kind, command=("-m", "daemon.cli", "watch"))
    watching.start()
    try:
        phone.wait_for(1)
        assert watching.memory_mb() < SMALL_MB
    finally:
        watching.service.stop()


def test_it_needs_no_journal_no_pages_no_broker_and_no_numbers() -> None:
    program = (
        "import json, sys, daemon.watcher.__main__, daemon.alarms.webhook;"
        "print(json.dumps(sorted(name.partition('.')[0] for name in sys.modules)));"
        "print(json.dumps(sorted(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True, text=True)
    roots, modules = map(set, map(json.loads, done.stdout.splitlines()))
    assert {"requests", "pydantic"} <= roots
    unwanted = {"numpy", "sqlite3", "fastapi", "starlette", "uvicorn", "jinja2", "paho", "amqtt", "apscheduler", "rich"}
    assert roots & (unwanted | {"typer", "influxdb_client", "dashboards", "sensors", "apprise"}) == set()
    assert [name for name in modules if name.startswith(("daemon.storage", "daemon.service", "daemon.commands"))] == []


def test_the_command_checks_tries_and_refuses(tmp_path: Path, phone: Receiver, command: Command) -> None:
    watching = Watching(tmp_path, asking("http://127.0.0.1:9/health"), phone.url("/S3cret-pl4ce"))
    assert command(watching, "--check") == (0, "Test house: 1 person to tell. No mistakes.\n", "")
    code, out, _ = command(watching, "--test", "--json")
    assert (code, json.loads(out)) == (0, [{"contact": "ana/0", "name": "Ana", "error": None}])
    assert phone.received[0].json()["headline"] == "TEST: Test house: nothing is wrong"
    phone.answer_with(Answer(410))
    code, failed, _ = command(watching, "--test")
    assert code == 1
    assert failed.startswith("Ana: the receiver answered 410")
    for options, said in ((("--test", "--check"), "Give one of"), (("--answer",), "there is nothing to answer")):
        code, out, refused = command(watching, *options)
        assert (code, out) == (2, "")
        assert said in refused
    watching.file.write_text(watching.file.read_text(encoding="utf-8") + 'pet = "x"\n', encoding="utf-8")
    code, _, wrong = command(watching)
    assert code == 2
    assert "watch.toml: person.ana.contact#1.pet" in wrong
    assert "S3cret" not in wrong + failed


def test_a_port_that_is_taken_is_said(tmp_path: Path, phone: Receiver) -> None:
    watching = Watching(tmp_path, asking("http://127.0.0.1:9/health"), phone.url(), port=phone.port)
    watching.service.start()
    assert watching.service.process is not None
    assert watching.service.process.wait(30) == 2
    assert "cannot be opened (address already in use)" in watching.service.output()
