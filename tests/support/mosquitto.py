"""A Mosquitto of the test's own: free port, own folder, sessions kept over a restart."""

import getpass
import shutil
import signal
from pathlib import Path

from tests.support.processes import Service, answers, free_port, wait_until

# The user is named, since Mosquitto started by root becomes `mosquitto`, who may not write its sessions in the folder
# of a test: it then forgets, without a word, whoever was there before a restart.
CONFIGURATION = """\
listener {port} {host}
allow_anonymous true
persistence true
persistence_location {folder}/
user {user}
autosave_interval 1
max_queued_messages 0
max_queued_bytes 0
log_type error
log_type warning
"""


def program() -> str | None:
    """Where Mosquitto is, or None. Debian puts it where only root looks."""
    return shutil.which("mosquitto", path="/usr/local/bin:/usr/bin:/usr/sbin:/usr/local/sbin")


class Mosquitto:
    """A broker that a test may stop, kill and start again on the same port with the same sessions."""

    def __init__(self, folder: Path, executable: str, host: str = "127.0.0.1") -> None:
        self.host = host
        self.port = free_port()
        folder.mkdir(parents=True, exist_ok=True)
        configuration = folder / "mosquitto.conf"
        configuration.write_text(CONFIGURATION.format(port=self.port, host=host, folder=folder, user=getpass.getuser()))
        self._service = Service([executable, "-c", str(configuration)], folder / "broker.log")

    def start(self) -> None:
        """Start, and wait until it accepts connections."""
        self._service.start()
        wait_until(
            lambda: answers(self.port, self.host), f"Mosquitto on port {self.port}; it said: {self._service.output()}"
        )

    def stop(self) -> None:
        """End in good order: sessions and queued messages are written to disk."""
        self._service.stop()

    def kill(self) -> None:
        """End at once, as a power cut does."""
        self._service.stop(how=signal.SIGKILL)
