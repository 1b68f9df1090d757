"""Pages to print, set by typst from a template and plain data; the same data gives the same bytes."""

import json
from pathlib import Path
from typing import Any, Literal

import typst


def typeset(
    template: Path, data: object, *, at: float = 0.0, form: Literal["pdf", "png"] = "pdf", lasting: bool = False
) -> bytes:
    """The pages as a PDF that says it was made ``at`` [s since 1970], or the first of them as a PNG.

    ``lasting``: a PDF that is to be read in decades (PDF/A-2, ISO 19005-2, level B: all that shows it is in it).
    """
    made: Any = typst.compile(
        template.read_bytes(),
        format=form,
        sys_inputs={"data": json.dumps(data)},
        ignore_system_fonts=True,
        pdf_standards="a-2b" if lasting and form == "pdf" else None,
        **({"timestamp": int(at)} if form == "pdf" else {"ppi": 120.0}),
    )
    return bytes(made[0] if isinstance(made, list) else made)
