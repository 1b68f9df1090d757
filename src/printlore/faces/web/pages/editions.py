"""Editions: what was promised, which numbers exist and where they are, certificates, labels, and a price floor."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from printlore.core.edition.record import in_groups
from printlore.core.quantities import parse_size
from printlore.errors import StillWorking, UnknownRecord, ValueOutOfRange
from printlore.faces import edition_telling, edition_typed, telling, typed
from printlore.faces.edition_typed import count
from printlore.faces.plain import plain
from printlore.faces.problems import Problem, problem_of
from printlore.faces.web.numbered import numbered
from printlore.faces.web.page import Ask, Db, Kept, Page, go, render
from printlore.records.database import Database
from printlore.records.editions import Edition, PrintLine
from printlore.records.negatives import Frame
from printlore.services import editions as ledger
from printlore.services import print_lines
from printlore.services.doubts import slip_questions
from printlore.services.edition_price import PriceFloor, price_floor
from printlore.services.edition_sheets import care_pdf, care_words, certificate_pdf, labels_pdf, listing
from printlore.services.entry import find_record, frames_at_hand

PAGE = Page(title="Editions", path="/editions", order=25)
router = APIRouter(prefix="/editions")
api = APIRouter(prefix="/editions", tags=["editions"])
Typed = Annotated[str, Form()]
Ticked = Annotated[str, Form()]
R = TypeVar("R")

MOST_DRAWN = 120
"""Numbers that the drawing shows one by one."""
CHOOSE = "?"
"""Of the list of sheets, while none is chosen."""
READ_OFF = ("Title", "Number", "Prints in all", "Size", "Printed on")
"""Lines of a certificate that the page asks for when one is compared."""


class PdfFile(Response):
    """A PDF."""

    media_type = "application/pdf"


def _edition(db: Database, number: int) -> Edition:
    return numbered(db, Edition, number, "edition", "one under Editions")


def _print(db: Database, number: int) -> ledger.PrintView:
    return ledger.numbered_view(db, number)


def _home(db: Database, title: str) -> str:
    return f"/editions/{find_record(db, Edition, title).id}"


@router.get("")
def show(request: Request, db: Db, of: str = "") -> HTMLResponse:
    """Every edition at a glance, and a form for the next; ``of``: of which negative."""
    views = ledger.editions_of(db)
    return render(
        request,
        "editions/editions.html",
        views=views,
        taken_back=[one for one in ledger.editions_ever(db) if one.removed],
        frames=frames_at_hand(db),
        of=of,
        telling=edition_telling,
        most=MOST_DRAWN,
        read_off=READ_OFF,
        read=dict.fromkeys(READ_OFF, ""),
        asked={"code": "", "digest": ""},
        problem=None,
    )


@router.post("")
def post_edition(
    request: Request,
    db: Db,
    title: Typed,
    frame: Typed,
    prints: Typed,
    proofs: Typed = "0",
    artist: Typed = "",
    sizes: Typed = "",
) -> Response:
    """Promise an edition of a negative."""
    made = ledger.add_edition(
        db,
        title,
        frame=frame,
        prints=count(prints, "Prints"),
        proofs=count(proofs or "0", "Artist's proofs"),
        artist=artist,
        sizes=sizes,
    )
    return go(
        request,
        f"/editions/{made.id}",
        said=f"{made.name} is promised as {made.prints} prints.",
        undo=f"/editions/{made.id}/undo",
        done="edition-new",
    )


@router.get("/check")
def show_check(
    request: Request,
    db: Db,
    code: str = "",
    digest: str = "",
    title: str = "",
    number: str = "",
    prints_in_all: str = "",
    size: str = "",
    printed_on: str = "",
) -> HTMLResponse:
    """A certificate beside the ledger: whether it matches, and in what it differs."""
    read = dict(zip(READ_OFF, (title, number, prints_in_all, size, printed_on), strict=True))
    check, problem = None, None
    if code.strip() or digest.strip():
        check, problem = _tried(lambda: print_lines.check_certificate(db, code, digest, read=read))
    return render(
        request,
        "editions/check.html",
        status=problem.http_status if problem else 200,
        check=check,
        problem=problem,
        asked={"code": code, "digest": digest},
        read=read,
        read_off=READ_OFF,
        telling=edition_telling,
    )


def _tried(ask: Callable[[], R]) -> tuple[R | None, Problem | None]:
    """The answer to an entry that stands in the address, or what was wrong with it: the entry stays in its form."""
    try:
        return ask(), None
    except (UnknownRecord, ValueOutOfRange) as error:
        return None, problem_of(error)


@router.get("/{number}")
def show_edition(request: Request, db: Db, ask: Ask, number: int) -> HTMLResponse:
    """One edition: its numbers drawn, what is left, and the next print."""
    view = ledger.edition_view(db, _edition(db, number).name)
    sheets = ledger.sheets_to_number(db, view.edition)
    if sheets:
        sheets = ledger.sheets_to_number(db, view.edition, _asked(ask, view.edition))
    return render(
        request,
        "editions/edition.html",
        view=view,
        frame=find_record(db, Frame, view.edition.frame),
        sheets=[
            (row.name, ", ".join([f"{row.name}, {telling.when(row.at)}", *_told(row.name, doubts)]))
            for row, doubts in sheets
        ],
        sound=next((row.name for row, doubts in sheets if not doubts), CHOOSE),
        choose=CHOOSE,
        paper=ledger.paper_left(db, view),
        telling=edition_telling,
        when=telling.when,
        made_words=telling.made_words,
        most=MOST_DRAWN,
        over=view.given == ledger.MOST_COPIES,
        over_words=ledger.OVER_COPIES,
    )


def _asked(ask: Ask, edition: Edition) -> Mapping[str, str]:
    """What is asked about the edition's sheets, as far as it is known: the ledger does not wait for it."""
    with suppress(StillWorking):  # asked about beside the advice, too
        return ask(slip_questions, edition.frame)
    return ledger.NOTHING_ASKED


