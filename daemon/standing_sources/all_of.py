"""Every source of standing conditions of a site, in the order in which they are asked."""

from collections.abc import Callable, Mapping

from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.boards import Boards
from daemon.machine import Machine
from daemon.standing_sources.backups import BackupSource
from daemon.standing_sources.boards import BoardSource
from daemon.standing_sources.care import Hatching, Rounds
from daemon.standing_sources.certificate import CertificateSource
from daemon.standing_sources.condensation import Lids
from daemon.standing_sources.contacts import Contacts
from daemon.standing_sources.delivery import DeliverySource
from daemon.standing_sources.disagreement import Twins
from daemon.standing_sources.exposures import Exposures
from daemon.standing_sources.machine import MachineSource
from daemon.standing_sources.mirror import MirrorStanding
from daemon.standing_sources.silent import Silences
from daemon.standing_sources.source import Source
from daemon.standing_sources.trends import Trends
from daemon.standing_sources.trials import TrialSource


def _not_seen() -> str | None:
    return None


def sources_of(
    site: Site,
    settings: Settings,
    profiles: Mapping[str, SpeciesProfile],
    machine: Machine,
    backup_trouble: Callable[[], str | None] = _not_seen,
    boards: Boards | None = None,
) -> tuple[Source, ...]:
    """Make them. Each keeps what it has found out, so they belong to one evaluation.

    `backup_trouble`: what was last seen of the backup folder, as `BackupSource` takes it; `boards`: what they say.
    """
    folder = settings.backup.folder
    ahead_s = settings.ingest.future_tolerance_s
    heard = Boards() if boards is None else boards
    return (
        Contacts(site, ahead_s),
        Silences(site, ahead_s),
        MachineSource(site, machine.facts),
        DeliverySource(site),
        Trends(site),
        Exposures(site, profiles, settings.heat.longest_bridge_s),
        Lids(site, ahead_s),
        Twins(site),
        Rounds(site),
        Hatching(site, profiles, settings.heat.longest_bridge_s),
        TrialSource(site),
        BackupSource(site, "" if folder is None else str(folder), backup_trouble),
        MirrorStanding(site, settings.mirror),
        BoardSource(site, heard),
        CertificateSource(site, machine.facts, heard),
    )
