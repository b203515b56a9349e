"""Pure: the name of an alarm for people, from its key alone: also of one that is over, or whose probe is gone."""

import re
from collections.abc import Mapping

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarms.wrong import WRONG

OF_A_CLUTCH = "clutch-"
_A_KEY = re.compile(rf"\b(?:{'|'.join(sorted(AlarmKind, key=len, reverse=True))}):[\w./+-]*\w")
_OF_THE_SITE = frozenset(
    {
        AlarmKind.SITE_SILENT,
        AlarmKind.CLOCK_STEPPED,
        AlarmKind.BROKER_LOST,
        AlarmKind.DISK_LOW,
        AlarmKind.JOURNAL_FAILING,
        AlarmKind.BACKUP_FAILING,
        AlarmKind.RESTORE_TEST_FAILED,
        AlarmKind.MIRROR_BEHIND,
        AlarmKind.CERTIFICATE_ENDING,
    }
)


class AlarmNames:
    """Of one site. `contacts`: who is behind each contact; `labels`: of clutches, by number."""

    def __init__(self, site: Site, places: Places, contacts: Mapping[str, str], labels: Mapping[int, str]) -> None:
        self._site = site
        self._places = places
        self._probes = {each.id: each.place for each in site.probes}
        self._contacts = contacts
        self._labels = {f"{OF_A_CLUTCH}{number}": f"Clutch {label}" for number, label in labels.items()}

    def of(self, key: str) -> str:
        """Give `North cabinet, upper shelf: too warm (probe north-air)`, or the key where its kind is unknown."""
        kind, _, subject = key.partition(":")
        if kind not in set(AlarmKind):
            return key
        where, by = self._where(AlarmKind(kind), subject)
        return f"{where}: {WRONG[AlarmKind(kind)]}{by}"

    def _where(self, kind: AlarmKind, subject: str) -> tuple[str, str]:
        probes = [each.partition("/")[0] for each in subject.split("+")]
        if kind in _OF_THE_SITE or not subject:
            return self._site.name, ""
        if subject == ROOM or self._places.exists(subject):
            return self._places.name(subject), ""
        named = self._labels.get(subject) or self._contacts.get(subject)
        if named:
            return named, ""
        if probes[0] in self._probes:
            by = f"probe {probes[0]}" if len(probes) == 1 else f"probes {' and '.join(probes)}"
            return self._named(self._probes[probes[0]]), f" ({by})"
        # The mains of all incubators; what is gone from the site keeps its id.
        return (self._site.name, "") if kind is AlarmKind.MAINS_LOST else (subject, "")

    def _named(self, place: str) -> str:
        return self._places.name(place) if place == ROOM or self._places.exists(place) else place


def keys_in(text: str) -> list[str]:
    """Give the keys of alarms that a sentence of the journal names."""
    return _A_KEY.findall(text)


def key_of_occurrence(occurrence: str) -> str:
    """Give the key of the alarm of an occurrence, which is the key with the moment at which it began."""
    key, _, moment = occurrence.rpartition(":")
    return key if key and moment.lstrip("-").isdigit() else occurrence
