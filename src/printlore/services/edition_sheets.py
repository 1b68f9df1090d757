"""On paper with a numbered print: its certificate, the label for its back, packing slip and care; and a listing."""

import io
import math
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import segno

from printlore.core.calendar import day
from printlore.core.edition.dose import light_dose, years_to
from printlore.core.edition.record import NOT_RECORDED, digest, in_groups
from printlore.core.edition.state import Place, PrintEvent
from printlore.core.figure import Figure
from printlore.core.quantities import MM_PER_UNIT
from printlore.devices.paper_pages import typeset
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.rows import history
from printlore.records.studio import Preferences, settled
from printlore.services.editions import CHANGED_OUTSIDE, PrintView, edition_view, find_print

_CERTIFICATE = Path(__file__).with_name("print_certificate.typ")
_LABELS = Path(__file__).with_name("print_labels.typ")
_CARE = Path(__file__).with_name("print_care.typ")

GAPS = (
    "Lines left open were not recorded when this was written: they are to be filled in by hand, and the digest vouches "
    "for none of them."
)
BRIGHT, DIM = 450.0, 120.0
"""[lx] The two displays that tests of print life have assumed, 12 hours a day (print-life)."""
_DISPLAYS = "assumptions as in the article How Long Will Your Digital Prints Last?"
_KEEPING = "Care of Colour Photographic Materials, CCI Notes 16/5"
_PRACTICE = "common practice, no source"


def certificate_pdf(db: Database, code: str) -> bytes:
    """A print's newest certificate as a PDF; the same certificate gives the same bytes.

    Raises
    ------
    Refused
        If none was written, or it was taken back.
    """
    view = find_print(db, code)
    line = view.certificate
    if line is None:
        raise Refused(f"No certificate of {view.print.name} is written, or it was taken back. Write it first.")
    if digest(line.record) != line.digest:
        raise Refused(f"{CHANGED_OUTSIDE} Compare a backup, or write a new certificate.")
    lines = [one.split(": ", 1) for one in line.record.splitlines()[1:]]
    with db.reading() as conn:
        written = history(conn, line)[0]["created_at"]  # whatever day is said: what it holds is what was promised then
    promises = [one for one in edition_view(db, view.print.edition).promises if one.at <= written]
    notes = [
        f"The edition was promised as {before.words}; changed on {day(after.at)} to {after.words}"
        + (f": {after.reason.rstrip('.')}." if after.reason else ".")
        for before, after in pairwise(promises)
    ]
    if any(value == NOT_RECORDED for _, value in lines):
        notes.append(GAPS)
    said = dict(lines)
    sha256 = in_groups(line.digest)
    data = {
        "code": view.print.name,
        "title": said["Title"],
        "number": said["Number"],
        "lines": [
            {"what": what, "value": value, "gap": value == NOT_RECORDED}
            for what, value in lines
            if what not in ("Title", "Number")
        ],
        "notes": notes,
        "written": day(line.at),
        "digest": [sha256[:35], sha256[36:]],
        "foot": (
            "The print code is on the back of the print. Whoever keeps the ledger can compare this sheet with it. "
            f'The digest is that of the text "{line.record.splitlines()[0]}", then the lines above, title and number '
            'in their places after code and artist, each as "name: value"; an open one is "not recorded".'
        ),
    }
    return typeset(_CERTIFICATE, data, at=line.at.timestamp(), lasting=True)


def labels_pdf(db: Database, codes: Sequence[str]) -> bytes:
    """Labels for the backs of numbered prints, as a PDF.

    Raises
    ------
    Refused
        If none is named, or a numbering was taken back.
    """
    if not codes:
        raise Refused("No print is named to label. Number a print first.")
    views = [_counting(db, code) for code in codes]
    with db.reading() as conn:
        unit = settled(conn, Preferences).length_unit
    labels = [
        {
            "title": view.facts.title,
            "number": view.facts.number_words,
            "lines": [
                line
                for line in (
                    view.facts.artist,
                    _size(view.facts.size, unit),
                    f"printed {view.facts.printed_on}" if view.facts.printed_on else "",
                    view.beside,
                )
                if line
            ],
            "code": view.print.name,
            "code_drawn": _drawn(view.print.name),
        }
        for view in views
    ]
    return typeset(
        _LABELS, {"labels": labels, "care": "On the back, outside the picture; acid-free, never on the image."}
    )


def care_pdf(
    db: Database,
    code: str,
    *,
    lux: float | None = None,
    hours: float | None = None,
    stated_dose: float | None = None,
) -> bytes:
    """Packing slip and care of a numbered print, as a PDF (see ``care_words``); none if that was taken back."""
    view = _counting(db, code)
    sent = [line for line in view.lines if line.happened is PrintEvent.DELIVERED and not line.removed]
    with db.reading() as conn:
        unit = settled(conn, Preferences).length_unit
    packing = [
        f"Print {view.facts.number_words}, {view.print.name}"
        + (f", {_size(view.facts.size, unit)}" if view.facts.size else "")
        + (f" ({view.beside})" if view.beside else ""),
        "Certificate" + (f", written on {day(view.certificate.at)}" if view.certificate else " (none is written yet)"),
        sent[-1].packed if sent and sent[-1].packed else "Packed:",
    ]
    data = {
        "title": view.facts.title,
        "number": view.facts.number_words,
        "code": view.print.name,
        "packing": packing,
        "sent": day(sent[-1].at) if sent else "",
        "parts": [
            {"title": title, "rules": [{"words": words, "source": source} for words, source in rules]}
            for title, rules in care_words(lux=lux, hours=hours, stated_dose=stated_dose)
        ],
    }
    at = view.lines[-1].at if view.lines else datetime.fromtimestamp(0, UTC)
    return typeset(_CARE, data, at=at.timestamp())


