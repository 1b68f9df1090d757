"""The HTTP interface to the main job: what the page and the command line do, for programs."""

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from printlore.core.bath.temperature import hot_volume
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.measure.scan import Box
from printlore.core.measure.strip import Exposures, StripKind
from printlore.core.memory.evidence import NegativeReading
from printlore.core.quantities import parse_number
from printlore.core.said import parse_said
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, Kept
from printlore.faces.web.scans import Upload, keep_upload, opened
from printlore.records.baths import Process
from printlore.records.light import Head, Lens
from printlore.records.negatives import Frame
from printlore.records.papers import Lot, PaperFamily
from printlore.records.studio import Costs, Preferences, Repeatability, Tolerances
from printlore.records.tables import KEEPING
from printlore.records.trials import PatchReading
from printlore.services import entry
from printlore.services.advice import AdviceRequest, advise
from printlore.services.backup import back_up
from printlore.services.baths import plan_mixing
from printlore.services.doubts import answer_doubt, doubts_of, it_was_a_slip
from printlore.services.export import export_bytes
from printlore.services.pairs import known_dyes
from printlore.services.strips import read_strip
from printlore.services.tones import ToneEntry, crossover, read_tones
from printlore.services.trials import (
    PatchEntry,
    TrialEntry,
    add_judgement,
    add_reading,
    bring_trial_back,
    list_trials,
    log_trial,
    mark_kept,
    remove_trial,
)
from printlore.services.waste import diary, waste_book

api = APIRouter()