def _told(trial: str, doubts: tuple[str, ...]) -> list[str]:
    return [doubt.removeprefix(f"{trial} was ") for doubt in doubts]


@router.post("/{number}/change")
def post_change(
    request: Request,
    db: Db,
    number: int,
    version: Typed,
    title: Typed,
    prints: Typed,
    proofs: Typed = "0",
    artist: Typed = "",
    sizes: Typed = "",
    reason: Typed = "",
    confirmed: Ticked = "",
) -> Response:
    """Correct an edition, or change its promise; every earlier promise stays readable."""
    there = replace(_edition(db, number), version=count(version, "Version"))
    made = ledger.change_edition(
        db,
        there,
        reason=reason,
        confirmed=bool(confirmed),
        name=title,
        prints=count(prints, "Prints"),
        proofs=count(proofs or "0", "Artist's proofs"),
        artist=artist.strip(),
        sizes=sizes.strip(),
    )
    return go(request, f"/editions/{number}", said=f"{made.name} is put down anew.", done=f"edition-{number}")


@router.post("/{number}/undo")
def post_edition_undo(request: Request, db: Db, number: int) -> Response:
    """Take an edition back of which no number was given."""
    edition = _edition(db, number)
    ledger.take_edition_back(db, edition)
    return go(request, "/editions", said=f"{edition.name} is taken back.", undo=f"/editions/{number}/bring-back")


@router.post("/{number}/bring-back")
def post_edition_back(request: Request, db: Db, number: int) -> Response:
    """Let an edition that was taken back count again."""
    for one in ledger.editions_ever(db):
        if one.id == number:
            ledger.bring_edition_back(db, one.name)
            return go(request, f"/editions/{number}", said=f"{one.name} counts again.")
    raise UnknownRecord(f"There is no edition number {number} in this studio. Choose one under Editions.")


@router.post("/{number}/number")
def post_number(
    request: Request,
    db: Db,
    ask: Ask,
    number: int,
    trial: Typed = "",
    which: Typed = "",
    shown: Typed = "",
    proof: Typed = "",
    size: Typed = "",
    printed_on: Typed = "",
    paper: Typed = "",
    note: Typed = "",
    over_copies: Ticked = "",
) -> Response:
    """Give a print the number that stands on the page, or another, and its code.

    ``shown`` is the next number and the next proof as the page said them: sent twice, or from a second tab, they are
    not taken to be the ones after.
    """
    if trial == CHOOSE:
        raise ValueOutOfRange('"The sheet it is" is not chosen. Choose the sheet, or say that it was never logged.')
    on = typed.day_if(printed_on, "Printed on")
    edition = _edition(db, number)
    made = ledger.number_print(
        db,
        edition.name,
        trial=trial or None,
        number=_as_shown(which, shown, proof == "proof"),
        proof=proof == "proof",
        size=parse_size(size) if size.strip() else None,
        printed_on=on.isoformat() if on else None,
        paper=paper,
        note=note,
        over_copies=bool(over_copies),
        asked=_asked(ask, edition) if trial else ledger.NOTHING_ASKED,
    )
    said = f"{made.facts.number_words} has the code {made.print.name}: write it on the back."
    said = " ".join([said, *(f"{doubt}." for doubt in made.doubts)])
    undo = f"/editions/prints/{made.print.id}/undo"
    return go(request, f"/editions/prints/{made.print.id}", said=said, undo=undo, done=f"number-{number}")


