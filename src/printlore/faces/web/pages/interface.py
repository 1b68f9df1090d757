"""The HTTP interface to the main job: what the page and the command line do, for programs."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, File, Query, UploadFile
from pydantic import BaseModel, ConfigDict, Field

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.measure.scan import Box
from printlore.core.measure.strip import Exposures, StripKind
from printlore.core.memory.evidence import NegativeReading
from printlore.core.quantities import parse_number
from printlore.core.said import parse_said
from printlore.faces import typed
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, Kept
from printlore.faces.web.scans import opened
from printlore.records.light import Head
from printlore.records.negatives import Frame
from printlore.records.papers import Lot
from printlore.records.trials import PatchReading
from printlore.services import entry
from printlore.services.advice import AdviceRequest, advise
from printlore.services.pairs import known_dyes
from printlore.services.strips import read_strip
from printlore.services.trials import PatchEntry, TrialEntry, add_judgement, list_trials, log_trial, remove_trial

api = APIRouter()

Name = Annotated[str, Field(min_length=1, max_length=200)]
Density = Annotated[list[float], Field(min_length=3, max_length=3)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class SettingIn(_Strict):
    """Pack in dial units, time in s; magnification is print length over negative length."""

    cyan: float = 0.0
    magenta: float = 0.0
    yellow: float = 0.0
    time: float
    f_number: float = 8.0
    magnification: float = 8.0

    def value(self) -> Setting:
        """The setting, checked."""
        return Setting(
            pack=FilterPack(cyan=self.cyan, magenta=self.magenta, yellow=self.yellow),
            time=self.time,
            f_number=self.f_number,
            magnification=self.magnification,
        )


class PatchIn(_Strict):
    """One exposure: as made, and what is known of it (densities, words, kept)."""

    setting: SettingIn
    density: Density | None = None
    standard_error: float = 0.006
    wet: bool = Field(False, description="Read wet: corrected by the paper's measured dry-down, refused without one.")
    said: str | None = Field(None, description='By eye: "10 magenta, 1/3 stop dark", "a trace cyan, wet", "neutral".')
    person: Name = "printer"
    light: str = ""
    filter_on_print: bool = False
    kept: bool = False

    def value(self) -> PatchEntry:
        """The exposure as it is logged."""
        reading = None
        if self.density is not None:
            red, green, blue = self.density
            reading = PatchReading(
                density=(red, green, blue), standard_error=self.standard_error, wet=self.wet, device="interface"
            )
        return PatchEntry(
            setting=self.setting.value(),
            reading=reading,
            judgement=None if self.said is None else parse_said(self.said, person=self.person).judgement,
            kept=self.kept,
            light=self.light,
            filter_on_print=self.filter_on_print,
            judged_with_filter=self.filter_on_print,
            as_entered=self.said or "",
        )


class TrialIn(_Strict):
    """A piece of paper. Only a setting is required; what is not named is taken from the trial before."""

    patches: Annotated[list[PatchIn], Field(min_length=1, max_length=60)]
    kind: Literal["strip", "sheet", "control"] = "sheet"
    frame: Name | None = None
    head: Name | None = None
    lot: Name | None = None
    bath: Name | None = None
    run: Name | None = None
    note: str = ""
    name: Name | None = None
    key: Name | None = Field(None, description="Your own mark: the same again returns what was recorded first.")


class JudgementIn(_Strict):
    """What an eye says, in words or figures."""

    said: str
    position: int = Field(0, ge=0)
    person: Name = "printer"
    light: str = ""
    filter_on_print: bool = False


class ReadingIn(_Strict):
    """How a kept scan is to be read. Boxes are left, top, right, bottom in pixels; none: the steps are found."""

    wedge: Annotated[list[float], Field(min_length=3, max_length=60)]
    boxes: list[Annotated[list[int], Field(min_length=4, max_length=4)]] = []
    count: int | None = Field(None, ge=1, le=60)
    kind: StripKind = StripKind.SAME_TONE
    exposures: Exposures = Exposures.SEPARATE
    reference_step: int | None = Field(None, ge=0)
    lot: Name | None = Field(
        None, description="Of which paper; none: the newest. Its known patches correct the reading."
    )


class FilmIn(_Strict):
    """A film."""

    name: Name
    stock: str = ""
    note: str = ""


class FrameIn(_Strict):
    """A frame of a film, with the densities of its reference patch if they were read."""

    name: Name
    film: Name
    number: str = ""
    note: str = ""
    reading: Density | None = None
    source: Name = "probe"


@api.get("/advice", tags=["main job"], summary="The next setting for a frame, how likely it is right, and why")
def get_advice(
    kept: Kept,
    frame: str | None = None,
    head: str | None = None,
    lot: str | None = None,
    bath: str | None = None,
    magnification: Annotated[str | None, Query(description="Decimal point or comma.")] = None,
    tolerance: Literal["edition match", "good alone"] = "edition match",
    compare_with: str | None = None,
) -> Any:
    asked = AdviceRequest(
        frame=frame,
        head=head,
        lot=lot,
        bath=bath,
        magnification=None if magnification is None else parse_number(magnification),
        tolerance=tolerance,
        compare_with=compare_with,
    )
    return plain(kept.ask(advise, asked).result())


@api.get("/trials", tags=["main job"], summary="Every trial, or those of a frame, in the order logged")
def get_trials(db: Db, frame: str | None = None) -> Any:
    where = {} if frame is None else {"frame": frame}
    return plain(list_trials(db, **where))


@api.post("/trials", tags=["main job"], status_code=201, summary="Log a trial with what was read or said of it")
def post_trial(db: Db, trial: TrialIn) -> Any:
    entry_ = TrialEntry(
        patches=tuple(patch.value() for patch in trial.patches),
        **trial.model_dump(exclude={"patches"}),
    )
    return plain(log_trial(db, entry_))


@api.post("/trials/{trial}/judgements", tags=["main job"], status_code=201, summary="Add what an eye said of a trial")
def post_judgement(db: Db, trial: str, judgement: JudgementIn) -> Any:
    heard = parse_said(judgement.said, person=judgement.person)
    record = add_judgement(
        db,
        trial,
        heard.judgement,
        position=judgement.position,
        light=judgement.light,
        filter_on_print=judgement.filter_on_print,
        judged_with_filter=judgement.filter_on_print,
        as_entered=judgement.said,
    )
    return plain({"trial": record, "doubts": heard.doubts})


@api.delete("/trials/{trial}", tags=["main job"], summary="Take a trial out of the evidence; its rows stay")
def delete_trial(db: Db, trial: str, version: Annotated[int, Query(ge=1)]) -> Any:
    remove_trial(db, trial, version=version)
    return {"removed": trial}


@api.post("/scans", tags=["main job"], status_code=201, summary="Keep a scan by its content")
def post_scan(db: Db, scan: Annotated[UploadFile, File()]) -> Any:
    content = scan.file.read()
    kept = entry.keep_scan(
        db,
        content,
        media_type=scan.content_type or "application/octet-stream",
        original_name=typed.file_name(scan.filename),
    )
    columns, rows = opened(db, kept.sha256).size
    return plain({"scan": kept, "columns": columns, "rows": rows})


@api.post("/scans/{sha256}/reading", tags=["main job"], summary="Densities off a kept scan; nothing is recorded")
def post_reading(db: Db, sha256: str, asked: ReadingIn) -> Any:
    boxes = [Box(left=left, top=top, right=right, bottom=bottom) for left, top, right, bottom in asked.boxes]
    known = known_dyes(db, lot=asked.lot)
    return plain(
        read_strip(
            opened(db, sha256),
            asked.wedge,
            boxes or None,
            count=asked.count,
            kind=asked.kind,
            exposures=asked.exposures,
            reference_step=asked.reference_step,
            profile=known.profile,
            dyes=known.shift,
        )
    )


@api.post("/films", tags=["negatives"], status_code=201, summary="Add a film")
def post_film(db: Db, film: FilmIn) -> Any:
    return plain(entry.add_film(db, film.name, stock=film.stock, note=film.note))


@api.post("/frames", tags=["negatives"], status_code=201, summary="Add a frame, with its reading if there is one")
def post_frame(db: Db, frame: FrameIn) -> Any:
    with db.transaction():
        record = entry.add_frame(db, frame.name, film=frame.film, number=frame.number, note=frame.note)
        if frame.reading is not None:
            red, green, blue = frame.reading
            reading = NegativeReading(density=(red, green, blue), source=frame.source)
            entry.read_negative(db, record.name, reading)
    return plain(entry.find_record(db, Frame, record.name))


@api.get("/heads", tags=["studio"], summary="Every head")
def get_heads(db: Db) -> Any:
    return plain(entry.list_records(db, Head))


@api.get("/lots", tags=["studio"], summary="Every paper lot")
def get_lots(db: Db) -> Any:
    return plain(entry.list_records(db, Lot))
