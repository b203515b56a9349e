"""The watcher at work: asks or listens, steps through the rules once a second, sends, and remembers."""

import logging
import os
import secrets
import threading
import time
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import SecretStr

from config.notify import Notifier
from config.watch import Poll, WatchFile
from daemon.alarms.figures import clock_text, duration_text
from daemon.contacts import channels
from daemon.http_call import Answered, HttpCall
from daemon.watcher import saved, wording
from daemon.watcher.health_answer import LARGEST_BYTES, judge
from daemon.watcher.page import Doors, Port
from daemon.watcher.rules import TICK_S, Event, Fresh, Incident, Moment, NotWell, Policy, Tick, Well, begin, step
from daemon.watcher.sender import Sender

log = logging.getLogger("clutchwarden.watcher")

KEEP_EVERY_S = 30.0
"""So often the memory is written while something is wrong; while all is well there is nothing to remember."""


class WatchError(Exception):
    """The watcher cannot start; the text says why and what to do."""


class Watcher:
    """Watches one daemon. `start` returns; `run` steps until `stop` is called."""

    def __init__(self, file: WatchFile, manager: Notifier | None = None) -> None:
        self._manager = Notifier({}) if manager is None else manager
        alarm = file.stated.alarm
        self._file = file
        self._zone = ZoneInfo(file.stated.time_zone)
        self._policy = Policy(alarm.silence_s, alarm.repeat_s, alarm.back_after_s, alarm.answer_holds_h * 3600)
        self._lock = threading.RLock()
        self._stopping = threading.Event()
        ways = channels(file.site, file.folder, file.stated.delivery.timeout_s)
        self._sender = Sender(ways, _utc_ms, self._keep_now)
        self._state = begin(_now())
        self._kept_s = float("-inf")
        self._kept_text = ""
        self._told_manager = ""
        self._cannot_keep = ""

    def start(self) -> None:
        """Recall, open the port and begin to ask. Raises WatchError."""
        self._recall()
        page, stated = self._file.stated.page, self._file.stated
        doors = Doors(self._answer_page, self.standing, self._token, self._file.heartbeat_token, stated.name)
        try:
            port = Port(page.host, page.port, doors)
        except OSError as error:
            raise WatchError(
                f"{page.host}:{page.port} cannot be opened ({(error.strerror or 'not an address here').lower()}): "
                "another watcher may run with this file; or state another port under [page]."
            ) from error
        threading.Thread(target=port.serve_forever, args=(0.2,), name="page", daemon=True).start()
        self._sender.start()
        if stated.poll is not None and self._file.health_url is not None:
            asking = Asking(stated.poll, self._file.health_url, self.take, self._stopping)
            threading.Thread(target=asking.run, name="asking", daemon=True).start()

    def run(self) -> None:
        """Let time pass for the rules. No error ends it."""
        while not self._stopping.wait(TICK_S):
            try:
                self.take(Tick())
            except Exception:
                log.exception("A step of the watcher failed; the next one comes all the same.")
            self._tell_manager()
        self._manager.stopping()
        self._sender.stop(5.0)
        self._keep_now()

    def stop(self) -> None:
        """End `run`."""
        self._stopping.set()

    def take(self, event: Event) -> str:
        """Take in an event, send what follows, remember it; gives the reason. From any thread."""
        with self._lock:
            now = _now()
            before = self._state
            done = step(self._policy, before, event, now, Fresh(secrets.token_hex(8), secrets.token_urlsafe(16)))
            self._state = done.state
            if done.state.trouble and done.state.trouble != before.trouble:
                log.warning("%s is not well: %s", self._file.stated.name, done.state.trouble)
            for tell in done.effects:
                log.warning("Told to everybody (%s): %s.", tell.what, done.reason.rstrip("."))
                link = self._link(tell.incident)
                text = wording.message(tell, self._file.stated.name, self._zone, self._policy, now.utc_ms, link)
                self._sender.send(text)
            if done.effects or now.s - self._kept_s >= KEEP_EVERY_S:
                self._keep_now()
            return done.reason

    def standing(self) -> str:
        """How it stands, in a sentence or two."""
        with self._lock:
            state, now = self._state, _now()
        found = state.incident
        last = f"Last well answer {duration_text(round((now.s - state.well_s) * 1000))} ago."
        if found is None:
            return f"{last} {state.trouble}".strip()
        since = f"Not watched since {clock_text(found.began_ms, now.utc_ms, self._zone)}."
        if found.answered_s is not None:
            return f"{since} {found.who} looks after it."
        return f"{since} Nobody has answered yet. {state.trouble}".strip()

    def _tell_manager(self) -> None:
        """A round is done; say how it stands where that is new, without details: others of the machine may read it."""
        self._manager.alive()
        with self._lock:
            is_incident, is_troubled = self._state.incident is not None, bool(self._state.trouble)
        how = "silent or not well, and people were told" if is_incident else "no well answer" if is_troubled else "well"
        if how != self._told_manager:
            self._told_manager = how
            self._manager.status(f"{self._file.stated.name}: {how}.")

    def _answer_page(self, event: Event) -> str:
        return self.take(event)

    def _token(self) -> str | None:
        found = self._state.incident
        return None if found is None else found.token

    def _link(self, incident: Incident) -> str:
        url = self._file.stated.page.url
        return "" if url is None else f"{url.rstrip('/')}/answer/{incident.token}"

    def _recall(self) -> None:
        path = self._file.state_path
        try:
            text = path.read_text(encoding="utf-8")
        except FileNotFoundError:
            return
        except (OSError, UnicodeDecodeError) as error:
            log.warning("The memory %s cannot be read (%s); watching begins anew.", path, type(error).__name__)
            return
        try:
            self._state, unsent = saved.from_text(text, self._policy, _now())
        except saved.UnreadableError as error:
            log.warning("The memory %s is not used: %s. Watching begins anew.", path, error)
            return
        for contact, message in unsent.items():
            self._sender.send_to(contact, message)

    def _keep_now(self) -> None:
        """Write the memory where it says anything; while all is well the file is left as it is."""
        with self._lock:
            now = _now()
            self._kept_s = now.s
            unsent = self._sender.unsent()
            calm = now.s - self._state.well_s < self._policy.silence_s / 2
            quiet = self._state.incident is None and not unsent and calm
            if quiet and self._kept_text == "quiet":
                return
            self._kept_text = "quiet" if quiet else "told"
            self._write(saved.to_text(self._state, unsent, now.s))

    def _write(self, text: str) -> None:
        try:
            write_whole(self._file.state_path, text)
        except OSError as error:
            why = error.strerror or type(error).__name__
            if why != self._cannot_keep:
                log.error("The memory %s cannot be written: %s.", self._file.state_path, why)  # noqa: TRY400
            self._cannot_keep = why
        else:
            self._cannot_keep = ""


class Asking:
    """Asks `/health` again and again, in a thread of its own; an answer that hangs holds up nobody else."""

    def __init__(self, poll: Poll, url: SecretStr, take: Callable[[Event], str], stopping: threading.Event) -> None:
        self._every_s = poll.every_s
        self._call = HttpCall(url, poll.timeout_s, "health-question", LARGEST_BYTES)
        self._take = take
        self._stopping = stopping

    def run(self) -> None:
        """Ask until the watcher ends. No error ends it."""
        while not self._stopping.is_set():
            try:
                self._take(self.ask())
            except Exception:
                log.exception("A question to the daemon failed; the next one comes all the same.")
            self._stopping.wait(self._every_s)

    def ask(self) -> Well | NotWell:
        """Ask once."""
        answer = self._call.make("GET")
        if isinstance(answer, Answered):
            return judge(answer.status, answer.body)
        return NotWell(f"no answer: {answer.reason}")


def write_whole(path: Path, text: str) -> None:
    """Write a file so that there is always the old one or the new one, also after a power cut; for its owner alone."""
    part = path.with_name(f"{path.name}.part")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def _utc_ms() -> int:
    return time.time_ns() // 1_000_000


def _now() -> Moment:
    return Moment(time.monotonic(), _utc_ms())