def _as_shown(which: str, shown: str, proof: bool) -> int | None:
    if which.strip():
        return count(which, "Number")
    following = shown.split()
    said = following[proof] if len(following) == 2 else "0"
    return typed.carried(said) or None


@router.get("/{number}/price")
def show_price(
    request: Request,
    db: Db,
    number: int,
    size: str = "",
    finishing: str = "",
    mount: str = "",
    solution: str = "",
    spoiled: str = "",
    commission: str = "",
) -> HTMLResponse:
    """The price below which the next print is sold at a loss, term by term."""
    edition = _edition(db, number)
    given = {
        "size": size,
        "finishing": finishing,
        "mount": mount,
        "solution": solution,
        "spoiled": spoiled,
        "commission": commission,
    }
    floor, problem = _tried(lambda: _floor(db, edition.name, given))
    return render(
        request,
        "editions/price.html",
        status=problem.http_status if problem else 200,
        edition=edition,
        floor=floor or price_floor(db, edition.name),
        problem=problem,
        given=given,
        telling=edition_telling,
    )


def _floor(db: Database, title: str, given: dict[str, str]) -> PriceFloor:
    return price_floor(
        db,
        title,
        size=parse_size(given["size"]) if given["size"].strip() else None,
        finishing=typed.number_if(given["finishing"], "Finishing"),
        mount=typed.number_if(given["mount"], "Mount"),
        solution=typed.number_if(given["solution"], "Solution"),
        spoiled=edition_typed.share(given["spoiled"], "Spoiled"),
        commission=edition_typed.share(given["commission"], "Commission"),
    )


@router.get("/{number}/labels.pdf")
def get_labels(db: Db, number: int) -> Response:
    """Labels for the backs of all prints that count."""
    return PdfFile(labels_pdf(db, _codes(db, number)))


def _codes(db: Database, number: int) -> list[str]:
    view = ledger.edition_view(db, _edition(db, number).name)
    return [one.print.name for one in view.prints if not one.print.removed]


# one print


@router.get("/prints/{number}")
def show_print(request: Request, db: Db, number: int, lux: str = "", hours: str = "", dose: str = "") -> HTMLResponse:
    """One numbered print: what became of it, what comes next, and its papers."""
    view = _print(db, number)
    edition = find_record(db, Edition, view.print.edition)
    care, problem = _tried(lambda: care_words(**_light(lux, hours, dose)))
    return render(
        request,
        "editions/print.html",
        status=problem.http_status if problem else 200,
        problem=problem,
        view=view,
        edition=edition,
        sheets=[row.name for row, _ in ledger.sheets_to_number(db, edition)],
        telling=edition_telling,
        when=telling.when,
        taken_back=telling.TAKEN_BACK,
        happenings=[(one.value, one.value) for one in edition_typed.HAPPENINGS],
        personal=ledger.PERSONAL,
        duty=ledger.CERTIFICATE_DUTY,
        in_groups=in_groups,
        care=(care or care_words())[0][1],
        light={"lux": lux, "hours": hours, "dose": dose},
    )


def _light(lux: str, hours: str, dose: str) -> dict[str, float | None]:
    stated = typed.number_if(dose, "Stated dose")
    return _wall(typed.number_if(lux, "Lux"), typed.number_if(hours, "Hours a day"), stated)


def _wall(lux: float | None, hours: float | None, dose: float | None) -> dict[str, float | None]:
    return {"lux": lux, "hours": hours, "stated_dose": None if dose is None else dose * 1e6}


