"""An index on the number of each record, so that the newest and any one are found without reading a whole table."""

from alembic import op

revision = "0007"
down_revision = "0006"

TABLES = (
    "bath_events",
    "bath_states",
    "baths",
    "comparisons",
    "concentrates",
    "containers",
    "control_limits",
    "control_readings",
    "cooling_curves",
    "costs",
    "csv_mappings",
    "cut_events",
    "cut_plans",
    "cut_sittings",
    "disposal_answers",
    "evening_events",
    "evenings",
    "exposure_diary",
    "exposures",
    "fault_outcomes",
    "films",
    "fog_readings",
    "frame_aims",
    "frames",
    "heads",
    "judgements",
    "kept_marks",
    "kits",
    "lenses",
    "lot_relations",
    "lots",
    "mixes",
    "negative_readings",
    "own_times",
    "paper_boxes",
    "paper_families",
    "paper_makes",
    "paper_moves",
    "patch_readings",
    "preferences",
    "processes",
    "reading_pairs",
    "roll_measures",
    "rolls",
    "runs",
    "scanner_profiles",
    "scans",
    "sequences",
    "stock_lines",
    "tolerances",
    "trials",
    "trimmers",
    "waste_containers",
    "waste_entries",
    "watched_folders",
)


def upgrade() -> None:
    for table in TABLES:
        op.execute(f"CREATE INDEX ix_{table}_record ON {table} (coalesce(corrects_id, id))")
