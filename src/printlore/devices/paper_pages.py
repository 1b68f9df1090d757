"""Pages to print, set by typst from a template and plain data; the same data gives the same bytes."""

import json
import re
from pathlib import Path
from typing import Any, Literal

import typst

from printlore.errors import ValueOutOfRange

_NO_SIGN = re.compile(r"the text `(.+?)` could not be displayed")


def typeset(
    template: Path, data: object, *, at: float = 0.0, form: Literal["pdf", "png"] = "pdf", lasting: bool = False
) -> bytes:
    """The pages as a PDF that says it was made ``at`` [s since 1970], or the first of them as a PNG.

    ``lasting``: a PDF that is to be read in decades (PDF/A-2, ISO 19005-2, level B: all that shows it is in it). For a
    sign that the fonts brought along lack it takes this machine's.

    Raises
    ------
    ValueOutOfRange
        If a lasting page holds a sign that no font here has.
    """

    def made(*, brought_along: bool) -> bytes:
        pages: Any = typst.compile(
            template.read_bytes(),
            format=form,
            sys_inputs={"data": json.dumps(data)},
            ignore_system_fonts=brought_along,
            pdf_standards="a-2b" if lasting and form == "pdf" else None,
            **({"timestamp": int(at)} if form == "pdf" else {"ppi": 120.0}),
        )
        return bytes(pages[0] if isinstance(pages, list) else pages)

    try:
        return made(brought_along=True)
    except typst.TypstError as error:
        if _NO_SIGN.search(str(error)) is None:
            raise
    try:
        return made(brought_along=False)
    except typst.TypstError as error:
        lacking = _NO_SIGN.search(str(error))
        if lacking is None:
            raise
        raise ValueOutOfRange(
            f"No font on this machine has {lacking[1]}, so the page cannot be made. Install a font that has it, or "
            "write it with other signs."
        ) from error