@router.post("/prints/{number}/line")
def post_line(
    request: Request,
    db: Db,
    number: int,
    happened: Typed,
    on: Typed = "",
    price: Typed = "",
    person: Typed = "",
    packed: Typed = "",
    note: Typed = "",
) -> Response:
    """Write down what happened to a print."""
    view = _print(db, number)
    made = print_lines.add_line(
        db,
        view.print.name,
        edition_typed.happened(happened),
        at=typed.moment_if(on, "On"),
        price=typed.number_if(price, "Price"),
        person=person,
        packed=packed,
        note=note,
    )
    said = f"{view.facts.number_words}: {made.happened.value}."
    undo = f"/editions/lines/{made.id}/undo"
    return go(request, f"/editions/prints/{number}", said=said, undo=undo, done=f"line-{number}")


@router.post("/prints/{number}/certificate")
def post_certificate(request: Request, db: Db, number: int) -> Response:
    """Write a print's certificate; its record and digest stay in the ledger."""
    made = print_lines.write_certificate(db, _print(db, number).print.name)
    said = "The certificate is written down. Print it, sign it."
    return go(request, f"/editions/prints/{number}", said=said, undo=f"/editions/lines/{made.id}/undo")


@router.get("/prints/{number}/certificate.pdf")
def get_certificate(db: Db, number: int) -> Response:
    """The newest certificate of a print."""
    return PdfFile(certificate_pdf(db, _print(db, number).print.name))


@router.get("/prints/{number}/label.pdf")
def get_label(db: Db, number: int) -> Response:
    """The label for the back of a print."""
    return PdfFile(labels_pdf(db, [_print(db, number).print.name]))


@router.get("/prints/{number}/care.pdf")
def get_care(db: Db, number: int, lux: str = "", hours: str = "", dose: str = "") -> Response:
    """Packing slip and care of a print, with the light dose if lux and hours are named."""
    return PdfFile(care_pdf(db, _print(db, number).print.name, **_light(lux, hours, dose)))


@router.post("/prints/{number}/correct")
def post_print_correct(
    request: Request,
    db: Db,
    ask: Ask,
    number: int,
    version: Typed,
    trial: Typed = "",
    size: Typed = "",
    printed_on: Typed = "",
    paper: Typed = "",
    note: Typed = "",
) -> Response:
    """Put a numbered print right; number and code stay."""
    there = replace(_print(db, number).print, version=count(version, "Version"))
    another = bool(trial) and trial != there.trial
    # what stood in the form was rounded for reading; left as it was, it is not a correction
    unit = request.state.writing.length_unit
    kept = there.size is not None and size.strip() == edition_telling.size_words(there.size, unit)
    on = typed.day_if(printed_on, "Printed on")
    made = ledger.correct_print(
        db,
        there,
        asked=_asked(ask, find_record(db, Edition, there.edition)) if another else ledger.NOTHING_ASKED,
        trial=trial or None,
        size=there.size if kept else parse_size(size) if size.strip() else None,
        printed_on=on.isoformat() if on else None,
        paper=paper.strip(),
        note=note,
    )
    said = " ".join(["The print is put right.", *(f"{doubt}." for doubt in made.doubts)])
    return go(request, f"/editions/prints/{number}", said=said, done=f"print-{number}")


@router.post("/prints/{number}/undo")
def post_print_undo(request: Request, db: Db, number: int) -> Response:
    """Take a numbering back; the number stays with it."""
    view = _print(db, number)
    ledger.take_print_back(db, view.print)
    back = f"/editions/prints/{number}/bring-back"
    said = f"The numbering of {view.facts.number_words} is taken back; no other print gets that number."
    return go(request, _home(db, view.print.edition), said=said, undo=back)


@router.post("/prints/{number}/bring-back")
def post_print_back(request: Request, db: Db, number: int) -> Response:
    """Let a numbering that was taken back count again."""
    view = _print(db, number)
    ledger.bring_print_back(db, view.print)
    return go(request, f"/editions/prints/{number}", said=f"{view.facts.number_words} counts again.")


@router.post("/lines/{number}/undo")
def post_line_undo(request: Request, db: Db, number: int) -> Response:
    """Take a line of a print back; it stays listed."""
    line = print_lines.take_print_line_back(db, print_lines.find_print_line(db, number))
    return _to_print(request, db, line, f"Taken back: {line.happened.value}.", f"/editions/lines/{number}/bring-back")


