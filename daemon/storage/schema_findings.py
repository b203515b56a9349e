"""What was found in each box during a round."""

from daemon.storage.schema import append_only

FINDINGS: tuple[str, ...] = (
    # One row for each entry as it was sent; `entry_id` is made by whoever sends it, so that a repeat is known. `at_ms`
    # is when it counts, `made_ms` what the clock of the sender said. An entry that `corrects` another takes its place.
    # `eggs`: JSON, what was said of eggs with the numbers of the register's events, or why it took nothing.
    """CREATE TABLE box_finding (
        finding_id INTEGER PRIMARY KEY,
        entry_id TEXT NOT NULL UNIQUE,
        round_id INTEGER NOT NULL REFERENCES round,
        box TEXT NOT NULL,
        clutch_id INTEGER REFERENCES clutch,
        who TEXT NOT NULL,
        device TEXT NOT NULL,
        seq INTEGER NOT NULL,
        made_ms INTEGER,
        at_ms INTEGER NOT NULL,
        received_ms INTEGER NOT NULL,
        late INTEGER NOT NULL CHECK (late IN (0, 1)),
        clock TEXT NOT NULL CHECK (clock IN ('', 'ahead', 'before-the-round')),
        medium TEXT CHECK (medium IN ('dry', 'clumps', 'wet')),
        lid TEXT CHECK (lid IN ('dry', 'beads', 'dripping')),
        wiped INTEGER NOT NULL CHECK (wiped IN (0, 1)),
        water_ml REAL CHECK (water_ml > 0),
        water_where TEXT CHECK (water_where IN ('edges', 'corner', 'whole')),
        looked_at_eggs INTEGER NOT NULL CHECK (looked_at_eggs IN (0, 1)),
        eggs TEXT NOT NULL,
        treated TEXT NOT NULL,
        remark TEXT NOT NULL,
        skipped TEXT NOT NULL,
        all_well INTEGER NOT NULL CHECK (all_well IN (0, 1)),
        through_lid INTEGER NOT NULL CHECK (through_lid IN (0, 1)),
        trained_handler INTEGER NOT NULL CHECK (trained_handler IN (0, 1)),
        corrects TEXT NOT NULL)""",
    "CREATE INDEX box_finding_of_round ON box_finding (round_id, box)",
    "CREATE INDEX box_finding_of_box ON box_finding (box, at_ms)",
    "CREATE INDEX box_finding_corrects ON box_finding (corrects) WHERE corrects != ''",
    *append_only("box_finding"),
    # The photo itself is a file beside the journal; `file` counts from the folder of the photos.
    """CREATE TABLE photo (
        photo_id TEXT PRIMARY KEY,
        entry_id TEXT NOT NULL,
        round_id INTEGER NOT NULL REFERENCES round,
        box TEXT NOT NULL,
        clutch_id INTEGER REFERENCES clutch,
        who TEXT NOT NULL,
        made_ms INTEGER,
        received_ms INTEGER NOT NULL,
        file TEXT NOT NULL,
        byte_count INTEGER NOT NULL,
        width INTEGER NOT NULL,
        height INTEGER NOT NULL,
        sha256 TEXT NOT NULL) WITHOUT ROWID""",
    "CREATE INDEX photo_of_round ON photo (round_id, box)",
    "CREATE INDEX photo_of_clutch ON photo (clutch_id, received_ms)",
    *append_only("photo"),
)

FINDINGS_OF_CLUTCH: tuple[str, ...] = (
    # The last round in which something was said of a clutch is asked for at every look of the evaluation.
    "CREATE INDEX box_finding_of_clutch ON box_finding (clutch_id, round_id)",
)
