"""The spine: heads, films, frames, papers, lots, baths, runs, trials and what was read and said of them."""

from alembic import op

revision = "0001"
down_revision = None

STATEMENTS = (
    """CREATE TABLE scans (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    sha256 TEXT NOT NULL,
    path TEXT NOT NULL,
    size INTEGER NOT NULL,
    media_type TEXT NOT NULL,
    original_name TEXT NOT NULL,
    CONSTRAINT ck_scans_sha256 CHECK (length(sha256) = 64 AND size >= 0),
    CONSTRAINT uq_scans_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_scans_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_scans_corrects_id FOREIGN KEY(corrects_id) REFERENCES scans (id)
)""",
    """CREATE UNIQUE INDEX uq_scans_sha256 ON scans (sha256) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER scans_never_changed BEFORE UPDATE ON scans
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER scans_never_deleted BEFORE DELETE ON scans
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW scans_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM scans AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM scans AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE processes (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    developer_temperature REAL,
    developer_time REAL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_processes_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_processes_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_processes_corrects_id FOREIGN KEY(corrects_id) REFERENCES processes (id)
)""",
    """CREATE INDEX ix_processes_name ON processes (name)""",
    """CREATE UNIQUE INDEX uq_processes_name ON processes (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER processes_never_changed BEFORE UPDATE ON processes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER processes_never_deleted BEFORE DELETE ON processes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW processes_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM processes AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM processes AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE heads (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    dial_step REAL NOT NULL,
    dial_max REAL NOT NULL,
    timer_step REAL NOT NULL,
    shortest_time REAL NOT NULL,
    longest_time REAL NOT NULL,
    f_numbers JSON NOT NULL,
    usual_cyan REAL NOT NULL,
    usual_magenta REAL NOT NULL,
    usual_yellow REAL NOT NULL,
    usual_time REAL NOT NULL,
    usual_f_number REAL NOT NULL,
    usual_magnification REAL NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_heads_kind CHECK (kind IN ('subtractive', 'additive_times', 'additive_levels')),
    CONSTRAINT ck_heads_steps CHECK (dial_step > 0 AND dial_max > 0 AND timer_step > 0),
    CONSTRAINT ck_heads_times CHECK (0 < shortest_time AND shortest_time < longest_time),
    CONSTRAINT ck_heads_usual CHECK (usual_time > 0 AND usual_f_number > 0 AND usual_magnification > 0),
    CONSTRAINT uq_heads_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_heads_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_heads_corrects_id FOREIGN KEY(corrects_id) REFERENCES heads (id)
)""",
    """CREATE INDEX ix_heads_name ON heads (name)""",
    """CREATE UNIQUE INDEX uq_heads_name ON heads (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER heads_never_changed BEFORE UPDATE ON heads
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER heads_never_deleted BEFORE DELETE ON heads
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW heads_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM heads AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM heads AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE lenses (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    focal_length REAL,
    pupil_factor REAL DEFAULT '1' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_lenses_pupil_factor CHECK (pupil_factor > 0),
    CONSTRAINT uq_lenses_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_lenses_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_lenses_corrects_id FOREIGN KEY(corrects_id) REFERENCES lenses (id)
)""",
    """CREATE INDEX ix_lenses_name ON lenses (name)""",
    """CREATE UNIQUE INDEX uq_lenses_name ON lenses (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER lenses_never_changed BEFORE UPDATE ON lenses
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER lenses_never_deleted BEFORE DELETE ON lenses
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW lenses_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM lenses AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM lenses AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE films (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    stock TEXT DEFAULT '' NOT NULL,
    process TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_films_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_films_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_films_corrects_id FOREIGN KEY(corrects_id) REFERENCES films (id)
)""",
    """CREATE INDEX ix_films_name ON films (name)""",
    """CREATE UNIQUE INDEX uq_films_name ON films (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER films_never_changed BEFORE UPDATE ON films
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER films_never_deleted BEFORE DELETE ON films
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW films_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM films AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM films AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE paper_families (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    surface TEXT DEFAULT '' NOT NULL,
    base TEXT DEFAULT '' NOT NULL,
    dye_model TEXT DEFAULT 'generic' NOT NULL,
    aim_density JSON NOT NULL,
    base_density JSON NOT NULL,
    black_density JSON NOT NULL,
    gradient JSON NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_paper_families_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_paper_families_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_paper_families_corrects_id FOREIGN KEY(corrects_id) REFERENCES paper_families (id)
)""",
    """CREATE INDEX ix_paper_families_name ON paper_families (name)""",
    """CREATE UNIQUE INDEX uq_paper_families_name ON paper_families (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER paper_families_never_changed BEFORE UPDATE ON paper_families
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER paper_families_never_deleted BEFORE DELETE ON paper_families
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW paper_families_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM paper_families AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM paper_families AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE costs (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    minute REAL NOT NULL,
    sheet REAL NOT NULL,
    strip REAL NOT NULL,
    millilitre REAL NOT NULL,
    cycle_minutes REAL NOT NULL,
    CONSTRAINT ck_costs_not_below_zero CHECK (min(minute, sheet, strip, millilitre, cycle_minutes) >= 0),
    CONSTRAINT uq_costs_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_costs_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_costs_corrects_id FOREIGN KEY(corrects_id) REFERENCES costs (id)
)""",
    """CREATE TRIGGER costs_never_changed BEFORE UPDATE ON costs
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER costs_never_deleted BEFORE DELETE ON costs
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW costs_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM costs AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM costs AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE tolerances (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    good_alone_cc REAL NOT NULL,
    good_alone_time REAL NOT NULL,
    edition_delta_e REAL NOT NULL,
    CONSTRAINT ck_tolerances_not_below_zero CHECK (min(good_alone_cc, good_alone_time, edition_delta_e) >= 0),
    CONSTRAINT uq_tolerances_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_tolerances_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_tolerances_corrects_id FOREIGN KEY(corrects_id) REFERENCES tolerances (id)
)""",
    """CREATE TRIGGER tolerances_never_changed BEFORE UPDATE ON tolerances
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER tolerances_never_deleted BEFORE DELETE ON tolerances
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW tolerances_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM tolerances AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM tolerances AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE preferences (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    length_unit TEXT NOT NULL,
    decimal_mark TEXT NOT NULL,
    currency TEXT NOT NULL,
    CONSTRAINT ck_preferences_length_unit CHECK (length_unit IN ('cm', 'inch')),
    CONSTRAINT ck_preferences_decimal_mark CHECK (decimal_mark IN ('.', ',')),
    CONSTRAINT uq_preferences_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_preferences_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_preferences_corrects_id FOREIGN KEY(corrects_id) REFERENCES preferences (id)
)""",
    """CREATE TRIGGER preferences_never_changed BEFORE UPDATE ON preferences
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER preferences_never_deleted BEFORE DELETE ON preferences
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW preferences_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM preferences AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM preferences AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE baths (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    process_id INTEGER NOT NULL,
    mixed_at TEXT NOT NULL,
    volume REAL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_baths_volume CHECK (volume IS NULL OR volume > 0),
    CONSTRAINT uq_baths_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_baths_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_baths_corrects_id FOREIGN KEY(corrects_id) REFERENCES baths (id),
    CONSTRAINT fk_baths_process_id FOREIGN KEY(process_id) REFERENCES processes (id)
)""",
    """CREATE UNIQUE INDEX uq_baths_name ON baths (name) WHERE corrects_id IS NULL""",
    """CREATE INDEX ix_baths_name ON baths (name)""",
    """CREATE INDEX ix_baths_process_id ON baths (process_id)""",
    """CREATE TRIGGER baths_never_changed BEFORE UPDATE ON baths
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER baths_never_deleted BEFORE DELETE ON baths
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW baths_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM baths AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM baths AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE frames (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    film_id INTEGER NOT NULL,
    number TEXT DEFAULT '' NOT NULL,
    reference_x REAL,
    reference_y REAL,
    aim_lightness REAL NOT NULL,
    aim_a REAL NOT NULL,
    aim_b REAL NOT NULL,
    thumbnail_id INTEGER,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_frames_aim CHECK (aim_lightness BETWEEN 0 AND 100),
    CONSTRAINT ck_frames_reference CHECK ((reference_x IS NULL) = (reference_y IS NULL)),
    CONSTRAINT uq_frames_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_frames_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_frames_corrects_id FOREIGN KEY(corrects_id) REFERENCES frames (id),
    CONSTRAINT fk_frames_film_id FOREIGN KEY(film_id) REFERENCES films (id),
    CONSTRAINT fk_frames_thumbnail_id FOREIGN KEY(thumbnail_id) REFERENCES scans (id)
)""",
    """CREATE INDEX ix_frames_thumbnail_id ON frames (thumbnail_id)""",
    """CREATE INDEX ix_frames_film_id ON frames (film_id)""",
    """CREATE INDEX ix_frames_name ON frames (name)""",
    """CREATE UNIQUE INDEX uq_frames_name ON frames (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER frames_never_changed BEFORE UPDATE ON frames
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER frames_never_deleted BEFORE DELETE ON frames
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW frames_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM frames AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM frames AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE lots (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    family_id INTEGER NOT NULL,
    emulsion_number TEXT DEFAULT '' NOT NULL,
    received_at TEXT,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_lots_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_lots_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_lots_corrects_id FOREIGN KEY(corrects_id) REFERENCES lots (id),
    CONSTRAINT fk_lots_family_id FOREIGN KEY(family_id) REFERENCES paper_families (id)
)""",
    """CREATE INDEX ix_lots_name ON lots (name)""",
    """CREATE UNIQUE INDEX uq_lots_name ON lots (name) WHERE corrects_id IS NULL""",
    """CREATE INDEX ix_lots_family_id ON lots (family_id)""",
    """CREATE TRIGGER lots_never_changed BEFORE UPDATE ON lots
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER lots_never_deleted BEFORE DELETE ON lots
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW lots_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM lots AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM lots AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE bath_states (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    bath_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    area_per_litre REAL NOT NULL,
    age_days REAL NOT NULL,
    strength REAL NOT NULL,
    CONSTRAINT ck_bath_states_state CHECK (area_per_litre >= 0 AND age_days >= 0 AND strength >= 0),
    CONSTRAINT uq_bath_states_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_bath_states_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_bath_states_corrects_id FOREIGN KEY(corrects_id) REFERENCES bath_states (id),
    CONSTRAINT fk_bath_states_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id)
)""",
    """CREATE INDEX ix_bath_states_bath_id ON bath_states (bath_id)""",
    """CREATE TRIGGER bath_states_never_changed BEFORE UPDATE ON bath_states
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER bath_states_never_deleted BEFORE DELETE ON bath_states
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW bath_states_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM bath_states AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM bath_states AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE runs (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    bath_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    drum TEXT DEFAULT '' NOT NULL,
    area REAL,
    water_in REAL,
    solution_out REAL,
    temperature REAL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_runs_amounts CHECK (area >= 0 AND water_in >= 0 AND solution_out >= 0),
    CONSTRAINT uq_runs_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_runs_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_runs_corrects_id FOREIGN KEY(corrects_id) REFERENCES runs (id),
    CONSTRAINT fk_runs_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id)
)""",
    """CREATE UNIQUE INDEX uq_runs_name ON runs (name) WHERE corrects_id IS NULL""",
    """CREATE INDEX ix_runs_bath_id ON runs (bath_id)""",
    """CREATE INDEX ix_runs_name ON runs (name)""",
    """CREATE TRIGGER runs_never_changed BEFORE UPDATE ON runs
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER runs_never_deleted BEFORE DELETE ON runs
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW runs_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM runs AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM runs AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE negative_readings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    frame_id INTEGER NOT NULL,
    red REAL NOT NULL,
    green REAL NOT NULL,
    blue REAL NOT NULL,
    source TEXT NOT NULL,
    standard_error REAL NOT NULL,
    device TEXT DEFAULT '' NOT NULL,
    at TEXT NOT NULL,
    scan_id INTEGER,
    as_entered TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_negative_readings_standard_error CHECK (standard_error >= 0),
    CONSTRAINT uq_negative_readings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_negative_readings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_negative_readings_corrects_id FOREIGN KEY(corrects_id) REFERENCES negative_readings (id),
    CONSTRAINT fk_negative_readings_frame_id FOREIGN KEY(frame_id) REFERENCES frames (id),
    CONSTRAINT fk_negative_readings_scan_id FOREIGN KEY(scan_id) REFERENCES scans (id)
)""",
    """CREATE INDEX ix_negative_readings_frame_id ON negative_readings (frame_id)""",
    """CREATE INDEX ix_negative_readings_scan_id ON negative_readings (scan_id)""",
    """CREATE TRIGGER negative_readings_never_changed BEFORE UPDATE ON negative_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER negative_readings_never_deleted BEFORE DELETE ON negative_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW negative_readings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM negative_readings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM negative_readings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE frame_aims (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    frame_id INTEGER NOT NULL,
    family_id INTEGER NOT NULL,
    density JSON NOT NULL,
    CONSTRAINT uq_frame_aims_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_frame_aims_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_frame_aims_corrects_id FOREIGN KEY(corrects_id) REFERENCES frame_aims (id),
    CONSTRAINT fk_frame_aims_frame_id FOREIGN KEY(frame_id) REFERENCES frames (id),
    CONSTRAINT fk_frame_aims_family_id FOREIGN KEY(family_id) REFERENCES paper_families (id)
)""",
    """CREATE INDEX ix_frame_aims_family_id ON frame_aims (family_id)""",
    """CREATE INDEX ix_frame_aims_frame_id ON frame_aims (frame_id)""",
    """CREATE TRIGGER frame_aims_never_changed BEFORE UPDATE ON frame_aims
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER frame_aims_never_deleted BEFORE DELETE ON frame_aims
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW frame_aims_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM frame_aims AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM frame_aims AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE trials (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    entry_key TEXT,
    kind TEXT NOT NULL,
    source TEXT DEFAULT 'bench' NOT NULL,
    at TEXT NOT NULL,
    frame_id INTEGER NOT NULL,
    head_id INTEGER NOT NULL,
    lot_id INTEGER NOT NULL,
    bath_id INTEGER NOT NULL,
    run_id INTEGER,
    lens_id INTEGER,
    bath_area_per_litre REAL NOT NULL,
    bath_age_days REAL NOT NULL,
    bath_strength REAL NOT NULL,
    carrier_glass BOOLEAN,
    mixing_box TEXT DEFAULT '' NOT NULL,
    print_width REAL,
    print_height REAL,
    column_mark TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_trials_kind CHECK (kind IN ('strip', 'sheet', 'control')),
    CONSTRAINT ck_trials_source CHECK (source IN ('bench', 'notebook')),
    CONSTRAINT uq_trials_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_trials_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_trials_corrects_id FOREIGN KEY(corrects_id) REFERENCES trials (id),
    CONSTRAINT fk_trials_frame_id FOREIGN KEY(frame_id) REFERENCES frames (id),
    CONSTRAINT fk_trials_head_id FOREIGN KEY(head_id) REFERENCES heads (id),
    CONSTRAINT fk_trials_lot_id FOREIGN KEY(lot_id) REFERENCES lots (id),
    CONSTRAINT fk_trials_bath_id FOREIGN KEY(bath_id) REFERENCES baths (id),
    CONSTRAINT fk_trials_run_id FOREIGN KEY(run_id) REFERENCES runs (id),
    CONSTRAINT fk_trials_lens_id FOREIGN KEY(lens_id) REFERENCES lenses (id)
)""",
    """CREATE INDEX ix_trials_lot_id ON trials (lot_id)""",
    """CREATE UNIQUE INDEX uq_trials_entry_key ON trials (entry_key) WHERE corrects_id IS NULL""",
    """CREATE INDEX ix_trials_head_id ON trials (head_id)""",
    """CREATE INDEX ix_trials_lens_id ON trials (lens_id)""",
    """CREATE UNIQUE INDEX uq_trials_name ON trials (name) WHERE corrects_id IS NULL""",
    """CREATE INDEX ix_trials_run_id ON trials (run_id)""",
    """CREATE INDEX ix_trials_name ON trials (name)""",
    """CREATE INDEX ix_trials_frame_id ON trials (frame_id)""",
    """CREATE INDEX ix_trials_bath_id ON trials (bath_id)""",
    """CREATE TRIGGER trials_never_changed BEFORE UPDATE ON trials
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER trials_never_deleted BEFORE DELETE ON trials
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW trials_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM trials AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM trials AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE exposures (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    trial_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    role TEXT NOT NULL,
    cyan REAL NOT NULL,
    magenta REAL NOT NULL,
    yellow REAL NOT NULL,
    time REAL NOT NULL,
    f_number REAL NOT NULL,
    magnification REAL NOT NULL,
    burns JSON NOT NULL,
    CONSTRAINT ck_exposures_role CHECK (role IN ('made', 'advised')),
    CONSTRAINT ck_exposures_above_zero CHECK (time > 0 AND f_number > 0 AND magnification > 0),
    CONSTRAINT ck_exposures_pack CHECK (cyan >= 0 AND magenta >= 0 AND yellow >= 0),
    CONSTRAINT uq_exposures_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_exposures_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_exposures_corrects_id FOREIGN KEY(corrects_id) REFERENCES exposures (id),
    CONSTRAINT fk_exposures_trial_id FOREIGN KEY(trial_id) REFERENCES trials (id)
)""",
    """CREATE INDEX ix_exposures_trial_id ON exposures (trial_id)""",
    """CREATE UNIQUE INDEX uq_exposures_position ON exposures (trial_id, role, position)
WHERE corrects_id IS NULL""",
    """CREATE TRIGGER exposures_never_changed BEFORE UPDATE ON exposures
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER exposures_never_deleted BEFORE DELETE ON exposures
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW exposures_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM exposures AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM exposures AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE patch_readings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    exposure_id INTEGER NOT NULL,
    red REAL NOT NULL,
    green REAL NOT NULL,
    blue REAL NOT NULL,
    standard_error REAL NOT NULL,
    beyond JSON NOT NULL,
    flags JSON NOT NULL,
    scan_id INTEGER,
    box JSON,
    wet BOOLEAN DEFAULT '0' NOT NULL,
    device TEXT DEFAULT '' NOT NULL,
    as_entered TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_patch_readings_standard_error CHECK (standard_error >= 0),
    CONSTRAINT uq_patch_readings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_patch_readings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_patch_readings_corrects_id FOREIGN KEY(corrects_id) REFERENCES patch_readings (id),
    CONSTRAINT fk_patch_readings_exposure_id FOREIGN KEY(exposure_id) REFERENCES exposures (id),
    CONSTRAINT fk_patch_readings_scan_id FOREIGN KEY(scan_id) REFERENCES scans (id)
)""",
    """CREATE INDEX ix_patch_readings_scan_id ON patch_readings (scan_id)""",
    """CREATE INDEX ix_patch_readings_exposure_id ON patch_readings (exposure_id)""",
    """CREATE TRIGGER patch_readings_never_changed BEFORE UPDATE ON patch_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER patch_readings_never_deleted BEFORE DELETE ON patch_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW patch_readings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM patch_readings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM patch_readings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE judgements (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    exposure_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    colour_cast TEXT NOT NULL,
    strength REAL NOT NULL,
    stops_too_dark REAL NOT NULL,
    person TEXT NOT NULL,
    wet BOOLEAN NOT NULL,
    light TEXT DEFAULT '' NOT NULL,
    filter_at_eye BOOLEAN,
    as_entered TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_judgements_cast CHECK (colour_cast IN ('none', 'red', 'green', 'blue', 'cyan', 'magenta', 'yellow')),
    CONSTRAINT ck_judgements_strength CHECK (strength >= 0),
    CONSTRAINT uq_judgements_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_judgements_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_judgements_corrects_id FOREIGN KEY(corrects_id) REFERENCES judgements (id),
    CONSTRAINT fk_judgements_exposure_id FOREIGN KEY(exposure_id) REFERENCES exposures (id)
)""",
    """CREATE INDEX ix_judgements_exposure_id ON judgements (exposure_id)""",
    """CREATE TRIGGER judgements_never_changed BEFORE UPDATE ON judgements
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER judgements_never_deleted BEFORE DELETE ON judgements
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW judgements_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM judgements AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM judgements AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE kept_marks (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    exposure_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    CONSTRAINT uq_kept_marks_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_kept_marks_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_kept_marks_corrects_id FOREIGN KEY(corrects_id) REFERENCES kept_marks (id),
    CONSTRAINT fk_kept_marks_exposure_id FOREIGN KEY(exposure_id) REFERENCES exposures (id)
)""",
    """CREATE INDEX ix_kept_marks_exposure_id ON kept_marks (exposure_id)""",
    """CREATE TRIGGER kept_marks_never_changed BEFORE UPDATE ON kept_marks
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER kept_marks_never_deleted BEFORE DELETE ON kept_marks
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW kept_marks_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM kept_marks AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM kept_marks AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
