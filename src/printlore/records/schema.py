"""All tables together. A module that declares tables is named here, so that they exist wherever the record does."""

from printlore.records import baths, evening, light, negatives, papers, scans, studio, trials
from printlore.records.tables import metadata

SUBJECTS = (light, scans, negatives, papers, baths, trials, studio, evening)

__all__ = ["SUBJECTS", "metadata"]
