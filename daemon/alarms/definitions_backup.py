"""The definitions of alarms about the record of a site: its backups, its mirror, its boards, and what they need."""

from config.words import AlarmKind, Priority
from daemon.alarms.definition import AlarmDefinition

BACKUP = (
    AlarmDefinition(
        kind=AlarmKind.BACKUP_FAILING,
        priority=Priority.LOW,
        # a share that is mounted again within the hour needs nobody
        on_delay_s=1800,
        off_delay_s=0,
        deadband=0,
        at_once_beyond=None,
        cause="The backup folder is full, not mounted or not writable, or a backup fails.",
        consequence="If this disk dies, the record since the last backup is lost.",
        first_action="Look at the disk or share of the backups, then run clutchwarden backup.",
        time_available="days, look today",
    ),
    AlarmDefinition(
        kind=AlarmKind.RESTORE_TEST_FAILED,
        priority=Priority.LOW,
        on_delay_s=0,
        off_delay_s=0,
        deadband=0,
        at_once_beyond=None,
        cause="A backup is damaged, or there was no room to try it.",
        consequence="If this disk dies, the record may be lost.",
        first_action="Check the newest one with clutchwarden backup check, then make another.",
        time_available="days, look today",
    ),
    AlarmDefinition(
        kind=AlarmKind.MIRROR_BEHIND,
        priority=Priority.LOW,
        # after a long stop of the service the mirror gets what is left over within seconds
        on_delay_s=120,
        off_delay_s=0,
        deadband=0,
        at_once_beyond=None,
        cause="The InfluxDB of the mirror is off, out of reach, full, or does not accept the token.",
        consequence="Its charts stand still. Nothing is lost: the journal keeps all and sends it later.",
        first_action="Look at the machine of the InfluxDB, then at clutchwarden mirror status.",
        time_available="days, look this week",
    ),
    AlarmDefinition(
        kind=AlarmKind.BOARD_TROUBLE,
        priority=Priority.LOW,
        # a backlog that is being sent empties within minutes
        on_delay_s=300,
        off_delay_s=0,
        deadband=0,
        at_once_beyond=None,
        cause="The board was without its network for days, its disk fails, or nothing sets its clock.",
        consequence="Readings that the board gives up never come, so this time stays unknown.",
        first_action="Look at the probe under Set-up, then at the board's network, disk and clock.",
        time_available="usually days, look today",
    ),
    AlarmDefinition(
        kind=AlarmKind.CERTIFICATE_ENDING,
        priority=Priority.LOW,
        # boards that connect anew one after the other say for a moment that the old one is still in use
        on_delay_s=300,
        off_delay_s=300,
        deadband=0,
        at_once_beyond=None,
        cause="The broker's certificate was made for a time that is nearly over.",
        consequence="Once it is over no probe can connect any more, and nothing watches the eggs.",
        first_action="Prepare a new certificate on the broker's machine (see README), then restart the broker.",
        time_available="until the day below, look this week",
    ),
)
