"""Backups, from the journal and what was last seen of their folder. A look reads three rows and no folder."""

from collections.abc import Callable, Iterator
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import AlarmKind
from daemon.standing import backups as rules
from daemon.standing.backups import BackupFacts
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment
from daemon.storage import backups


class BackupSource:
    """Judges the backups of a site; one without a folder for them has none to judge.

    `folder_trouble`: what was last seen of the folder, None where nobody has looked lately; it must not wait.
    """

    kinds = frozenset({AlarmKind.BACKUP_FAILING, AlarmKind.RESTORE_TEST_FAILED})
    every_ms = 60_000

    def __init__(self, site: Site, folder: str, folder_trouble: Callable[[], str | None]) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._folder = folder
        self._folder_trouble = folder_trouble

    def found(self, moment: Moment) -> Iterator[Found]:
        """What is wrong with the backups at this moment."""
        if not self._folder:
            return
        good, newest = backups.newest_run(moment.conn, good=True), backups.newest_run(moment.conn)
        failed = newest if newest is not None and not newest.good else None
        test = backups.newest_test(moment.conn)
        facts = BackupFacts(
            folder_trouble=self._folder_trouble(),
            good_ms=None if good is None or good.folder != self._folder else good.began_ms,
            failed_ms=None if failed is None else failed.began_ms,
            failure="" if failed is None else failed.told,
            tested_ms=None if test is None else test.began_ms,
            test_failure="" if test is None or test.good else test.told,
        )
        on = moment.is_on(AlarmKind.BACKUP_FAILING, rules.SUBJECT)
        all_of = (
            rules.backup_failing(facts, moment.now_ms, self._zone, on=on),
            rules.restore_test_failed(facts, moment.now_ms, self._zone),
        )
        yield from (each for each in all_of if each is not None)
