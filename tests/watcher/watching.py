"""A watcher as a real process, with short spans, its file and its memory in a folder of the test's own."""

import sys
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from tests.support.processes import Service, answers, free_port, wait_until
from tests.support.receiver import Received, Receiver

Message = dict[str, Any]

TOKEN = "c0ffee-c0ffee-c0ffee"
FILE = """\
name = "Test house"
time_zone = "Europe/Madrid"
[page]
port = {port}
url = "http://127.0.0.1:{port}"
[alarm]
silence_s = 1.5
repeat_s = {repeat_s}
back_after_s = 0.3
[delivery]
timeout_s = 10
{source}
[[person]]
id = "ana"
name = "Ana"
[[person.contact]]
kind = "{kind}"
url = "{phone}"
"""


def asking(url: str) -> str:
    return f'[poll]\nurl = "{url}"\nevery_s = 0.2\ntimeout_s = 0.5\n'


LISTENING = '[listen]\ntoken_file = "token"\n'


@dataclass
class Watching:
    """The watcher's folder and process. `command` is how it is started."""

    folder: Path
    source: str
    phone: str
    kind: str = "webhook"
    repeat_s: float = 3600
    command: tuple[str, ...] = ("-m", "daemon.watcher")
    port: int = field(default_factory=free_port)
    service: Service = field(init=False)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / "token").write_text(TOKEN, encoding="utf-8")
        text = FILE.format(port=self.port, repeat_s=self.repeat_s, source=self.source, kind=self.kind, phone=self.phone)
        self.file.write_text(text, encoding="utf-8")
        self.service = Service([sys.executable, *self.command, str(self.file)], self.folder / "watcher.log")

    @property
    def file(self) -> Path:
        """The watcher's file."""
        return self.folder / "watch.toml"

    def start(self) -> None:
        """Start it, and wait until its port answers."""
        self.service.start()
        wait_until(lambda: answers(self.port) or not self.service.running, "the watcher's port", 30)
        assert self.service.running, self.service.output()

    def get(self, path: str) -> tuple[int, str]:
        """Open a page."""
        return _open(urllib.request.Request(f"http://127.0.0.1:{self.port}{path}"))

    def post(self, path: str, body: bytes) -> tuple[int, str]:
        """Press a button, or send a heartbeat."""
        return _open(urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data=body))

    def answer(self, link: str, who: str) -> tuple[int, str]:
        """Answer by a link from a message."""
        return self.post(link.removeprefix(f"http://127.0.0.1:{self.port}"), urlencode({"who": who}).encode())

    def told(self, phone: Receiver) -> list[Message]:
        """Each message that came, once; it may have come again only after a try that the log calls a failed one.

        A receiver that stands still between a request and its answer gets the same message again.
        """
        came = phone.received
        once: dict[str, Message] = {}
        for message in map(Received.json, came):
            once.setdefault(message["message_id"], message)
        again = len(came) - len(once)
        assert not again or again <= self.service.output().count("Not delivered to"), "told twice"
        return list(once.values())

    def kinds(self, phone: Receiver) -> list[str]:
        """Of what kind each message was."""
        return [message["kind"] for message in self.told(phone)]

    def wait_to_tell(self, phone: Receiver, what: str, fits: Callable[[Message], bool]) -> Message:
        """Wait for a message that fits, and give the first such."""
        wait_until(lambda: any(map(fits, self.told(phone))), what)
        return next(filter(fits, self.told(phone)))

    def memory(self) -> str:
        """What it remembers, as it is written."""
        path = self.folder / "watch.state.json"
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def memory_mb(self) -> float:
        """The resident memory of the process."""
        assert self.service.process is not None
        status = Path(f"/proc/{self.service.process.pid}/status").read_text(encoding="utf-8")
        return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")) / 1024


def turns(told: Sequence[Message]) -> dict[str, list[str]]:
    """What was told of each silence, by its name, apart from what only repeats or adds."""
    found: dict[str, list[str]] = {}
    for message in told:
        found.setdefault(message["occurrence"], []).extend({message["kind"]} - {"reminder"})
    return found


def link_in(body: str) -> str:
    """The link at the end of a message."""
    last = body.splitlines()[-1]
    assert last.startswith("Answer: http://")
    return last.removeprefix("Answer: ")


def _open(request: urllib.request.Request) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()
