"""The example in docs/records.md is true."""

import re
from pathlib import Path

from printlore.services.notebook import enter_notebook
from printlore.services.trials import list_trials

DOC = Path(__file__).parents[2] / "docs" / "records.md"


def test_the_notebook_page_in_the_docs_is_read_whole(db):
    (page,) = re.findall(r"```notebook\n(.*?)```", DOC.read_text(), re.DOTALL)
    entered = enter_notebook(db, page)
    assert entered.not_entered == ()
    assert [line.setting.time for line in entered.lines] == [9.5, 12, 80, 8]
    assert [record.row.frame for record in list_trials(db)] == ["Kitchen 4", "Kitchen 5", "Porch", "Porch"]


def test_the_query_in_the_docs_runs(db):
    (query,) = re.findall(r"^    (select .*?;)$", DOC.read_text(), re.DOTALL | re.MULTILINE)
    enter_notebook(db, "Kitchen: 60M 45Y 9,5 s kept")
    with db.reading() as conn:
        assert conn.exec_driver_sql(query).all() == [("T1", "Kitchen", 60, 45, 9.5)]