Name = Annotated[str, Field(min_length=1, max_length=200)]
Density = tuple[float, float, float]
"""Red, green, blue."""


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class SettingIn(_Strict):
    """Pack in dial units, time in s; magnification is image length over negative length."""

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
            reading = PatchReading(
                density=self.density, standard_error=self.standard_error, wet=self.wet, device="interface"
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


class PatchReadingIn(_Strict):
    """Densities read off one patch of a trial, counted from 0."""

    density: Density
    standard_error: float = 0.006
    position: int = Field(0, ge=0)


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


class NegativeReadingIn(_Strict):
    """Densities of a negative's reference patch against the empty carrier."""

    density: Density
    source: Name = "probe"


class ZipFile(Response):
    """A zip file."""

    media_type = "application/zip"


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
    size: Annotated[str, Query(description='Of the sheet, in place of a magnification: "20x25 cm".')] = "",
    negative: Annotated[str, Query(description="Picture on the film [mm]; 36x24 if empty.")] = "",
    fit: Literal["filled", "whole"] = "filled",
    tolerance: Literal["edition match", "good alone"] = "edition match",
    compare_with: str | None = None,
) -> Any:
    asked = AdviceRequest(
        frame=frame,
        head=head,
        lot=lot,
        bath=bath,
        magnification=None if magnification is None else parse_number(magnification),
        sheet=typed.sheet(size, negative, fit) if size.strip() else None,
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


@api.post("/trials/{trial}/bring-back", tags=["main job"], summary="Let a trial that was taken back count again")
def post_bring_back(db: Db, trial: str, version: int | None = None) -> Any:
    return plain(bring_trial_back(db, trial, version=version))


@api.delete("/trials/{trial}", tags=["main job"], summary="Take a trial out of the evidence; its rows stay")
def delete_trial(db: Db, trial: str, version: Annotated[int, Query(ge=1)]) -> Any:
    remove_trial(db, trial, version=version)
    return {"removed": trial}


class DoubtAnswer(_Strict):
    """Whether a trial that looks like a slip was one. The likeliest slip is corrected unless a setting is given."""

    slip: bool
    patch: int = Field(0, ge=0, description="Its place in the trial, from 0: ``suspect.patch`` of the doubt.")
    really: SettingIn | None = Field(None, description="What was really set; without it the likeliest slip.")
    version: int | None = Field(None, ge=1)


class ToneIn(_Strict):
    """One tone of a print: what it reads, and what it should read (left out: neutral, as light as it is)."""

    name: Name
    density: Density
    aim_density: Density | None = None


@api.get("/doubts", tags=["main job"], summary="Trials that were probably not made as logged, and the likeliest slip")
def get_doubts(kept: Kept, frame: str | None = None) -> Any:
    return plain(kept.ask(doubts_of, frame).result())


@api.post("/trials/{trial}/doubt", tags=["main job"], summary="Answer whether a trial was a slip")
def post_doubt(db: Db, trial: str, answer: DoubtAnswer) -> Any:
    if answer.slip and answer.really is not None:
        return plain(it_was_a_slip(db, trial, answer.really.value(), patch=answer.patch, version=answer.version))
    return plain(answer_doubt(db, trial, slip=answer.slip, patch=answer.patch))


@api.post("/trials/{trial}/readings", tags=["main job"], status_code=201, summary="Add densities read off a trial")
def post_patch_reading(db: Db, trial: str, reading: PatchReadingIn) -> Any:
    value = PatchReading(density=reading.density, standard_error=reading.standard_error, device="interface")
    return plain(add_reading(db, trial, value, position=reading.position))


@api.post("/trials/{trial}/kept", tags=["main job"], summary="Accept a print as right, or take that back")
def post_kept(db: Db, trial: str, kept: bool = True, position: Annotated[int, Query(ge=0)] = 0) -> Any:
    return plain(mark_kept(db, trial, position=position, kept=kept))


@api.post("/trials/{trial}/tones", tags=["main job"], status_code=201, summary="Record light, middle and dark tones")
def post_tones(db: Db, trial: str, tones: Annotated[list[ToneIn], Field(min_length=1, max_length=30)]) -> Any:
    return plain(read_tones(db, trial, [ToneEntry(**tone.model_dump()) for tone in tones]))


@api.get("/frames/{frame}/tones", tags=["main job"], summary="Best compromise over tones, or what to read")
def get_tones(kept: Kept, frame: str) -> Any:
    return plain(kept.ask(crossover, frame).result())


@api.post("/scans", tags=["main job"], status_code=201, summary="Keep a scan by its content")
def post_scan(db: Db, scan: Upload) -> Any:
    kept = keep_upload(db, scan)
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


@api.get("/mixing", tags=["baths"], summary="How to mix a volume from a kit: order, vessels, error, cautions")
def get_mixing(
    db: Db,
    kit: str,
    volume: Annotated[float, Query(description="[mL]")],
    bottle: Annotated[float | None, Query(description="What the bottle holds [mL].")] = None,
    hardness: Annotated[float | None, Query(description="Of the water [mg/L] as calcium carbonate.")] = None,
) -> Any:
    return plain(plan_mixing(db, kit, volume, bottle=bottle, hardness=hardness))


@api.get("/water", tags=["baths"], summary="How much hot and cold water [mL] make a total of the wanted temperature")
def get_water(total: float, aim: float, cold: float, hot: float) -> Any:
    part = hot_volume(total, aim, cold, hot)
    return {"hot": part, "cold": total - part}


@api.get("/waste", tags=["baths"], summary="Everything poured into waste containers and handed over; see removed")
def get_waste_book(db: Db) -> Any:
    return plain(waste_book(db))


@api.get("/diary", tags=["baths"], summary="The diary of exposure, newest first; see removed")
def get_diary(db: Db) -> Any:
    return plain(diary(db))


@api.post("/films", tags=["negatives"], status_code=201, summary="Add a film")
def post_film(db: Db, film: FilmIn) -> Any:
    return plain(entry.add_film(db, film.name, stock=film.stock, note=film.note))


@api.post("/frames", tags=["negatives"], status_code=201, summary="Add a frame, with its reading if there is one")
def post_frame(db: Db, frame: FrameIn) -> Any:
    with db.transaction():
        record = entry.add_frame(db, frame.name, film=frame.film, number=frame.number, note=frame.note)
        if frame.reading is not None:
            reading = NegativeReading(density=frame.reading, source=frame.source)
            entry.read_negative(db, record.name, reading)
    return plain(entry.find_record(db, Frame, record.name))


class HeadIn(_Strict):
    """An enlarger head; what is left out has its usual value."""

    name: Name
    kind: Literal["subtractive", "additive_times", "additive_levels"] = "subtractive"
    usual: SettingIn | None = None
    dial_step: float | None = None
    timer_step: float | None = None
    f_numbers: list[float] | None = None


class LensIn(_Strict):
    """A lens; focal length in mm."""

    name: Name
    focal_length: float | None = None
    pupil_factor: float = 1.0


class PaperIn(_Strict):
    """A paper family; densities red, green, blue."""

    name: Name
    dye_model: Literal["generic", "b"] = "generic"
    aim_density: Density | None = None


class LotIn(_Strict):
    """An emulsion lot of a paper."""

    name: Name
    paper: Name


class BathIn(_Strict):
    """A developer mixed now, of a process; volume in mL. The ledger, kits and mixing are under baths and forms."""

    name: Name
    process: Name
    volume: float | None = None


class Named(_Strict):
    """Something that has but a name."""

    name: Name


class SettingsIn(_Strict):
    """Costs, tolerances, how well prints repeat and how numbers are written; only what is given is changed."""

    costs: dict[str, float] = {}
    tolerances: dict[str, float] = {}
    repeatability: dict[str, float | None] = {}
    preferences: dict[str, str] = {}


class BackupIn(_Strict):
    """A folder on the machine that serves the studio."""

    to: Name


@api.post("/heads", tags=["studio"], status_code=201, summary="Declare a head")
def post_head(db: Db, head: HeadIn) -> Any:
    given = head.model_dump(exclude={"name", "usual"}, exclude_none=True)
    if head.usual is not None:
        given["usual"] = head.usual.value()
    if "f_numbers" in given:
        given["f_numbers"] = tuple(given["f_numbers"])
    return plain(entry.add_head(db, head.name, **given))


@api.get("/lenses", tags=["studio"], summary="Every lens")
def get_lenses(db: Db) -> Any:
    return plain(entry.list_records(db, Lens))


@api.post("/lenses", tags=["studio"], status_code=201, summary="Declare a lens")
def post_lens(db: Db, lens: LensIn) -> Any:
    return plain(entry.add_lens(db, **lens.model_dump()))


@api.get("/papers", tags=["studio"], summary="Every paper family")
def get_papers(db: Db) -> Any:
    return plain(entry.list_records(db, PaperFamily))


@api.post("/papers", tags=["studio"], status_code=201, summary="Declare a paper family")
def post_paper(db: Db, paper: PaperIn) -> Any:
    aim = {} if paper.aim_density is None else {"aim_density": paper.aim_density}
    return plain(entry.add_paper(db, paper.name, dye_model=paper.dye_model, **aim))


@api.post("/lots", tags=["studio"], status_code=201, summary="Declare an emulsion lot of a paper")
def post_lot(db: Db, lot: LotIn) -> Any:
    return plain(entry.add_lot(db, lot.name, paper=lot.paper))


@api.get("/processes", tags=["studio"], summary="Every process")
def get_processes(db: Db) -> Any:
    return plain(entry.list_records(db, Process))


@api.post("/processes", tags=["studio"], status_code=201, summary="Declare a process")
def post_process(db: Db, process: Named) -> Any:
    return plain(entry.add_process(db, process.name))


@api.post("/baths", tags=["studio"], status_code=201, summary="Declare a developer that is mixed now")
def post_bath(db: Db, bath: BathIn) -> Any:
    return plain(entry.add_bath(db, bath.name, process=bath.process, volume=bath.volume))


@api.post("/frames/{frame}/readings", tags=["negatives"], status_code=201, summary="Record a reading of a negative")
def post_negative_reading(db: Db, frame: str, reading: NegativeReadingIn) -> Any:
    value = NegativeReading(density=reading.density, source=reading.source)
    return plain(entry.read_negative(db, frame, value))


@api.get("/settings", tags=["studio"], summary="Costs, tolerances, how well prints repeat, how numbers are written")
def get_settings(db: Db) -> Any:
    return plain(
        {
            "costs": entry.read_settings(db, Costs),
            "tolerances": entry.read_settings(db, Tolerances),
            "repeatability": entry.read_settings(db, Repeatability),
            "preferences": entry.read_settings(db, Preferences),
            "only_read": db.only_read,
        }
    )


@api.put(
    "/settings", tags=["studio"], summary="Change costs, tolerances, how well prints repeat, how numbers are written"
)
def put_settings(db: Db, settings: SettingsIn) -> Any:
    with db.transaction():
        if settings.costs:
            entry.change_settings(db, Costs, **_known(Costs, settings.costs))
        if settings.tolerances:
            entry.change_settings(db, Tolerances, **_known(Tolerances, settings.tolerances))
        if settings.repeatability:
            entry.change_settings(db, Repeatability, **_known(Repeatability, settings.repeatability))
        if settings.preferences:
            entry.change_settings(db, Preferences, **_known(Preferences, settings.preferences))
    return get_settings(db)


def _known(kind: type[Costs | Tolerances | Repeatability | Preferences], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The changes, if there are such settings."""
    known = {field.name for field in dataclasses.fields(kind)} - KEEPING
    if unknown := sorted(set(changes) - known):
        raise ValueOutOfRange(f"There is no setting {', '.join(unknown)}; there are {', '.join(sorted(known))}.")
    return dict(changes)


@api.post("/backup", tags=["studio"], summary="Copy the studio into a folder of the machine that serves it")
def post_backup(db: Db, backup: BackupIn) -> Any:
    return plain(back_up(db, Path(backup.to).expanduser()))


@api.get("/export.zip", tags=["studio"], summary="The whole studio as plain files", response_class=ZipFile)
def get_export(db: Db) -> ZipFile:
    return ZipFile(export_bytes(db))


@api.get("/heads", tags=["studio"], summary="Every head")
def get_heads(db: Db) -> Any:
    return plain(entry.list_records(db, Head))


@api.get("/lots", tags=["studio"], summary="Every paper lot")
def get_lots(db: Db) -> Any:
    return plain(entry.list_records(db, Lot))
