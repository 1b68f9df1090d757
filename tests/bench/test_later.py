"""Measuring that begins later: every record of what was before, and the table of it."""

import numpy as np
from bench.later import HELD, rows_of, table


def test_a_room_is_played_with_every_record_and_told_in_a_table():
    rows = rows_of("steady vane", 5, before=4, after=3)
    assert [(row["reading"], row["held"]) for row in rows] == [
        *((False, held) for held in HELD[:-1]),
        *((True, held) for held in HELD),
    ]
    assert all(row["good"] == [1, 1, 1] for row in rows)
    cycles = {(row["reading"], row["held"]): np.add(row["strips"], row["sheets"]).sum() for row in rows}
    assert cycles[True, "measured"] <= cycles[True, "nothing"]
    lines = table([{**row, "seed": seed} for row in rows for seed in (1, 2)]).splitlines()
    assert len(lines) == 2 + len(rows)
    assert lines[-1].startswith("| steady vane | yes | unread | 2 | ")