@router.post("/lines/{number}/bring-back")
def post_line_back(request: Request, db: Db, number: int) -> Response:
    """Let a line of a print that was taken back count again."""
    line = print_lines.bring_print_line_back(db, print_lines.find_print_line(db, number))
    return _to_print(request, db, line, f"Brought back: {line.happened.value}.", f"/editions/lines/{number}/undo")


def _to_print(request: Request, db: Database, line: PrintLine, said: str, undo: str) -> Response:
    home = ledger.find_print(db, line.print).print.id
    return go(request, f"/editions/prints/{home}", said=said, undo=undo)


# for programs


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class EditionIn(_Strict):
    """What is promised of a negative: numbered prints in all, artist's proofs beside."""

    title: str
    frame: str
    prints: int
    proofs: int = 0
    artist: str = ""
    sizes: str = ""


class PromiseIn(_Strict):
    """Another promise, why, and that it is meant if it is raised after somebody relied on it."""

    version: int
    prints: int | None = None
    proofs: int | None = None
    reason: str
    confirmed: bool = False


class NumberIn(_Strict):
    """A print to be numbered; size in mm."""

    trial: str | None = None
    number: int | None = None
    proof: bool = False
    size: Annotated[list[float], Field(min_length=2, max_length=2)] | None = None
    printed_on: str | None = None
    paper: str = ""
    over_copies: bool = False


class PrintIn(_Strict):
    """What is put right of a numbered print: what is left out stays, null empties it; size in mm."""

    version: int
    trial: str | None = None
    size: Annotated[list[float], Field(min_length=2, max_length=2)] | None = None
    printed_on: str | None = None
    paper: str = ""
    note: str = ""


class LineIn(_Strict):
    """What happened to a print, and when if not now."""

    happened: str
    at: AwareDatetime | None = None
    price: float | None = None
    person: str = ""
    packed: str = ""
    note: str = ""


@api.get("", summary="Every edition with its prints")
def get_editions(db: Db, frame: str | None = None) -> Any:
    return plain(ledger.editions_of(db, frame))


@api.post("", summary="Promise an edition")
def make_edition(db: Db, body: EditionIn) -> Any:
    return plain(ledger.add_edition(db, **body.model_dump()))


@api.get("/{number}", summary="One edition with its prints, promises and warnings")
def get_edition(db: Db, number: int) -> Any:
    return plain(ledger.edition_view(db, _edition(db, number).name))


@api.post("/{number}/promise", summary="Change what is promised; earlier promises stay readable")
def change_promise(db: Db, number: int, body: PromiseIn) -> Any:
    there = replace(_edition(db, number), version=body.version)
    changes = {what: value for what in ("prints", "proofs") if (value := getattr(body, what)) is not None}
    return plain(ledger.change_edition(db, there, reason=body.reason, confirmed=body.confirmed, **changes))


@api.get("/{number}/price", summary="Price floor of the next print, with its terms")
def get_price(
    db: Db,
    number: int,
    size: Annotated[str, Query(description='"20x25 cm"; as the last numbered print if empty.')] = "",
    finishing: float | None = None,
    mount: float | None = None,
    solution: float | None = None,
    spoiled: float | None = None,
    commission: float | None = None,
) -> Any:
    title = _edition(db, number).name
    return plain(
        price_floor(
            db,
            title,
            size=parse_size(size) if size.strip() else None,
            finishing=finishing,
            mount=mount,
            solution=solution,
            spoiled=spoiled,
            commission=commission,
        )
    )


@api.get("/{number}/sheets", summary="Sheets that have no number yet, each with what to beware of")
def get_sheets(db: Db, kept: Kept, number: int) -> Any:
    edition = _edition(db, number)
    asked = kept.ask(slip_questions, edition.frame).result()
    sheets = ledger.sheets_to_number(db, edition, asked)
    return plain([{"sheet": row, "doubts": doubts} for row, doubts in sheets])


@api.get("/{number}/labels.pdf", summary="Labels for the backs of all prints that count", response_class=PdfFile)
def get_labels_file(db: Db, number: int) -> PdfFile:
    return PdfFile(labels_pdf(db, _codes(db, number)))


@api.post("/{number}/prints", summary="Give a print its number and code")
def make_number(db: Db, kept: Kept, number: int, body: NumberIn) -> Any:
    edition = _edition(db, number)
    # asked first: it may have to be waited for, and a number is given at once
    asked = kept.ask(slip_questions, edition.frame).result() if body.trial else ledger.NOTHING_ASKED
    fields = body.model_dump() | {"size": _size(body.size)}
    return plain(ledger.number_print(db, edition.name, asked=asked, **fields))


