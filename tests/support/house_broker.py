"""A Mosquitto started from the files in `deploy/mosquitto`; places and ports are put where a test may have them."""

import getpass
import os
import shutil
import signal
import subprocess
from pathlib import Path

from tests.support.processes import Service, answers, free_port, wait_until

FILES = Path(__file__).parents[2] / "deploy" / "mosquitto"


class HouseBroker:
    """The broker of a house: one port for the daemon, one with TLS for probes, its passwords and its rules."""

    host = "localhost"

    def __init__(self, folder: Path, executable: str) -> None:
        self.port, self.tls_port = free_port(), free_port()
        self.folder = folder / "etc" / "clutchwarden"
        self.kept = folder / "lib" / "mosquitto.db"
        self.pid_file = folder / "run" / "mosquitto.pid"
        for each in (folder / "etc" / "conf.d", folder / "lib", folder / "run"):
            each.mkdir(parents=True)
        subprocess.run(
            ["sh", str(FILES / "make-certificates.sh"), str(self.folder), "localhost", "127.0.0.1"],
            check=True,
            capture_output=True,
        )
        shutil.copyfile(FILES / "acl", self.folder / "acl")
        places = {
            "/etc/mosquitto": str(folder / "etc"),
            "/run/mosquitto": str(folder / "run"),
            "/var/lib/mosquitto": str(folder / "lib"),
            "listener 1883": f"listener {self.port}",
            "listener 8883": f"listener {self.tls_port}",
        }
        for name in ("mosquitto.conf", "conf.d/clutchwarden.conf"):
            text = (FILES / name).read_text(encoding="utf-8")
            for before, after in places.items():
                text = text.replace(before, after)
            (folder / "etc" / name).write_text(text, encoding="utf-8")
        # Started by root, Mosquitto becomes `mosquitto`, who may not enter the folder of a test.
        with (folder / "etc" / "mosquitto.conf").open("a", encoding="utf-8") as main:
            main.write(f"user {getpass.getuser()}\n")
        for each in self.folder.iterdir():
            if os.geteuid() == 0:
                os.chown(each, 0, 0)
        self._service = Service([executable, "-c", str(folder / "etc" / "mosquitto.conf")], folder / "broker.log")

    @property
    def authority(self) -> Path:
        """The file that a device has to have."""
        return self.folder / "ca.pem"

    def start(self) -> None:
        """Start, and wait until it accepts connections at both ports."""
        self._service.start()
        wait_until(
            lambda: not self._service.running or (answers(self.port) and answers(self.tls_port)),
            f"Mosquitto on ports {self.port} and {self.tls_port}",
            60,
        )
        assert self._service.running, self.output()

    def stop(self) -> None:
        """End in good order."""
        self._service.stop()

    def save(self) -> None:
        """Have it write what it keeps to disk, as it does by itself from time to time."""
        before = self.kept.stat().st_mtime_ns if self.kept.exists() else 0
        assert self._service.process is not None
        self._service.process.send_signal(signal.SIGUSR1)
        wait_until(lambda: self.kept.exists() and self.kept.stat().st_mtime_ns > before, "the queue on disk", 60)

    def kill(self) -> None:
        """End at once, as a power cut does."""
        self._service.kill()

    def output(self) -> str:
        """What it has said."""
        return self._service.output()
