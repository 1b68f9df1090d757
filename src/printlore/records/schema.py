"""All tables together. A module that declares tables is named here, so that they exist wherever the record does."""

from printlore.records import (
    baths,
    baths_control,
    baths_kept,
    baths_waste,
    cutting,
    editions,
    evening,
    light,
    measuring,
    negatives,
    papers,
    scans,
    stock,
    studio,
    tones,
    trials,
)
from printlore.records.tables import metadata

SUBJECTS = (
    light,
    scans,
    negatives,
    papers,
    baths,
    baths_kept,
    baths_control,
    baths_waste,
    trials,
    tones,
    studio,
    stock,
    cutting,
    editions,
    evening,
    measuring,
)

__all__ = ["SUBJECTS", "metadata"]
