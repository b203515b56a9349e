"""What the read side needs, so that no page walks through all that was ever written down."""


def _counts_changes(action: str, row: str) -> str:
    """Count a change to an hour of heat.

    Without an upsert: inside a trigger it would follow the OR REPLACE of the statement that set it off.
    """
    return (
        f"CREATE TRIGGER heat_hour_{action}_is_counted AFTER {action} ON heat_hour BEGIN"  # noqa: S608 - constants
        f" INSERT INTO heat_change (clutch_id, changes) SELECT {row}.clutch_id, 0"
        f" WHERE NOT EXISTS (SELECT 1 FROM heat_change WHERE clutch_id = {row}.clutch_id);"
        f" UPDATE heat_change SET changes = changes + 1 WHERE clutch_id = {row}.clutch_id; END"
    )


INDEXES: tuple[str, ...] = (
    # The subject of an alarm is what stands behind the first colon of its key.
    """CREATE INDEX alarm_event_of_subject
        ON alarm_event (substr(alarm_key, instr(alarm_key, ':') + 1), event, at_ms)""",
    "CREATE INDEX alarm_event_of_occurrence ON alarm_event (occurrence, event)",
    # The number of the row stands behind the key of itself.
    "CREATE INDEX alarm_record_of_key ON alarm_record (alarm_key)",
    "CREATE INDEX alarm_record_of_key_by_time ON alarm_record (alarm_key, at_ms)",
    """CREATE INDEX alarm_record_acknowledged ON alarm_record (at_ms, alarm_key)
        WHERE event = 'acknowledge' AND accepted""",
    # How often the stored hours of a clutch were written: whoever keeps their sum sees by it whether it still holds.
    "CREATE TABLE heat_change (clutch_id INTEGER PRIMARY KEY, changes INTEGER NOT NULL)",
    _counts_changes("insert", "NEW"),
    _counts_changes("update", "NEW"),
    _counts_changes("delete", "OLD"),
)
