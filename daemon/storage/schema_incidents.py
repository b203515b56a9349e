"""Incidents, what people wrote about them, and in which life of the machine the service ran."""

from daemon.storage.schema import append_only

INCIDENTS: tuple[str, ...] = (
    # What Linux calls the boot id: another one means that the machine was started anew. Empty where it is not known.
    "ALTER TABLE service_run ADD COLUMN boot_id TEXT NOT NULL DEFAULT ''",
    # The clock was set by so much and then showed this moment; `run_id` noticed it.
    """CREATE TABLE clock_step (
        step_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        by_ms INTEGER NOT NULL,
        run_id INTEGER NOT NULL REFERENCES service_run)""",
    *append_only("clock_step"),
    # Facts, evidence and places are JSON. A number is never given twice: one that ended in another says in which.
    """CREATE TABLE incident (
        incident_id INTEGER PRIMARY KEY,
        from_ms INTEGER NOT NULL,
        to_ms INTEGER,
        cause TEXT NOT NULL,
        facts TEXT NOT NULL,
        evidence TEXT NOT NULL,
        places TEXT NOT NULL,
        review TEXT NOT NULL,
        found_at_ms INTEGER NOT NULL,
        changed_at_ms INTEGER NOT NULL,
        joined_into INTEGER REFERENCES incident)""",
    "CREATE INDEX incident_by_end ON incident (to_ms, from_ms) WHERE joined_into IS NULL",
    """CREATE TRIGGER incident_refuses_delete BEFORE DELETE ON incident
        BEGIN SELECT RAISE(ABORT, 'incident rows are never removed'); END""",
    """CREATE TABLE incident_note (
        note_id INTEGER PRIMARY KEY,
        incident_id INTEGER NOT NULL REFERENCES incident,
        at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        field TEXT NOT NULL CHECK (field IN ('cause', 'action', 'outcome', 'prevention')),
        text TEXT NOT NULL)""",
    "CREATE INDEX incident_note_of_incident ON incident_note (incident_id, note_id)",
    *append_only("incident_note"),
    # From each kind of alarm and its subject straight to what happened in a span of time.
    "CREATE INDEX alarm_event_of_key_by_time ON alarm_event (alarm_key, at_ms)",
)
