"""The glossary has no word that nothing uses."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent


def terms():
    page = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1].strip() for line in page.splitlines() if line.startswith("| ") and "---" not in line]
    plain = (re.sub(r" \([^)]*\)", "", row) for row in rows[1:])
    return [term.strip(' "').casefold() for row in plain for term in row.split(",")]


def test_every_term_of_the_glossary_is_used():
    files = [path for path in (ROOT / "src").rglob("*") if path.suffix in (".py", ".html")]
    files += (ROOT / "bench").glob("*.py")
    files += [path for path in (ROOT / "docs").glob("*.md") if path.name != "glossary.md"]
    text = " ".join(path.read_text(encoding="utf-8").casefold().replace("_", " ") for path in files)
    text = " ".join(text.split())
    assert len(terms()) > 50
    assert [term for term in terms() if not re.search(rf"(?<!\w){re.escape(term)}", text)] == []
