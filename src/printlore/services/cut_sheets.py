"""On paper: the labels of what was cut, and a plan to scale with its steps."""

from pathlib import Path

from printlore.core.calendar import day
from printlore.core.cutting.drawing import plan_svg, size_words
from printlore.core.cutting.sections import Kind
from printlore.core.figure import Figure
from printlore.devices.paper_pages import typeset
from printlore.errors import Refused
from printlore.records.cutting import PlanRecord, SittingRecord
from printlore.records.database import Database
from printlore.records.papers import Lot
from printlore.records.rows import every, find
from printlore.records.stock import BoxRecord, Happened, StockLine
from printlore.services.cutting import procedures_of

_LABELS = Path(__file__).with_name("cut_labels.typ")
_PLAN = Path(__file__).with_name("cut_plan.typ")


def labels_pdf(db: Database, sitting: str) -> bytes:
    """Labels for the boxes that a sitting filled, as a PDF.

    Raises
    ------
    Refused
        If the sitting is not at its end: labels are for after lights on.
    """
    with db.reading() as conn:
        record = find(conn, SittingRecord, sitting)
        if not record.booked:
            raise Refused("The sitting is not at its end, so its boxes have no counts yet. Print labels after light.")
        lot = find(conn, Lot, record.procedure.lot)
        lines = [
            line for line in every(conn, StockLine, happened=Happened.CUT.value) if line.note == sitting and line.box
        ]
        boxes = [(find(conn, BoxRecord, line.box or ""), line) for line in lines if (line.sheets or 0) > 0]
    order = {size: number for number, size in enumerate(record.procedure.boxes, 1)}
    labels = [
        {
            "size": size_words(box.along, box.across) + " mm",
            "number": str(order.get((box.along, box.across, Kind.SHEET), "")),
            "count": str(line.sheets),
            "what": "test strips" if box.strips else "sheets",
            "paper": lot.family,
            "lot": lot_words(lot.name),
            "emulsion": lot.emulsion_number,
            "date": day(line.at),
            "source": record.procedure.source,
        }
        for box, line in boxes
    ]
    data = {"labels": labels, "care": "Total darkness only. Emulsion towards you: clipped corner top right."}
    return typeset(_LABELS, data, at=record.at.timestamp())


def lot_words(name: str) -> str:
    """A lot as it is named on paper: "lot 0417"; one that is called "lot 9" is not called so twice."""
    return name if name.lower().startswith("lot") else f"lot {name}"


def plan_pdf(db: Database, plan: str) -> bytes:
    """A kept plan as a PDF: drawn to scale, and every sitting's steps to read before the dark."""
    with db.reading() as conn:
        record = find(conn, PlanRecord, plan)
    cut = record.plan
    sittings = [
        {
            "title": f"Sitting {number}: {procedure.source}, {lot_words(procedure.lot)}",
            "boxes": [f"Box {i}: {size_words(s[0], s[1])} mm" for i, s in enumerate(procedure.boxes, 1)],
            "steps": [step.written for step in procedure.steps],
        }
        for number, procedure in enumerate(procedures_of(db, plan), 1)
    ]
    data = {
        "name": record.name,
        "proof": cut.proof,
        "summary": (
            f"{cut.settings} stop settings in {len(cut.sittings)} sittings; {Figure(cut.paper / 1e6):.2f} m² of "
            f"paper, {Figure(100 * cut.waste_share):.1f} % waste."
        ),
        "drawing": plan_svg(cut).replace("currentColor", "#000"),
        "sittings": sittings,
    }
    return typeset(_PLAN, data, at=record.at.timestamp())
