"""What is wrong, and what it means that it is over, in the few words of a headline. Pure."""

from collections.abc import Mapping
from types import MappingProxyType

from config.words import AlarmKind

SILENT = frozenset({AlarmKind.NO_DATA, AlarmKind.NO_DATA_LONG, AlarmKind.LAST_PROBE_SILENT})
"""About readings that do not come: how long is the headline."""

LIMITED = frozenset(
    {
        AlarmKind.TEMPERATURE_LETHAL_HIGH,
        AlarmKind.TEMPERATURE_LETHAL_LOW,
        AlarmKind.TEMPERATURE_HIGH,
        AlarmKind.TEMPERATURE_LOW,
        AlarmKind.HUMIDITY_HIGH,
        AlarmKind.HUMIDITY_LOW,
    }
)
"""A value of one channel beyond a limit: these alone have a limit, a rate and a worst value to tell."""

WRONG: Mapping[AlarmKind, str] = MappingProxyType(
    {
        AlarmKind.TEMPERATURE_LETHAL_HIGH: "dangerously hot",
        AlarmKind.TEMPERATURE_LETHAL_LOW: "dangerously cold",
        AlarmKind.TEMPERATURE_HIGH: "too warm",
        AlarmKind.TEMPERATURE_LOW: "too cool",
        AlarmKind.HUMIDITY_HIGH: "too humid",
        AlarmKind.HUMIDITY_LOW: "too dry",
        AlarmKind.NO_DATA: "no readings",
        AlarmKind.PROBE_FAULT: "probe faulty",
        AlarmKind.NO_DATA_LONG: "no readings for long",
        AlarmKind.LAST_PROBE_SILENT: "unwatched",
        AlarmKind.SITE_SILENT: "all probes silent",
        AlarmKind.PROBES_DISAGREE: "probes disagree",
        AlarmKind.TEMPERATURE_FALLING: "falling fast",
        AlarmKind.TEMPERATURE_RISING: "rising fast",
        AlarmKind.LIMIT_AHEAD: "heading for a limit",
        AlarmKind.LETHAL_AHEAD: "heading for danger",
        AlarmKind.EXPOSURE: "outside too long",
        AlarmKind.CONDENSATION: "water on the lid",
        AlarmKind.MAINS_LOST: "no mains",
        AlarmKind.DOOR_OPEN: "door open",
        AlarmKind.CLOCK_STEPPED: "clock was set",
        AlarmKind.BROKER_LOST: "broker lost",
        AlarmKind.DISK_LOW: "disk nearly full",
        AlarmKind.DELIVERY_FAILING: "gets no alerts",
        AlarmKind.JOURNAL_FAILING: "readings cannot be stored",
        AlarmKind.NO_COMMON_RANGE: "clutches do not suit",
        AlarmKind.ROUND_NOT_ENDED: "round not ended",
        AlarmKind.ROUND_OVERDUE: "round overdue",
        AlarmKind.NEAR_PIPPING: "near pipping",
        AlarmKind.HATCH_OVERDUE: "hatch overdue",
        AlarmKind.TEST_UNCONFIRMED: "test not confirmed",
        AlarmKind.BACKUP_FAILING: "no backup is made",
        AlarmKind.RESTORE_TEST_FAILED: "a backup did not restore",
        AlarmKind.MIRROR_BEHIND: "mirror is behind",
        AlarmKind.BOARD_TROUBLE: "readings may be lost",
        AlarmKind.CERTIFICATE_ENDING: "broker's certificate ends soon",
    }
)
"""what is wrong, as it goes on after `North cabinet: `"""

OVER: Mapping[AlarmKind, str] = MappingProxyType(
    {
        AlarmKind.NO_DATA: "readings are back",
        AlarmKind.NO_DATA_LONG: "readings are back",
        AlarmKind.LAST_PROBE_SILENT: "readings are back",
        AlarmKind.SITE_SILENT: "readings are back",
        AlarmKind.PROBE_FAULT: "probe reads well again",
        AlarmKind.PROBES_DISAGREE: "probes agree again",
        AlarmKind.TEMPERATURE_FALLING: "no longer falling fast",
        AlarmKind.TEMPERATURE_RISING: "no longer rising fast",
        AlarmKind.LIMIT_AHEAD: "no longer heading for a limit",
        AlarmKind.LETHAL_AHEAD: "no longer heading for danger",
        AlarmKind.EXPOSURE: "fewer hours outside",
        AlarmKind.CONDENSATION: "lid is dry again",
        AlarmKind.MAINS_LOST: "mains is back",
        AlarmKind.DOOR_OPEN: "door is closed",
        AlarmKind.CLOCK_STEPPED: "clock kept since",
        AlarmKind.BROKER_LOST: "broker is back",
        AlarmKind.DISK_LOW: "disk has room again",
        AlarmKind.DELIVERY_FAILING: "gets alerts again",
        AlarmKind.JOURNAL_FAILING: "readings are stored again",
        AlarmKind.NO_COMMON_RANGE: "one range suits all again",
        AlarmKind.ROUND_NOT_ENDED: "round was ended",
        AlarmKind.ROUND_OVERDUE: "round was made",
        AlarmKind.NEAR_PIPPING: "hatch no longer near",
        AlarmKind.HATCH_OVERDUE: "no longer overdue",
        AlarmKind.TEST_UNCONFIRMED: "test was confirmed",
        AlarmKind.BACKUP_FAILING: "a backup was made",
        AlarmKind.RESTORE_TEST_FAILED: "a backup did restore",
        AlarmKind.MIRROR_BEHIND: "mirror has caught up",
        AlarmKind.BOARD_TROUBLE: "readings no longer at risk",
        AlarmKind.CERTIFICATE_ENDING: "broker's certificate is good again",
    }
)
"""for kinds of which "was ..." would say too little"""