def _size(sides: list[float] | None) -> tuple[float, float] | None:
    return None if sides is None else (sides[0], sides[1])


@api.get("/prints/{code}", summary="A numbered print by the code on its back")
def get_print(db: Db, code: str) -> Any:
    return plain(ledger.find_print(db, code))


@api.post("/prints/{code}/correct", summary="Put a print right; number and code stay, and so does what is left out")
def correct_number(db: Db, kept: Kept, code: str, body: PrintIn) -> Any:
    there = replace(ledger.find_print(db, code).print, version=body.version)
    changes = body.model_dump(exclude_unset=True, exclude={"version"})
    if "size" in changes:
        changes["size"] = _size(body.size)
    asked = ledger.NOTHING_ASKED
    if body.trial and body.trial != there.trial:
        asked = kept.ask(slip_questions, find_record(db, Edition, there.edition).frame).result()
    return plain(ledger.correct_print(db, there, asked=asked, **changes))


@api.delete("/prints/{code}", summary="Take a numbering back; the number stays with it")
def take_number_back(db: Db, code: str) -> Any:
    return plain(ledger.take_print_back(db, ledger.find_print(db, code).print))


@api.post("/prints/{code}/bring-back", summary="Let a numbering that was taken back count again")
def bring_number_back(db: Db, code: str) -> Any:
    return plain(ledger.bring_print_back(db, ledger.find_print(db, code).print))


@api.delete("/lines/{number}", summary="Take a line of a print back; it stays listed")
def take_line_back(db: Db, number: int) -> Any:
    return plain(print_lines.take_print_line_back(db, print_lines.find_print_line(db, number)))


@api.post("/lines/{number}/bring-back", summary="Let a line of a print that was taken back count again")
def bring_line_back(db: Db, number: int) -> Any:
    return plain(print_lines.bring_print_line_back(db, print_lines.find_print_line(db, number)))


@api.post("/prints/{code}/lines", summary="Write down what happened to a print")
def make_line(db: Db, code: str, body: LineIn) -> Any:
    happened = edition_typed.happened(body.happened)
    return plain(print_lines.add_line(db, code, happened, **body.model_dump(exclude={"happened"})))


@api.post("/prints/{code}/certificate", summary="Write a print's certificate; answers with its record and digest")
def make_certificate(db: Db, code: str) -> Any:
    return plain(print_lines.write_certificate(db, code))


@api.get("/prints/{code}/certificate.pdf", summary="The newest certificate of a print", response_class=PdfFile)
def get_certificate_file(db: Db, code: str) -> PdfFile:
    return PdfFile(certificate_pdf(db, code))


@api.get("/prints/{code}/label.pdf", summary="The label for the back of a print", response_class=PdfFile)
def get_label_file(db: Db, code: str) -> PdfFile:
    return PdfFile(labels_pdf(db, [code]))


Lux = Annotated[float | None, Query(description="Where it will hang [lx].")]
Hours = Annotated[float | None, Query(description="Of that light a day [h].")]
Dose = Annotated[float | None, Query(description="Stated by the paper's maker [million lx h].")]


@api.get("/prints/{code}/care.pdf", summary="Packing slip and care of a print", response_class=PdfFile)
def get_care_file(db: Db, code: str, lux: Lux = None, hours: Hours = None, dose: Dose = None) -> PdfFile:
    return PdfFile(care_pdf(db, code, **_wall(lux, hours, dose)))


@api.get("/prints/{code}/care", summary="How to keep a print, each rule with what it rests on")
def get_care_words(db: Db, code: str, lux: Lux = None, hours: Hours = None, dose: Dose = None) -> Any:
    ledger.find_print(db, code)
    return plain(edition_telling.care_rules(care_words(**_wall(lux, hours, dose))))


@api.get("/prints/{code}/check", summary="Compare a certificate with the ledger")
def check(
    db: Db,
    code: str,
    digest: str = "",
    says: Annotated[list[str] | None, Query(description='What else it says: "Number: 3/15".')] = None,
) -> Any:
    return plain(print_lines.check_certificate(db, code, digest, read=edition_typed.read_off(says or ())))


@api.get("/prints/{code}/listing", summary="A print as JSON-LD in the words of schema.org")
def get_listing(db: Db, code: str) -> Any:
    return listing(db, code)
