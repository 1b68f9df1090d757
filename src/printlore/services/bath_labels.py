"""Labels for bottles and waste containers as a PDF: contents, dates, hazards in words, and a QR code."""

import io
from collections.abc import Sequence
from pathlib import Path

import segno

from printlore.core.bath.kit import Use
from printlore.core.calendar import day
from printlore.core.figure import Figure
from printlore.devices.paper_pages import typeset
from printlore.errors import ValueOutOfRange
from printlore.records.baths import Bath
from printlore.records.baths_kept import Concentrate, KitRecord
from printlore.records.baths_waste import HOLDS, WasteContainer
from printlore.records.database import Database
from printlore.records.rows import find
from printlore.services.bath_report import baths_in_use
from printlore.services.baths import concentrates_left, kit_of, use_of
from printlore.services.waste import waste_report

_TEMPLATE = Path(__file__).with_name("bath_labels.typ")

_HAZARD = {
    Use.DEVELOPER: "Skin sensitiser, alkaline: gloves, goggles. Not for drinking.",
    Use.STOP: "Acid: keep from bleach-fix and bleach. Goggles.",
    Use.BLEACH_FIX: "Never with acid, developer or bleach. Silver: not down the drain.",
    Use.STABILISER: "Read its safety sheet. Gloves, fan.",
}
_WASTE_HAZARD = {
    "silver": "WASTE, silver. No acid, no developer, no bleach. Not down the drain.",
    "developer": "WASTE, skin sensitiser, alkaline. No bleach-fix.",
    "stop": "WASTE, acid. No bleach-fix, no bleach.",
}


def _code(text: str) -> str:
    """QR code as SVG; four modules of quiet zone, so that a label that got wet is still read."""
    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(out, kind="svg", border=4, xmldecl=False)
    return out.getvalue().decode()


def _label(title: str, contents: str, lines: Sequence[str], hazard: str, plain: str) -> dict[str, object]:
    return {
        "title": title,
        "contents": contents,
        "lines": list(lines),
        "hazard": hazard,
        "plain": plain,
        "code": _code(plain),
    }


def labels(
    db: Database, *, baths: Sequence[str] = (), concentrates: Sequence[str] = (), containers: Sequence[str] = ()
) -> bytes:
    """Labels as a PDF: of what is named, or of everything in use. The same record gives the same bytes.

    Raises
    ------
    ValueOutOfRange
        If nothing was named and nothing is in use.
    UnknownRecord
        If one of them is not there.
    """
    if not (baths or concentrates or containers):
        baths = [bath.name for bath, _, _ in baths_in_use(db)]
        concentrates = [one.concentrate.name for one in concentrates_left(db)]
        containers = [one.container.name for one in waste_report(db)]
    made = []
    with db.reading() as conn:
        for name in baths:
            bath = find(conn, Bath, name)
            kit = kit_of(conn, bath.name)
            use = use_of(kit)
            lines = [f"mixed {day(bath.mixed_at)}", f"{bath.volume or 0:.0f} mL" if bath.volume else ""]
            if kit:
                lines.append(f"kit: {kit.name}")
                if kit.kit.life_days:
                    lines.append(f"keeps {kit.kit.life_days:.0f} days full and closed")
                if kit.hazards:
                    lines.append(kit.hazards)
            lines = [line for line in lines if line]
            made.append(_label(bath.name, f"working {use.value}", lines, _HAZARD[use], f"bath: {bath.name}"))
        for name in concentrates:
            one = find(conn, Concentrate, name)
            kit = find(conn, KitRecord, one.kit)
            lines = [f"kit: {one.kit}", f"opened {day(one.opened_at)}", f"{one.volume:.0f} mL when opened"]
            lines += [kit.hazards] if kit.hazards else []
            made.append(
                _label(
                    one.name,
                    f"part {one.part}, concentrate",
                    lines,
                    _HAZARD[kit.kit.use],
                    f"concentrate: {one.name}",
                )
            )
        for name in containers:
            container = find(conn, WasteContainer, name)
            lines = [f"up to {Figure(container.capacity):g} L", "begun on: ____________", "handed in on: ____________"]
            made.append(
                _label(
                    container.name,
                    HOLDS[container.holds],
                    lines,
                    _WASTE_HAZARD[container.holds],
                    f"waste: {container.name}",
                )
            )
    if not made:
        raise ValueOutOfRange(
            "Nothing is in use to label. Mix a bath, open a concentrate or set up a waste container first."
        )
    return typeset(_TEMPLATE, {"labels": made})
