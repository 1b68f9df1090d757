"""Paper on hand, its ledger, fog readings, cut plans and sittings."""

from alembic import op

revision = "0004"
down_revision = "0003"

STATEMENTS = (
    """CREATE TABLE paper_makes (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    family_id INTEGER NOT NULL,
    thickness REAL,
    grammage REAL,
    CONSTRAINT ck_paper_makes_sizes CHECK (thickness > 0 AND grammage > 0),
    CONSTRAINT uq_paper_makes_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_paper_makes_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_paper_makes_corrects_id FOREIGN KEY(corrects_id) REFERENCES paper_makes (id),
    CONSTRAINT fk_paper_makes_family_id FOREIGN KEY(family_id) REFERENCES paper_families (id)
)""",
    """CREATE INDEX ix_paper_makes_family_id ON paper_makes (family_id)""",
    """CREATE TRIGGER paper_makes_never_changed BEFORE UPDATE ON paper_makes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER paper_makes_never_deleted BEFORE DELETE ON paper_makes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW paper_makes_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM paper_makes AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM paper_makes AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE containers (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    unsafe BOOLEAN DEFAULT 0 NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_containers_kind CHECK (kind IN ('bag', 'box', 'drum')),
    CONSTRAINT uq_containers_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_containers_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_containers_corrects_id FOREIGN KEY(corrects_id) REFERENCES containers (id)
)""",
    """CREATE INDEX ix_containers_name ON containers (name)""",
    """CREATE UNIQUE INDEX uq_containers_name ON containers (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER containers_never_changed BEFORE UPDATE ON containers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER containers_never_deleted BEFORE DELETE ON containers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW containers_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM containers AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM containers AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE rolls (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    lot_id INTEGER NOT NULL,
    width REAL NOT NULL,
    core_diameter REAL,
    core_weight REAL,
    stated_length REAL,
    price REAL,
    first_turns REAL NOT NULL,
    last_turns REAL NOT NULL,
    received_at TEXT NOT NULL,
    container_id INTEGER,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_rolls_sizes CHECK (width > 0 AND first_turns >= 0 AND last_turns >= 0),
    CONSTRAINT uq_rolls_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_rolls_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_rolls_corrects_id FOREIGN KEY(corrects_id) REFERENCES rolls (id),
    CONSTRAINT fk_rolls_lot_id FOREIGN KEY(lot_id) REFERENCES lots (id),
    CONSTRAINT fk_rolls_container_id FOREIGN KEY(container_id) REFERENCES containers (id)
)""",
    """CREATE INDEX ix_rolls_container_id ON rolls (container_id)""",
    """CREATE INDEX ix_rolls_lot_id ON rolls (lot_id)""",
    """CREATE INDEX ix_rolls_name ON rolls (name)""",
    """CREATE UNIQUE INDEX uq_rolls_name ON rolls (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER rolls_never_changed BEFORE UPDATE ON rolls
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER rolls_never_deleted BEFORE DELETE ON rolls
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW rolls_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM rolls AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM rolls AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE roll_measures (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    roll_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    outer_diameter REAL,
    turns REAL,
    weight REAL,
    CONSTRAINT uq_roll_measures_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_roll_measures_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_roll_measures_corrects_id FOREIGN KEY(corrects_id) REFERENCES roll_measures (id),
    CONSTRAINT fk_roll_measures_roll_id FOREIGN KEY(roll_id) REFERENCES rolls (id)
)""",
    """CREATE INDEX ix_roll_measures_roll_id ON roll_measures (roll_id)""",
    """CREATE TRIGGER roll_measures_never_changed BEFORE UPDATE ON roll_measures
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER roll_measures_never_deleted BEFORE DELETE ON roll_measures
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW roll_measures_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM roll_measures AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM roll_measures AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE paper_boxes (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    lot_id INTEGER NOT NULL,
    along REAL NOT NULL,
    across REAL NOT NULL,
    strips BOOLEAN DEFAULT 0 NOT NULL,
    container_id INTEGER,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_paper_boxes_sizes CHECK (along > 0 AND across > 0),
    CONSTRAINT uq_paper_boxes_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_paper_boxes_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_paper_boxes_corrects_id FOREIGN KEY(corrects_id) REFERENCES paper_boxes (id),
    CONSTRAINT fk_paper_boxes_lot_id FOREIGN KEY(lot_id) REFERENCES lots (id),
    CONSTRAINT fk_paper_boxes_container_id FOREIGN KEY(container_id) REFERENCES containers (id)
)""",
    """CREATE INDEX ix_paper_boxes_container_id ON paper_boxes (container_id)""",
    """CREATE INDEX ix_paper_boxes_lot_id ON paper_boxes (lot_id)""",
    """CREATE INDEX ix_paper_boxes_name ON paper_boxes (name)""",
    """CREATE UNIQUE INDEX uq_paper_boxes_name ON paper_boxes (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER paper_boxes_never_changed BEFORE UPDATE ON paper_boxes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER paper_boxes_never_deleted BEFORE DELETE ON paper_boxes
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW paper_boxes_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM paper_boxes AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM paper_boxes AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE stock_lines (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    at TEXT NOT NULL,
    happened TEXT NOT NULL,
    box_id INTEGER,
    roll_id INTEGER,
    sheets INTEGER,
    length REAL,
    trial TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_stock_lines_happened CHECK (
        happened IN ('received', 'cut', 'exposed', 'spoiled', 'sold', 'lost', 'counted')),
    CONSTRAINT ck_stock_lines_of_what CHECK (
        (box_id IS NOT NULL AND roll_id IS NULL AND sheets IS NOT NULL AND length IS NULL)
        OR (box_id IS NULL AND roll_id IS NOT NULL AND sheets IS NULL AND length IS NOT NULL)),
    CONSTRAINT uq_stock_lines_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_stock_lines_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_stock_lines_corrects_id FOREIGN KEY(corrects_id) REFERENCES stock_lines (id),
    CONSTRAINT fk_stock_lines_box_id FOREIGN KEY(box_id) REFERENCES paper_boxes (id),
    CONSTRAINT fk_stock_lines_roll_id FOREIGN KEY(roll_id) REFERENCES rolls (id)
)""",
    """CREATE INDEX ix_stock_lines_box_id ON stock_lines (box_id)""",
    """CREATE INDEX ix_stock_lines_roll_id ON stock_lines (roll_id)""",
    """CREATE TRIGGER stock_lines_never_changed BEFORE UPDATE ON stock_lines
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER stock_lines_never_deleted BEFORE DELETE ON stock_lines
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW stock_lines_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM stock_lines AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM stock_lines AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE paper_moves (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    at TEXT NOT NULL,
    place TEXT NOT NULL,
    box_id INTEGER,
    roll_id INTEGER,
    CONSTRAINT ck_paper_moves_what CHECK (
        place IN ('cold', 'room') AND (box_id IS NULL) != (roll_id IS NULL)),
    CONSTRAINT uq_paper_moves_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_paper_moves_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_paper_moves_corrects_id FOREIGN KEY(corrects_id) REFERENCES paper_moves (id),
    CONSTRAINT fk_paper_moves_box_id FOREIGN KEY(box_id) REFERENCES paper_boxes (id),
    CONSTRAINT fk_paper_moves_roll_id FOREIGN KEY(roll_id) REFERENCES rolls (id)
)""",
    """CREATE INDEX ix_paper_moves_box_id ON paper_moves (box_id)""",
    """CREATE INDEX ix_paper_moves_roll_id ON paper_moves (roll_id)""",
    """CREATE TRIGGER paper_moves_never_changed BEFORE UPDATE ON paper_moves
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER paper_moves_never_deleted BEFORE DELETE ON paper_moves
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW paper_moves_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM paper_moves AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM paper_moves AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE lot_relations (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    lot_id INTEGER NOT NULL,
    other_id INTEGER NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_lot_relations_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_lot_relations_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_lot_relations_corrects_id FOREIGN KEY(corrects_id) REFERENCES lot_relations (id),
    CONSTRAINT fk_lot_relations_lot_id FOREIGN KEY(lot_id) REFERENCES lots (id),
    CONSTRAINT fk_lot_relations_other_id FOREIGN KEY(other_id) REFERENCES lots (id)
)""",
    """CREATE INDEX ix_lot_relations_lot_id ON lot_relations (lot_id)""",
    """CREATE INDEX ix_lot_relations_other_id ON lot_relations (other_id)""",
    """CREATE TRIGGER lot_relations_never_changed BEFORE UPDATE ON lot_relations
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER lot_relations_never_deleted BEFORE DELETE ON lot_relations
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW lot_relations_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM lot_relations AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM lot_relations AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE fog_readings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    lot_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    box_id INTEGER,
    roll_id INTEGER,
    container_id INTEGER,
    scan TEXT DEFAULT '' NOT NULL,
    base JSON NOT NULL,
    verdict TEXT NOT NULL,
    places JSON NOT NULL,
    over_base JSON NOT NULL,
    coin_test TEXT DEFAULT '' NOT NULL,
    words TEXT DEFAULT '' NOT NULL,
    CONSTRAINT uq_fog_readings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_fog_readings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_fog_readings_corrects_id FOREIGN KEY(corrects_id) REFERENCES fog_readings (id),
    CONSTRAINT fk_fog_readings_lot_id FOREIGN KEY(lot_id) REFERENCES lots (id),
    CONSTRAINT fk_fog_readings_box_id FOREIGN KEY(box_id) REFERENCES paper_boxes (id),
    CONSTRAINT fk_fog_readings_roll_id FOREIGN KEY(roll_id) REFERENCES rolls (id),
    CONSTRAINT fk_fog_readings_container_id FOREIGN KEY(container_id) REFERENCES containers (id)
)""",
    """CREATE INDEX ix_fog_readings_box_id ON fog_readings (box_id)""",
    """CREATE INDEX ix_fog_readings_container_id ON fog_readings (container_id)""",
    """CREATE INDEX ix_fog_readings_lot_id ON fog_readings (lot_id)""",
    """CREATE INDEX ix_fog_readings_roll_id ON fog_readings (roll_id)""",
    """CREATE TRIGGER fog_readings_never_changed BEFORE UPDATE ON fog_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER fog_readings_never_deleted BEFORE DELETE ON fog_readings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW fog_readings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM fog_readings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM fog_readings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE trimmers (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    body JSON NOT NULL,
    CONSTRAINT uq_trimmers_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_trimmers_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_trimmers_corrects_id FOREIGN KEY(corrects_id) REFERENCES trimmers (id)
)""",
    """CREATE INDEX ix_trimmers_name ON trimmers (name)""",
    """CREATE UNIQUE INDEX uq_trimmers_name ON trimmers (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER trimmers_never_changed BEFORE UPDATE ON trimmers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER trimmers_never_deleted BEFORE DELETE ON trimmers
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW trimmers_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM trimmers AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM trimmers AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE cut_plans (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    at TEXT NOT NULL,
    body JSON NOT NULL,
    CONSTRAINT uq_cut_plans_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_cut_plans_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_cut_plans_corrects_id FOREIGN KEY(corrects_id) REFERENCES cut_plans (id)
)""",
    """CREATE INDEX ix_cut_plans_name ON cut_plans (name)""",
    """CREATE UNIQUE INDEX uq_cut_plans_name ON cut_plans (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER cut_plans_never_changed BEFORE UPDATE ON cut_plans
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER cut_plans_never_deleted BEFORE DELETE ON cut_plans
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW cut_plans_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM cut_plans AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM cut_plans AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE cut_sittings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    plan_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    at TEXT NOT NULL,
    body JSON NOT NULL,
    booked BOOLEAN DEFAULT 0 NOT NULL,
    CONSTRAINT uq_cut_sittings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_cut_sittings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_cut_sittings_corrects_id FOREIGN KEY(corrects_id) REFERENCES cut_sittings (id),
    CONSTRAINT fk_cut_sittings_plan_id FOREIGN KEY(plan_id) REFERENCES cut_plans (id)
)""",
    """CREATE INDEX ix_cut_sittings_name ON cut_sittings (name)""",
    """CREATE INDEX ix_cut_sittings_plan_id ON cut_sittings (plan_id)""",
    """CREATE UNIQUE INDEX uq_cut_sittings_name ON cut_sittings (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER cut_sittings_never_changed BEFORE UPDATE ON cut_sittings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER cut_sittings_never_deleted BEFORE DELETE ON cut_sittings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW cut_sittings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM cut_sittings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM cut_sittings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE cut_events (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    sitting_id INTEGER NOT NULL,
    number INTEGER NOT NULL,
    event TEXT NOT NULL,
    CONSTRAINT uq_cut_events_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_cut_events_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_cut_events_corrects_id FOREIGN KEY(corrects_id) REFERENCES cut_events (id),
    CONSTRAINT fk_cut_events_sitting_id FOREIGN KEY(sitting_id) REFERENCES cut_sittings (id)
)""",
    """CREATE INDEX ix_cut_events_sitting_id ON cut_events (sitting_id)""",
    """CREATE UNIQUE INDEX uq_cut_events_number ON cut_events (sitting_id, number)""",
    """CREATE TRIGGER cut_events_never_changed BEFORE UPDATE ON cut_events
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER cut_events_never_deleted BEFORE DELETE ON cut_events
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW cut_events_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM cut_events AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM cut_events AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
