"""Baths: kits, opened concentrates, mixes, what was poured; control patches; waste and exposure."""

from alembic import op

revision = "0003"
down_revision = "0002"

STATEMENTS = (
    """CREATE TABLE kits (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    use TEXT NOT NULL,
    parts JSON NOT NULL,
    life_days REAL,
    hazards TEXT DEFAULT '' NOT NULL,
    safety_sheet_read BOOLEAN DEFAULT 0 NOT NULL,
    CONSTRAINT uq_kits_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_kits_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_kits_corrects_id FOREIGN KEY(corrects_id) REFERENCES kits (id)
)""",
    """CREATE INDEX ix_kits_name ON kits (name)""",
    """CREATE UNIQUE INDEX uq_kits_name ON kits (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER kits_never_changed BEFORE UPDATE ON kits
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER kits_never_deleted BEFORE DELETE ON kits
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW kits_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM kits AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM kits AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE concentrates (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    kit_id INTEGER NOT NULL,
    part TEXT NOT NULL,
    volume REAL NOT NULL,
    opened_at TEXT NOT NULL,
    price REAL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_concentrates_amounts CHECK (volume > 0 AND (price IS NULL OR price >= 0)),
    CONSTRAINT uq_concentrates_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_concentrates_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_concentrates_corrects_id FOREIGN KEY(corrects_id) REFERENCES concentrates (id),
    CONSTRAINT fk_concentrates_kit_id FOREIGN KEY(kit_id) REFERENCES kits (id)
)""",
    """CREATE INDEX ix_concentrates_kit_id ON concentrates (kit_id)""",
    """CREATE INDEX ix_concentrates_name ON concentrates (name)""",
    """CREATE UNIQUE INDEX uq_concentrates_name ON concentrates (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER concentrates_never_changed BEFORE UPDATE ON concentrates
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER concentrates_never_deleted BEFORE DELETE ON concentrates
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW concentrates_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM concentrates AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM concentrates AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE mixes (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    bath_id INTEGER NOT NULL,
    kit_id INTEGER,
    at TEXT NOT NULL,
    volume REAL NOT NULL,
    bottle REAL NOT NULL,
    no_air BOOLEAN DEFAULT 0 NOT NULL,
    strength REAL DEFAULT 1 NOT NULL,
    drawn JSON NOT NULL,
    CONSTRAINT ck_mixes_amounts CHECK (volume > 0 AND bottle >= volume AND strength > 0),
    CONSTRAINT uq_mixes_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_mixes_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_mixes_corrects_id FOREIGN KEY(corrects_id) REFERENCES mixes (id),
    CONSTRAINT fk_mixes_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id),
    CONSTRAINT fk_mixes_kit_id FOREIGN KEY(kit_id) REFERENCES kits (id)
)""",
    """CREATE INDEX ix_mixes_bath_id ON mixes (bath_id)""",
    """CREATE INDEX ix_mixes_kit_id ON mixes (kit_id)""",
    """CREATE TRIGGER mixes_never_changed BEFORE UPDATE ON mixes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER mixes_never_deleted BEFORE DELETE ON mixes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW mixes_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM mixes AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM mixes AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE bath_events (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    bath_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    kind TEXT NOT NULL,
    volume REAL,
    bled REAL,
    strength REAL,
    drawn JSON NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_bath_events_kind CHECK (kind IN ('top up', 'bleed', 'gauged', 'retired')),
    CONSTRAINT ck_bath_events_volume CHECK ((kind = 'retired') = (volume IS NULL)),
    CONSTRAINT ck_bath_events_amounts CHECK (volume >= 0 AND bled >= 0 AND strength >= 0),
    CONSTRAINT uq_bath_events_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_bath_events_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_bath_events_corrects_id FOREIGN KEY(corrects_id) REFERENCES bath_events (id),
    CONSTRAINT fk_bath_events_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id)
)""",
    """CREATE INDEX ix_bath_events_bath_id ON bath_events (bath_id)""",
    """CREATE TRIGGER bath_events_never_changed BEFORE UPDATE ON bath_events
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER bath_events_never_deleted BEFORE DELETE ON bath_events
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW bath_events_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM bath_events AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM bath_events AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE own_times (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    process_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    temperature REAL NOT NULL,
    time REAL NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_own_times_time CHECK (time > 0),
    CONSTRAINT uq_own_times_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_own_times_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_own_times_corrects_id FOREIGN KEY(corrects_id) REFERENCES own_times (id),
    CONSTRAINT fk_own_times_process_id FOREIGN KEY(process_id) REFERENCES processes (id)
)""",
    """CREATE INDEX ix_own_times_process_id ON own_times (process_id)""",
    """CREATE TRIGGER own_times_never_changed BEFORE UPDATE ON own_times
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER own_times_never_deleted BEFORE DELETE ON own_times
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW own_times_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM own_times AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM own_times AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE cooling_curves (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    drum TEXT NOT NULL,
    at TEXT NOT NULL,
    volume REAL NOT NULL,
    wall REAL NOT NULL,
    times JSON NOT NULL,
    temperatures JSON NOT NULL,
    CONSTRAINT ck_cooling_curves_volume CHECK (volume > 0),
    CONSTRAINT uq_cooling_curves_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_cooling_curves_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_cooling_curves_corrects_id FOREIGN KEY(corrects_id) REFERENCES cooling_curves (id)
)""",
    """CREATE TRIGGER cooling_curves_never_changed BEFORE UPDATE ON cooling_curves
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER cooling_curves_never_deleted BEFORE DELETE ON cooling_curves
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW cooling_curves_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM cooling_curves AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM cooling_curves AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE control_readings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    bath_id INTEGER NOT NULL,
    run_id INTEGER,
    at TEXT NOT NULL,
    exposed_by TEXT NOT NULL,
    source TEXT NOT NULL,
    densities JSON NOT NULL,
    good BOOLEAN DEFAULT 0 NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_control_readings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_control_readings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_control_readings_corrects_id FOREIGN KEY(corrects_id) REFERENCES control_readings (id),
    CONSTRAINT fk_control_readings_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id),
    CONSTRAINT fk_control_readings_run_id FOREIGN KEY(run_id) REFERENCES runs (id)
)""",
    """CREATE INDEX ix_control_readings_bath_id ON control_readings (bath_id)""",
    """CREATE INDEX ix_control_readings_run_id ON control_readings (run_id)""",
    """CREATE TRIGGER control_readings_never_changed BEFORE UPDATE ON control_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER control_readings_never_deleted BEFORE DELETE ON control_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW control_readings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM control_readings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM control_readings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE control_limits (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    look JSON NOT NULL,
    stop JSON NOT NULL,
    source TEXT NOT NULL,
    CONSTRAINT uq_control_limits_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_control_limits_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_control_limits_corrects_id FOREIGN KEY(corrects_id) REFERENCES control_limits (id)
)""",
    """CREATE TRIGGER control_limits_never_changed BEFORE UPDATE ON control_limits
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER control_limits_never_deleted BEFORE DELETE ON control_limits
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW control_limits_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM control_limits AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM control_limits AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE fault_outcomes (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    at TEXT NOT NULL,
    cause TEXT NOT NULL,
    seen JSON NOT NULL,
    results JSON NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_fault_outcomes_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_fault_outcomes_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_fault_outcomes_corrects_id FOREIGN KEY(corrects_id) REFERENCES fault_outcomes (id)
)""",
    """CREATE TRIGGER fault_outcomes_never_changed BEFORE UPDATE ON fault_outcomes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER fault_outcomes_never_deleted BEFORE DELETE ON fault_outcomes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW fault_outcomes_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM fault_outcomes AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM fault_outcomes AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE waste_containers (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    holds TEXT NOT NULL,
    capacity REAL NOT NULL,
    CONSTRAINT ck_waste_containers_capacity CHECK (capacity > 0),
    CONSTRAINT ck_waste_containers_holds CHECK (holds IN ('silver', 'developer', 'stop')),
    CONSTRAINT uq_waste_containers_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_waste_containers_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_waste_containers_corrects_id FOREIGN KEY(corrects_id) REFERENCES waste_containers (id)
)""",
    """CREATE INDEX ix_waste_containers_name ON waste_containers (name)""",
    """CREATE UNIQUE INDEX uq_waste_containers_name ON waste_containers (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER waste_containers_never_changed BEFORE UPDATE ON waste_containers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER waste_containers_never_deleted BEFORE DELETE ON waste_containers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW waste_containers_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM waste_containers AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM waste_containers AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE waste_entries (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    container_id INTEGER NOT NULL,
    bath_id INTEGER,
    at TEXT NOT NULL,
    litres REAL NOT NULL,
    what TEXT NOT NULL,
    handed_to TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_waste_entries_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_waste_entries_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_waste_entries_corrects_id FOREIGN KEY(corrects_id) REFERENCES waste_entries (id),
    CONSTRAINT fk_waste_entries_container_id FOREIGN KEY(container_id) REFERENCES waste_containers (id),
    CONSTRAINT fk_waste_entries_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id)
)""",
    """CREATE INDEX ix_waste_entries_bath_id ON waste_entries (bath_id)""",
    """CREATE INDEX ix_waste_entries_container_id ON waste_entries (container_id)""",
    """CREATE TRIGGER waste_entries_never_changed BEFORE UPDATE ON waste_entries
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER waste_entries_never_deleted BEFORE DELETE ON waste_entries
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW waste_entries_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM waste_entries AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM waste_entries AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE disposal_answers (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    at TEXT NOT NULL,
    authority TEXT NOT NULL,
    holds TEXT NOT NULL,
    answer TEXT NOT NULL,
    CONSTRAINT uq_disposal_answers_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_disposal_answers_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_disposal_answers_corrects_id FOREIGN KEY(corrects_id) REFERENCES disposal_answers (id)
)""",
    """CREATE TRIGGER disposal_answers_never_changed BEFORE UPDATE ON disposal_answers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER disposal_answers_never_deleted BEFORE DELETE ON disposal_answers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW disposal_answers_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM disposal_answers AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM disposal_answers AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE exposure_diary (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    at TEXT NOT NULL,
    person TEXT NOT NULL,
    minutes REAL NOT NULL,
    substances TEXT NOT NULL,
    gloves BOOLEAN NOT NULL,
    goggles BOOLEAN NOT NULL,
    ventilation BOOLEAN NOT NULL,
    symptoms TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_exposure_diary_minutes CHECK (minutes >= 0),
    CONSTRAINT uq_exposure_diary_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_exposure_diary_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_exposure_diary_corrects_id FOREIGN KEY(corrects_id) REFERENCES exposure_diary (id)
)""",
    """CREATE TRIGGER exposure_diary_never_changed BEFORE UPDATE ON exposure_diary
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER exposure_diary_never_deleted BEFORE DELETE ON exposure_diary
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW exposure_diary_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM exposure_diary AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM exposure_diary AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
