"""A house whose incubator is opened for rounds: a probe on the shelf and one in the box, two people."""

from dataclasses import dataclass
from pathlib import Path

from daemon.alarms.round_suppression import LONGEST_ROUND_MS
from daemon.evaluate import Evaluator
from daemon.standing_sources.care import Rounds
from daemon.storage import alarm_log, samples
from daemon.storage.journal import Journal
from daemon.storage.rounds import RoundOnRecord
from sensors.reading import Reading
from tests.daemon.test_desk import SECOND_PERSON, START_MS, Room
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal

LOW, DRY = "temperature-low:north-air/air", "humidity-low:box/rh"
LETHAL = "temperature-lethal-high:north-air/air"
NOT_ENDED = "round-not-ended:north"
WELL, OPENED, DEADLY = (28.0, 90.0), (18.0, 40.0), (36.0, 90.0)
"""Air in degree Celsius and % RH in the box: as the clutch wants it, as in the room, and beyond what eggs bear."""

MORE = (
    SECOND_PERSON
    + """
[[probe]]
id = "box"
place = "north/upper/N1"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"

[alarm.temperature-low]
on_delay_s = 60
off_delay_s = 60
[alarm.humidity-low]
on_delay_s = 60
off_delay_s = 60
[alarm.temperature-lethal-high]
on_delay_s = 0
"""
)


def rounds_site(folder: Path) -> Path:
    """Quick alarms, so that they begin within the shortest round."""
    return write_site(folder, 1883, "http://127.0.0.1:9/phone", extra=MORE)


@dataclass
class RoundHouse(Room):
    """Lets minutes pass, with rounds, and with the real look at rounds that were not ended."""

    def restart(self) -> None:
        checked = self._checked
        assert checked.site is not None
        assert checked.settings is not None
        sources = [Rounds(checked.site)]
        self.evaluator = Evaluator(
            self.journal, checked.site, checked.settings, checked.profiles, self._channels, START_MS, sources=sources
        )

    def passing(self, count: int, climate: tuple[float, float]) -> list[str]:
        """Let minutes pass in this climate. Gives the new messages: person and headline."""
        for _ in range(count):
            self.now_ms += MINUTE_MS
            values = {"north-air/air": climate[0], "north-air/rh": climate[1], "box/rh": climate[1]}
            rows = [Reading(channel, self.now_ms, self.now_ms, value, 0) for channel, value in values.items()]
            self.journal.write(lambda conn, rows=rows: samples.append(conn, self.ids, rows))  # type: ignore[misc]
            self.evaluator.step(lambda: self.now_ms)
        return self.new_messages()

    def start_round(self, stated_ms: int = LONGEST_ROUND_MS, incubator: str = "north") -> RoundOnRecord:
        return self.journal.write(lambda conn: self.work.start_round(conn, incubator, "ana", stated_ms, self.now_ms))[0]

    def end_round(self, incubator: str = "north") -> RoundOnRecord:
        return self.journal.write(lambda conn: self.work.end_round(conn, incubator, "ana", "", self.now_ms))[0]

    def raised(self) -> set[str]:
        """The conditions that have begun so far, whether or not anybody was told."""
        with self.journal.read() as conn:
            return {each.alarm_key for each in alarm_log.events(conn, 1000) if each.event.startswith("raised")}


def house_in(folder: Path) -> tuple[Path, Journal]:
    """The site, and its journal where a command finds it."""
    site = rounds_site(folder / "site")
    return site, new_journal(site / "data" / "journal.sqlite3")
