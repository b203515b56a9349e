"""A called house whose people plan their duties by command, beside an evaluator on the same journal."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from freezegun import freeze_time
from typer.testing import CliRunner, Result

from config.check import check_site
from config.site import load_site
from daemon import cli
from daemon.alarms.people import Rota
from daemon.clock import as_datetime
from daemon.evaluate import Evaluator
from daemon.rota import rota_of
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from tests.support.called import PUBLIC_URL, SECOND_PERSON, START_MS, CalledHouse
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal

MADRID = ZoneInfo("Europe/Madrid")
"""of the invented site"""


class DutyHouse(CalledHouse):
    """Ana and Ben, one reading a minute, and commands at the moment of the last."""

    def __init__(self, journal: Journal, folder: Path) -> None:
        super().__init__(journal, folder)
        self.folder = folder

    def restart(self) -> None:
        """A new evaluator, as after a kill."""
        checked = check_site(self.folder)
        assert checked.site is not None
        assert checked.settings is not None
        channels = dict(Decoder(checked.site).channels)
        self.evaluator = Evaluator(self.journal, checked.site, checked.settings, checked.profiles, channels, START_MS)

    def duty(self, *arguments: str) -> Result:
        """`clutchwarden duty ...`, typed by kim."""
        return self.command("duty", *arguments)

    def command(self, *arguments: str) -> Result:
        """Any command, at the present moment."""
        with freeze_time(as_datetime(self.now_ms), ignore=["sqlite3"]):
            return CliRunner().invoke(cli.app, [*arguments], env={"USER": "kim", "CLUTCHWARDEN_SITE": str(self.folder)})

    def at(self, minutes: float) -> str:
        """A moment so many minutes from now, as people type it on that site."""
        moment = as_datetime(self.now_ms + round(minutes * MINUTE_MS)).astimezone(MADRID)
        return f"{moment:%Y-%m-%d %H:%M:%S}"

    def new_messages(self, since: int) -> list[tuple[str, str]]:
        """Person and headline of the messages after the first `since`."""
        told = zip(self.people_told(), self.messages(), strict=True)
        return [(person, message.headline) for person, message in told][since:]

    def people_told(self) -> list[str]:
        """Whom every message so far is for."""
        self._see_messages()
        return [contact.split("/")[0] for contact, _ in self._written.values()]

    def until(self, local: str) -> None:
        """Let time go on to a local moment, in calm."""
        self.minutes((self.moment_ms(local) - self.now_ms) // MINUTE_MS, 28.0)

    def moment_ms(self, local: str) -> int:
        """A local moment of that site."""
        return round(datetime.fromisoformat(local).replace(tzinfo=MADRID).timestamp() * 1000)

    @property
    def rota(self) -> Rota:
        """As the journal has it."""
        with self.journal.read() as conn:
            return rota_of(load_site(self.folder), conn)


NOWHERE = "http://127.0.0.1:9"


@contextmanager
def duty_house(folder: Path, extra: str = "", base: str = NOWHERE) -> Iterator[DutyHouse]:
    """Make one in a folder of its own, with its messages linked; `base` is where both people are reached."""
    ben = SECOND_PERSON.replace(NOWHERE, base)
    site = write_site(folder / "site", 1883, f"{base}/ana", extra=ben + extra)
    with (site / "settings.toml").open("a", encoding="utf-8") as settings:
        settings.write(f'public_url = "{PUBLIC_URL}"\n')
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        yield DutyHouse(journal, site)
