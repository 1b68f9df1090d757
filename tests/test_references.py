"""Every source that the code names is on the page of references, under the same key, and none is there for nothing."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
_SECTION = re.compile(r"^( *)References\n\1-{5,}\n(.*?)(?:\n\s*\n|\"\"\")", re.MULTILINE | re.DOTALL)
_IN_PASSING = re.compile(r"\(([a-z_]{4,}\d{4}[a-z]?|cis61|k4|process-monitoring)\b[^()]*\)")


def keys_on_the_page():
    page = (ROOT / "docs" / "references.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in page.splitlines() if line.startswith("| ") and "---" not in line]
    return {key.strip() for row in rows for key in row.split(",")} - {"key"}


def words_of(path):
    return set(re.findall(r"[a-z][a-z0-9_-]*[a-z0-9]", path.read_text(encoding="utf-8", errors="replace")))


def keys_in(text):
    """Keys of "References" sections (the first word of each part), and those in brackets in a sentence."""
    found = set(_IN_PASSING.findall(text))
    for _, body in _SECTION.findall(text):
        for line in body.splitlines():
            found |= {part.split()[0] for part in line.split(",") if part.split() and " : " not in line}
            found |= {line.split()[0]} if " : " in line else set()
    return found


@pytest.mark.parametrize("room", ["printlore", "printroom"])
def test_every_source_named_in_the_code_is_on_the_page(room):
    files = sorted((ROOT / "src" / room).rglob("*.py"))
    named = {key: path.name for path in files for key in keys_in(path.read_text(encoding="utf-8"))}
    if room == "printlore":
        assert {"sharma2005", "cis61", "gilmore1965"} <= set(named)
    unknown = {key: where for key, where in named.items() if key not in keys_on_the_page()}
    assert unknown == {}


def test_every_source_on_the_page_is_named_where_it_is_used():
    folders = [ROOT / "src", ROOT / "tests", ROOT / "bench"]
    files = [path for folder in folders for path in folder.rglob("*") if path.suffix in (".py", ".csv")]
    used = set().union(*(words_of(path) for path in files if path.name != Path(__file__).name))
    assert sorted(keys_on_the_page() - used) == []


def test_every_key_that_a_page_of_the_docs_names_is_on_the_page():
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    named = {key: page.name for page in pages for key in _IN_PASSING.findall(page.read_text(encoding="utf-8"))}
    assert {key: page for key, page in named.items() if key not in keys_on_the_page()} == {}
