"""Eggs of a clutch, what was measured and noted of it, and what more is known of the clutch itself."""

from daemon.storage.schema import append_only

EGGS: tuple[str, ...] = (
    "ALTER TABLE clutch ADD COLUMN dam TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE clutch ADD COLUMN sire TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE clutch ADD COLUMN found_ms INTEGER",
    # JSON, a list of words.
    "ALTER TABLE clutch ADD COLUMN tags TEXT NOT NULL DEFAULT '[]'",
    # NULL: as the profile of the species says.
    "ALTER TABLE clutch ADD COLUMN venomous INTEGER CHECK (venomous IN (0, 1))",
    "ALTER TABLE clutch ADD COLUMN protected TEXT NOT NULL DEFAULT ''",
    # Entered by mistake: it stays on record, and holds neither box nor label at any time.
    "ALTER TABLE clutch ADD COLUMN withdrawn_at_ms INTEGER",
    "DROP INDEX clutch_open_label",
    "CREATE UNIQUE INDEX clutch_open_label ON clutch (label) WHERE closed_at_ms IS NULL AND withdrawn_at_ms IS NULL",
    "CREATE INDEX register_change_of_clutch ON register_change (clutch_id, change_id)",
    "CREATE INDEX placement_in ON placement (place, clutch_id)",
    # Eggs are numbered from 1; one without an event is sound. `what`: a state, `marked` (`note` is then what stands on
    # the shell), or `withdrawn`, which takes back the event that it `corrects`. `by_count`: somebody said how many, not
    # which.
    """CREATE TABLE egg_event (
        event_id INTEGER PRIMARY KEY,
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        egg INTEGER NOT NULL,
        at_ms INTEGER NOT NULL,
        recorded_at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        what TEXT NOT NULL CHECK (what IN
            ('sound', 'watch', 'removed', 'pipped', 'hatched', 'given-away', 'marked', 'withdrawn')),
        reason TEXT CHECK (reason IN ('infertile', 'collapsed', 'mould', 'discoloured', 'stuck', 'other')),
        note TEXT NOT NULL,
        by_count INTEGER NOT NULL,
        corrects INTEGER REFERENCES egg_event,
        CHECK (egg >= 1),
        CHECK ((what = 'removed') = (reason IS NOT NULL)),
        CHECK ((what = 'withdrawn') = (corrects IS NOT NULL)))""",
    "CREATE INDEX egg_event_of_clutch ON egg_event (clutch_id, egg, at_ms, event_id, what, reason)",
    "CREATE UNIQUE INDEX egg_event_corrects ON egg_event (corrects) WHERE corrects IS NOT NULL",
    *append_only("egg_event"),
    # `egg` is NULL where the clutch was measured: `mass_g` is then of `eggs` eggs together, `length_mm` their mean.
    """CREATE TABLE egg_measure (
        measure_id INTEGER PRIMARY KEY,
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        egg INTEGER,
        eggs INTEGER NOT NULL,
        at_ms INTEGER NOT NULL,
        recorded_at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        mass_g REAL,
        length_mm REAL,
        note TEXT NOT NULL,
        corrects INTEGER REFERENCES egg_measure,
        CHECK (egg IS NULL OR eggs = 1),
        CHECK (mass_g IS NOT NULL OR length_mm IS NOT NULL OR corrects IS NOT NULL))""",
    "CREATE INDEX egg_measure_of_clutch ON egg_measure (clutch_id, at_ms, measure_id)",
    "CREATE UNIQUE INDEX egg_measure_corrects ON egg_measure (corrects) WHERE corrects IS NOT NULL",
    *append_only("egg_measure"),
    # A note that corrects another takes its place; an empty one takes it back.
    """CREATE TABLE clutch_note (
        note_id INTEGER PRIMARY KEY,
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        at_ms INTEGER NOT NULL,
        recorded_at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        text TEXT NOT NULL,
        corrects INTEGER REFERENCES clutch_note,
        CHECK (text != '' OR corrects IS NOT NULL))""",
    "CREATE INDEX clutch_note_of_clutch ON clutch_note (clutch_id, at_ms, note_id)",
    "CREATE UNIQUE INDEX clutch_note_corrects ON clutch_note (corrects) WHERE corrects IS NOT NULL",
    *append_only("clutch_note"),
)
