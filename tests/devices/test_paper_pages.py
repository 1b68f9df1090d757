"""Pages to print: what no font can show is told, never left out."""

import pytest

from printlore.devices.paper_pages import typeset
from printlore.errors import ValueOutOfRange


def test_a_sign_that_no_font_has_is_told_on_a_page_that_is_to_last(tmp_path):
    template = tmp_path / "page.typ"
    template.write_text('#let data = json(bytes(sys.inputs.data))\n#set document(title: "Page")\n#data.title')
    assert typeset(template, {"title": "Low tide"}, lasting=True).startswith(b"%PDF")
    with pytest.raises(ValueOutOfRange, match=r"No font on this machine has .*, so the page cannot be made\. Install"):
        typeset(template, {"title": "Low \U000ffffe tide"}, lasting=True)  # no character, so in no font
