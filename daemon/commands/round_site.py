"""The desk for rounds of a site folder, as the commands about rounds use it."""

import time

from daemon.commands.site_folder import SiteFolder
from daemon.desk_work import DeskWork
from daemon.round_desk import RoundDesk
from daemon.storage.journal import Journal


def now_ms() -> int:
    """The present moment, UTC milliseconds since the epoch."""
    return time.time_ns() // 1_000_000


def work_of(whole: SiteFolder) -> DeskWork:
    """Give the work on the alarm desk of a site folder."""
    return DeskWork(whole.site, whole.profiles, public_url=whole.settings.web.public_url)


def desk_of(whole: SiteFolder, journal: Journal) -> RoundDesk:
    """Give the desk for rounds of a site folder."""
    bridge_s = whole.settings.heat.longest_bridge_s
    return RoundDesk(journal, whole.site, whole.profiles, work_of(whole), bridge_s, now_ms)
