"""The page of backups as plain values. Pure."""

from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from daemon.backups.told import NONE_CONFIGURED, BackupStanding
from daemon.standing.machine import bytes_text
from daemon.storage.backups import BackupRun
from dashboards.standing import Shape, Tone

BACKUPS_PATH = "/set-up/backups"
_BEGIN = (
    'Write into settings.toml, in a section [backup]: folder = "/mnt/backups/eggs", best on another disk or a mounted '
    "share. Then run clutchwarden backup --set-up with the same folder on this machine."
)
_RESTORE = (
    "A backup holds the whole record, site.toml, the settings and your species, without addresses and passwords. "
    "clutchwarden restore NAME --to FOLDER makes a site folder of it. What was stored after it is not in it."
)


@dataclass(frozen=True, slots=True)
class BackupLine:
    """One attempt: shape, tone and word of how it went, when, and what there is to say of it."""

    key: str
    shape: Shape
    tone: Tone
    word: str
    iso: str
    when: str
    told: str


@dataclass(frozen=True, slots=True)
class BackupsView:
    """All of the page. `facts` are sentences, the most important first."""

    facts: tuple[str, ...]
    trouble: str
    lines: tuple[BackupLine, ...]
    hint: str


def backups_view(standing: BackupStanding, zone: tzinfo) -> BackupsView:
    """Make the page of what is known."""
    lines = tuple(_line(each, number, zone) for number, each in enumerate(standing.runs, 1))
    if not standing.folder:
        return BackupsView((NONE_CONFIGURED,), "", lines, _BEGIN)
    good, test = standing.good, standing.test
    facts = [f"Made each night at {standing.at}, checked, and kept in {standing.folder}."]
    if good is None:
        facts.insert(0, "There is no good backup yet.")
    else:
        when = _when(good.began_ms, zone)
        facts.insert(0, f"The newest good backup is of {when}, {bytes_text(good.byte_count)} without photos.")
    if test is None:
        facts.append("No restore was tried yet; that is done once a month.")
    else:
        outcome = "it is whole" if test.good else "it FAILED"
        facts.append(f"A restore was tried on {_when(test.began_ms, zone)}, and {outcome}: {test.told}")
    trouble = "" if not standing.trouble else f"Nothing can be written now: {standing.trouble}."
    return BackupsView(tuple(facts), trouble, lines, _RESTORE)


def _line(run: BackupRun, number: int, zone: tzinfo) -> BackupLine:
    moment = datetime.fromtimestamp(run.began_ms / 1000, UTC).astimezone(zone)
    took_s = max(run.ended_ms - run.began_ms, 0) / 1000
    told = f"{run.told}."
    if run.good:
        told = f"{run.name}, {bytes_text(run.byte_count)}, {took_s:.1f} s. {run.told}".rstrip()
    shape, tone, word = (Shape.EGG, Tone.WELL, "made") if run.good else (Shape.FAULT, Tone.LOW, "failed")
    return BackupLine(f"run-{number}", shape, tone, word, moment.isoformat(), _when(run.began_ms, zone), told)


def _when(moment_ms: int, zone: tzinfo) -> str:
    moment = datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone)
    return f"{moment.day} {moment:%b %Y, %H:%M}"
