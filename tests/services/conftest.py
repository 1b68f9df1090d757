import pytest

from printlore.records.database import Database


@pytest.fixture
def db():
    """A studio in memory."""
    with Database.in_memory() as database:
        yield database


@pytest.fixture
def studio(tmp_path):
    """A studio on disk."""
    with Database.open(tmp_path / "studio") as database:
        yield database
