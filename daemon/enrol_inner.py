"""Probes that may sign in to the inner broker: their file beside the site's secrets, read anew when it changed."""

import logging
from pathlib import Path

from daemon.enrol_file import EnrolError, read
from daemon.enrol_passwords import entries
from daemon.probe_values import PREFIX
from sensors.topics import AGENT_ID, parse_own_topic

log = logging.getLogger("clutchwarden.broker")

FILE = Path("secrets") / "probe-passwords"


class InnerAccounts:
    """What `clutchwarden probe enroll` has written. A change counts at once, without a new start."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._seen: tuple[int, int, int] | None = None
        self._known: dict[str, str] = {}

    def stored(self, name: str | None) -> str | None:
        """Give what is kept of the password of this user name; None for nobody."""
        self._look()
        return None if name is None else self._known.get(name)

    def _look(self) -> None:
        try:
            now = self._path.stat()
            seen = (now.st_mtime_ns, now.st_size, now.st_ino)
        except OSError:
            self._seen, self._known = None, {}
            return
        if seen != self._seen:
            try:
                self._known = entries(read(self._path))
            except EnrolError as error:
                log.warning("No probe is let in by a password of its own: %s", error)
                self._known = {}
            self._seen = seen


def is_own_topic(name: str, topic: str | None) -> bool:
    """True for a topic that the probe of this name may send to: the same three as with the broker of its own."""
    own = None if topic is None else parse_own_topic(PREFIX, topic)
    return own is not None and own[0] == name


def is_own_client(name: str, client_id: str | None) -> bool:
    """True unless this is the client id of another probe's agent: whoever comes with it would end that connection."""
    client_id = client_id or ""
    return not client_id.startswith(AGENT_ID) or client_id == f"{AGENT_ID}{name}"
