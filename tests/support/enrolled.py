"""A house with the broker of `deploy/mosquitto` and a site beside it, whose probes are enrolled by the command."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from typer.testing import CliRunner

from daemon.cli import app
from daemon.enrol_file import EnrolError
from tests.conftest import require
from tests.support import mosquitto
from tests.support.house_broker import HouseBroker
from tests.support.household import SITE

MORE = """
[[probe]]
id = "north-lid"
place = "north/upper/N1"
[[probe.channel]]
name = "lid"
quantity = "surface_temperature"
"""


class House:
    """The broker, a site beside it, and the passwords that were shown."""

    def __init__(self, folder: Path, broker: HouseBroker) -> None:
        self.broker = broker
        self.site = folder / "site"
        self.site.mkdir()
        (self.site / "site.toml").write_text(SITE + MORE, encoding="utf-8")
        self.passwords: dict[str, str] = {}

    def command(self, *words: str) -> str:
        """Run `clutchwarden probe` for this broker; gives what it says. Raises what the program tells in a sentence."""
        places = ["--site", str(self.site), "--broker-folder", str(self.broker.folder)]
        found = CliRunner().invoke(app, ["probe", *words, *places, "--pid-file", str(self.broker.pid_file)])
        if isinstance(found.exception, EnrolError):
            raise found.exception
        assert found.exit_code == 0, found.output
        return found.output

    def enrol(self, name: str, *more: str) -> str:
        said = self.command("enroll", name, *more)
        self.passwords[name] = re.findall(r"^    ([0-9a-f]{32})$", said, re.MULTILINE)[0]
        return said


@contextmanager
def opened_house(folder: Path) -> Iterator[House]:
    """A house whose broker runs, with the daemon and both probes enrolled while it did."""
    broker = HouseBroker(folder / "broker", require(mosquitto.program(), "Mosquitto"))
    house = House(folder, broker)
    try:
        broker.start()
        house.command("enroll", "--daemon")
        house.passwords["clutchwarden"] = (house.site / "secrets" / "broker-password").read_text().strip()
        house.enrol("north-air")
        house.enrol("north-lid")
        yield house
    finally:
        broker.stop()
