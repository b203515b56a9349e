"""Many cabinets with a probe each, read at the same moments, through the real evaluation and its journal."""

from collections.abc import Sequence
from pathlib import Path

from config.check import check_site
from daemon.alarms.delivery import OutgoingMessage
from daemon.clutches import register
from daemon.evaluate import Evaluator
from daemon.storage import alarm_log, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.called import SECOND_PERSON
from tests.support.household import DAY_MS, PERSON, a_clutch
from tests.support.latency import INCUBATOR

START_MS = 1_780_000_000_000
CABINETS = 24


class Cabinets:
    """Many cabinets with a probe each, all of them read at the same moments."""

    def __init__(self, journal: Journal, folder: Path, damping_min: float = 0) -> None:
        folder.mkdir()
        cabinets = "".join(INCUBATOR.format(n=number) for number in range(CABINETS))
        cabinets = cabinets.replace("damping_min = 0", f"damping_min = {damping_min}")
        head = '[site]\nname = "Budget"\ntime_zone = "Europe/Madrid"\n'
        people = PERSON.format(url="http://127.0.0.1:9/ana") + SECOND_PERSON
        (folder / "site.toml").write_text(head + cabinets + people, encoding="utf-8")
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        self.journal, self.now_ms = journal, START_MS
        channels = dict(Decoder(checked.site).channels)
        self.channels = sorted(channels)
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        for number in range(CABINETS):
            clutch = a_clutch(START_MS - DAY_MS, f"C{number}", f"i{number}/z/B")
            journal.write(lambda conn, clutch=clutch: register.add_clutch(conn, clutch, "test", START_MS))  # type: ignore[misc]
        self.evaluator = Evaluator(journal, checked.site, checked.settings, checked.profiles, channels, START_MS)

    def read(self, values: Sequence[float], after_s: float = 10.0) -> None:
        """One reading of every probe, evaluated at once."""
        self.now_ms += round(after_s * 1000)
        rows = [
            Reading(channel, self.now_ms, self.now_ms, value, 0)
            for channel, value in zip(self.channels, values, strict=True)
        ]
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))
        self.evaluator.step(lambda: self.now_ms)

    def messages(self, person: str) -> list[OutgoingMessage]:
        with self.journal.read() as conn:
            rows = conn.execute("SELECT contact, body FROM outbox ORDER BY rowid").fetchall()
        return [OutgoingMessage.from_json(body) for contact, body in rows if contact.startswith(person)]

    def raised(self, kind: str = "") -> list[AlarmEvent]:
        """What was written down as raised, of one kind or all, newest first."""
        with self.journal.read() as conn:
            events = alarm_log.events(conn, 100_000)
        return [each for each in events if each.alarm_key.startswith(kind) and each.event.startswith("raised")]
