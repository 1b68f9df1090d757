"""Two prints side by side, as a picture and as a one-page report (PDF or PNG)."""

import base64
from pathlib import Path
from typing import Literal

import cv2
import numpy as np

from printlore.core.figure import Figure
from printlore.core.measure.compare import Comparison
from printlore.devices.paper_pages import typeset
from printlore.services.comparing import paper_words

_TEMPLATE = Path(__file__).with_name("side_by_side.typ")
MOST_DELTA_E = 6.0
"""dE00 that is drawn white in the picture."""


def difference_png(result: Comparison) -> bytes:
    """PNG of the map of dE00: black is none, white 6 or more; mid-grey hatching where the two do not both lie."""
    shown = np.clip(result.delta_e_map / MOST_DELTA_E, 0.0, 1.0)
    grey = np.where(np.isfinite(shown), np.rint(np.nan_to_num(shown) * 255), 0).astype(np.uint8)
    rows, columns = np.indices(grey.shape)
    grey[~np.isfinite(shown) & ((rows + columns) % 8 == 0)] = 90
    done, out = cv2.imencode(".png", grey)
    assert done
    return out.tobytes()


def difference_svg(result: Comparison) -> str:
    """The map with the defects framed: solid where the second print has them, dashed where the first has."""
    rows, columns = result.delta_e_map.shape
    parts = []
    for defect in result.defects[:30]:
        box = [v / result.block for v in (defect.box.left, defect.box.top, defect.box.width, defect.box.height)]
        dash = "" if defect.in_second else ' stroke-dasharray="3 2"'
        which = "second" if defect.in_second else "first"
        parts.append(
            f'<rect x="{box[0] - 2:.1f}" y="{box[1] - 2:.1f}" width="{box[2] + 4:.1f}" height="{box[3] + 4:.1f}" '
            f'fill="none" stroke="white" stroke-width="1"{dash}><title>{defect.kind.value} in the {which}, '
            f"{Figure(defect.change):+.2f} density</title></rect>"
        )
    picture = base64.b64encode(difference_png(result)).decode()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {columns} {rows}" role="img"><title>Where the two prints differ</title>'
        f'<image width="{columns}" height="{rows}" xlink:href="data:image/png;base64,{picture}"/>{"".join(parts)}</svg>'
    )


def report(result: Comparison, names: tuple[str, str], *, form: Literal["pdf", "png"] = "pdf") -> bytes:
    """One page about a comparison; the same comparison gives the same bytes."""
    rows = [
        [
            shift.tones,
            f"{shift.share:.0%}",
            f"{Figure(shift.stops):+.2f} ± {Figure(shift.stops_error):.2f}",
            *(f"{Figure(value):+.1f}" for value in (shift.cyan, shift.magenta)),
            f"{Figure(shift.yellow):+.1f} ± {Figure(shift.cc_error):.1f}",
            f"{Figure(shift.delta_e):.1f}",
        ]
        for shift in (result.overall, *result.by_tone)
    ]
    data = {
        "words": result.words,
        "first": names[0],
        "second": names[1],
        "picture": difference_svg(result),
        "most": f"{Figure(MOST_DELTA_E):g}",
        "rows": rows,
        "reckoned": paper_words(result),
        "doubts": [flag.words for flag in result.flags],
    }
    return typeset(_TEMPLATE, data, form=form)