def care_words(
    *,
    lux: float | None = None,
    hours: float | None = None,
    stated_dose: float | None = None,
) -> list[tuple[str, list[tuple[str, str]]]]:
    """How to keep a print: (part, its rules as (words, what they rest on)).

    Parameters
    ----------
    lux, hours : float, optional
        Of the buyer's wall [lx] and day [h]; without them no dose is said.
    stated_dose : float, optional
        Dose to a change that can be seen, as stated for the paper by its maker [lx h]; without it no years are said.

    Raises
    ------
    ValueOutOfRange
        If one of them cannot be, or lacks the others that it is reckoned with.

    References
    ----------
    print-life, cci16-5
    """
    if (lux is None) != (hours is None) or (stated_dose is not None and lux is None):
        raise ValueOutOfRange(
            "The light of a wall is lux for so many hours a day: give both, and a dose only with them."
        )
    if lux is None or hours is None:
        light = [
            (
                "How long the colours last depends on the light the print receives: measure the lux where it hangs, "
                "and count the hours. No number of years means anything without them.",
                _DISPLAYS,
            )
        ]
    else:
        a_year = light_dose(lux, hours)
        times = [a_year / light_dose(test, 12) for test in (BRIGHT, DIM)]
        light = [
            (
                f"At {_few(lux, 4)} lx for {_few(hours, 4)} hours a day this print receives {_few(a_year / 1e6, 3)} "
                f"million lux hours a year: {_few(times[0], 2)} times that of {Figure(BRIGHT):g} lx and "
                f"{_few(times[1], 2)} times that of {Figure(DIM):g} lx for 12 hours a day, the displays that tests of "
                "print life have assumed. Assumed here: the same light all year, no daylight beside it. Half the light "
                "takes twice as long to the same dose.",
                f"lux times hours times 365 days; {_DISPLAYS}",
            )
        ]
        if stated_dose is not None:
            years = years_to(stated_dose, a_year)
            light.append(
                (
                    f"The maker's stated dose of {_few(stated_dose / 1e6, 3)} million lux hours is reached in "
                    f"{_few(years, 2)} years of this light. It is for the display that its "
                    "test assumed, and leaves out fading in the dark.",
                    "stated by whoever entered it; arithmetic",
                )
            )
    light.append(
        (
            "No direct sun, no lamp close by; glass that holds back ultraviolet helps little against visible light.",
            _PRACTICE,
        )
    )
    dark = [
        ("The dyes also change in the dark, faster when warm and damp; light and dark add up.", _KEEPING),
        ("Keep it cool, dry and dark when it does not hang; not in an attic, a cellar or on an outer wall.", _KEEPING),
        ("A folder or box of paper free of acid and lignin, flat, nothing sticky.", _PRACTICE),
    ]
    handling = [
        ("Clean dry hands or cotton gloves; hold it by two opposite edges.", _PRACTICE),
        (
            "Mount it by hinges or corners behind a window mount, so that nothing touches the picture.",
            _PRACTICE,
        ),
        ("Unpack it in a dry room; leave a cold parcel closed until it is warm.", _PRACTICE),
        ("No water, no cleaner on the surface; dust it with a soft brush.", _PRACTICE),
    ]
    return [("Light", light), ("In the dark", dark), ("By hand", handling)]


def listing(db: Database, code: str) -> dict[str, Any]:
    """A print as JSON-LD in the words of schema.org, for a shop's page; what is not recorded is left out.

    Raises
    ------
    Refused
        If its numbering was taken back.

    References
    ----------
    schema-org
    """
    view = _counting(db, code)
    facts = view.facts
    with db.reading() as conn:
        preferences = settled(conn, Preferences)
    found: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "VisualArtwork",
        "name": facts.title,
        "identifier": facts.code,
        "artform": "Photograph",
        "artMedium": facts.process,
        "artEdition": facts.prints,
        "position": facts.number_words,
    }
    if facts.artist:
        found["artist"] = {"@type": "Person", "name": facts.artist}
    if facts.paper:
        found["artworkSurface"] = facts.paper
    if facts.printed_on:
        found["dateCreated"] = facts.printed_on
    if facts.size:
        for side, length in zip(("width", "height"), facts.size, strict=True):
            found[side] = {"@type": "QuantitativeValue", "value": round(length, 1), "unitCode": "MMT"}
    offered = [line for line in view.lines if line.price is not None and not line.removed]
    if offered:
        found["offers"] = {
            "@type": "Offer",
            "price": round(offered[-1].price or 0.0, 2),
            "availability": "https://schema.org/"
            + ("SoldOut" if view.sold or view.place is Place.DESTROYED else "InStock"),
        }
        if len(preferences.currency) == 3 and preferences.currency.isupper():
            found["offers"]["priceCurrency"] = preferences.currency
    return found


def _counting(db: Database, code: str) -> PrintView:
    view = find_print(db, code)
    if view.print.removed:
        raise Refused(f"The numbering of {view.print.name} was taken back: no paper goes with it. Bring it back first.")
    return view


def _few(value: float, figures: int) -> str:
    """A number above 0 in a sentence, with so many figures."""
    return str(Figure(round(value, figures - 1 - math.floor(math.log10(value)))))


def _drawn(text: str) -> str:
    out = io.BytesIO()
    segno.make(text, error="q", micro=False).save(out, kind="svg", border=4, xmldecl=False)
    return out.getvalue().decode()


def _size(size: tuple[float, float] | None, unit: str) -> str:
    if size is None:
        return ""
    wide, high = (round(side / MM_PER_UNIT[unit], 1 if unit == "cm" else 2) for side in size)
    return f"{Figure(wide):g} x {Figure(high):g} {unit}"
