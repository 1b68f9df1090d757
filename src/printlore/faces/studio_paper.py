"""Paper from Python, with the words of ``printlore paper``."""

from datetime import UTC, datetime
from typing import Any

from printlore.core.cutting.drawing import plan_svg
from printlore.core.plain import fitted_parts
from printlore.faces.studio_calls import Room, checked, through
from printlore.records.cutting import PlanRecord
from printlore.records.stock import BoxRecord, Place, RollMeasure, RollRecord
from printlore.services import cut_sheets, cutting, entry, fog, lots, paper_slip, stock
from printlore.services.stock import BoxStatus, receive_box, receive_roll


class Paper(Room):
    """Stock and its ledger, cut plans, fog, lots. Lengths in mm, weights in g; along is with the roll's length."""

    roll = through(stock.roll_status)
    measure = through(stock.measure_roll)
    make = through(stock.set_paper_make)
    book = through(stock.book_sheets)
    book_roll = through(stock.book_roll)
    ledger = through(stock.ledger)
    take_back = through(stock.take_booking_back)
    bring_back = through(stock.bring_booking_back)
    container = through(stock.mark_container)
    move = through(stock.move_paper)
    slip = through(paper_slip.sold)
    slip_pdf = through(paper_slip.slip_pdf)
    reorder = through(stock.when_to_reorder)
    cover = through(stock.lot_cover)
    stock = through(stock.stock)
    trimmer = through(cutting.get_trimmer)
    set_trimmer = through(cutting.set_trimmer)
    plan = through(cutting.plan_paper)
    trade_off = through(cutting.plan_trade_off)
    keep = through(cutting.keep_plan)
    prices = through(cutting.pack_prices)
    sittings = through(cutting.list_sittings)
    cut = through(cutting.start_sitting)
    press = through(cutting.press)
    plan_pdf = through(cut_sheets.plan_pdf)
    labels_pdf = through(cut_sheets.labels_pdf)
    fog_readings = through(fog.fog_reports)
    take_fog_back = through(fog.take_reading_back)
    bring_fog_back = through(fog.bring_reading_back)
    coins = through(fog.coin_test_showed)
    blame = through(fog.blame_container)
    fog = through(fog.log_blank)
    lot = through(lots.new_lot)
    same_emulsion = through(lots.state_same_emulsion)
    lots = through(lots.lots_compared)

    @checked
    def take_roll(
        self,
        name: str,
        *,
        lot: str,
        width: float,
        place: Place = Place.COLD,
        received_at: datetime | None = None,
        measure: RollMeasure | None = None,
        **more: Any,
    ) -> RollRecord:
        """Take a roll in; ``more`` as in ``records.stock.RollRecord``: ``stated_length``, ``core_diameter`` ..."""
        more = fitted_parts(RollRecord, more, where="take_roll")
        roll = RollRecord(name=name, lot=lot, width=width, received_at=received_at or datetime.now(UTC), **more)
        return receive_roll(self.database, roll, place=place, measure=measure)

    @checked
    def take_box(
        self,
        name: str,
        sheets: int,
        *,
        lot: str,
        across: float,
        along: float,
        place: Place = Place.COLD,
        container: str | None = None,
        at: datetime | None = None,
    ) -> BoxStatus:
        """Take in a box of sheets; ``at`` says when it came, if not now."""
        box = BoxRecord(name=name, lot=lot, along=along, across=across, container=container)
        return receive_box(self.database, box, sheets, at=at, place=place)

    def plans(self) -> list[PlanRecord]:
        """Plans that were kept."""
        return entry.list_records(self.database, PlanRecord)

    @checked
    def drawing(self, plan: str) -> str:
        """A kept plan to scale, as SVG."""
        return plan_svg(entry.find_record(self.database, PlanRecord, plan).plan)
