"""Advise the next setting for a frame, under today's conditions or others."""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.advice.advise import Advice, Seen, history, tolerance_outline
from printlore.core.advice.advise import advise as advise_from_memory
from printlore.core.advice.cast import viewing_filter_of
from printlore.core.advice.decision import Costs
from printlore.core.advice.tolerance import Tolerance
from printlore.core.figure import Figure
from printlore.core.light.enlarging import Sheet, enlarged_as, enlargement
from printlore.core.light.filters import FilterPack
from printlore.core.light.handbook import handbook_move
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.light.three_lights import Lights, lights_of
from printlore.core.memory.evidence import BathState, Evidence, FrameFacts, HeadFacts, Trial, proofs
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import Memory, solve
from printlore.core.paper.dyes import paper_named
from printlore.core.paper.facts import PaperFacts
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.baths import Bath, bath_state
from printlore.records.baths_kept import developer_after
from printlore.records.bulk import day_number
from printlore.records.database import Database
from printlore.records.light import Head
from printlore.records.negatives import NEUTRAL_GREY, Frame
from printlore.records.papers import FrameAim, Lot, PaperFamily
from printlore.records.rows import every, find, latest
from printlore.records.studio import Costs as CostRecord
from printlore.records.studio import Tolerances, settled
from printlore.records.trials import TrialRow, last_printed, lot_after, newest_lot, with_patches
from printlore.services.doubts import Doubt, unanswered
from printlore.services.memory import current_memory
from printlore.services.one_thread import one_thread

_LIKELY = (0.6, 1.7)
"""Beyond these shares of what its sheet asks for, a print was of another negative or on a piece of it (from memory)."""
TOLERANCES = ("edition match", "good alone")


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceRequest:
    """What to advise on; whatever is left out is as in the studio's latest trial, or what was added last.

    Old notes say nothing of today while there are trials of the bench, and a bath that was given up gives way to the
    developer in use.

    Attributes
    ----------
    frame, head, lot, bath : str or None
    magnification, f_number : float or None
        Of the print to be made; by default as in the frame's latest trial, else the head's usual.
    sheet : Sheet or None
        In place of a magnification: what it is printed on, and how it lies there.
    tolerance : str
        "edition match" or "good alone".
    compare_with : str or None
        Trial from which the reasons start.
    at : datetime or None
        By default now.
    bath_state : BathState or None
        By default as the bath's ledger has it.
    """

    frame: str | None = None
    head: str | None = None
    lot: str | None = None
    bath: str | None = None
    magnification: float | None = None
    sheet: Sheet | None = None
    f_number: float | None = None
    tolerance: str = "edition match"
    compare_with: str | None = None
    at: datetime | None = None
    bath_state: BathState | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceReport:
    """Advice, with what is drawn beside it.

    Attributes
    ----------
    conditions : Conditions
        What the advice is for, with everything that was left out filled in.
    paper : str
    advice : Advice
    seen : tuple of Seen
        The frame's past patches: points of the cast map.
    outline : tuple of (yellow, magenta) [CC]
        Edge of the tolerance round the aim.
    handbook : Setting or None
        What the handbook's arithmetic makes of the frame's latest patch, on the head's steps, for comparison.
    dial_cc : (magenta, yellow)
        What one step of each dial moves at this setting, in CC of exposure, as learned of the head.
    lights : tuple of Lights
        Of a head with three lights what each is set to; given in turn, for each step of a strip. Empty with filters.
    doubts : tuple of Doubt
        Earlier trials of the frame that look like slips and were not answered for: ask.
    remarks : tuple of str
        What was assumed.
    newer_lot : str or None
        A lot added since the last print, where this is for the lot of that one because none was named.
    """

    conditions: Conditions
    paper: str
    advice: Advice
    seen: tuple[Seen, ...]
    outline: tuple[tuple[float, float], ...]
    handbook: Setting | None
    dial_cc: tuple[float, float]
    lights: tuple[Lights, ...]
    doubts: tuple[Doubt, ...]
    remarks: tuple[str, ...]
    newer_lot: str | None


LOT_OF_TODAY = "unnamed lot of today"
"""Stands in for the lot where old notes have one that was not named either."""

BATH_OF_TODAY = "unnamed bath of today"
"""Stands in for the developer where one that was not named was given up."""

_RESTLESS = (
    "The search for what fits all prints best had not come to rest when it was ended: prints that contradict each "
    "other leave several answers. Look through what is doubted (history of the negative, printlore doubts)."
)


@one_thread
def advise(db: Database, request: AdviceRequest) -> AdviceReport:
    """The next setting for a frame, how it will come out, and why.

    Raises
    ------
    UnknownRecord
        If a name is not in the studio.
    ValueOutOfRange
        If the tolerance is not one of the two.
    Refused
        If both a magnification and a sheet are given, or the trial to compare with says nothing.
    """
    refuse_two_sizes(request.magnification, request.sheet)
    at = request.at or datetime.now(UTC)
    memory = current_memory(db)
    with db.reading() as conn:
        costs, limits = settled(conn, CostRecord), settled(conn, Tolerances)
        last, today = _latest(memory, request.frame), last_printed(conn)
        names = {
            "head": request.head or (today.head if today else None) or _newest(conn, Head),
            "lot": request.lot or lot_after(conn, today),
            "bath": request.bath or developer_after(conn, today.bath if today else None),
            "frame": request.frame or (last.frame if last else None) or _newest(conn, Frame),
        }
        for kind, named, known in (
            (Head, request.head, memory.evidence.heads),
            (Lot, request.lot, memory.evidence.lots),
            (Bath, request.bath, memory.evidence.baths),
            (Frame, request.frame, memory.evidence.frames),
        ):
            if named is not None and named not in known:
                # what was removed may still be named by trials; what neither is there nor was printed is told
                find(conn, kind, named)
        if request.compare_with is not None and request.compare_with not in {
            one.name for one in memory.evidence.trials
        }:
            name = find(conn, TrialRow, request.compare_with).name
            raise Refused(f"{name} was neither read, judged nor kept, so no reasons start from it. Name another trial.")
        state = request.bath_state
        if state is None:
            state = bath_state(conn, names["bath"], at) if names["bath"] else BathState()
        dye_names = {paper.name: paper.dye_model for paper in every(conn, PaperFamily)}
        declared = next((one for one in every(conn, Head) if one.name == names["head"]), None)
        newer = _newer_lot(conn, today, names["lot"]) if request.lot is None else None
    memory, filled, remarks = _with_placeholders(memory, names)
    if newer is not None:
        remarks += (
            f'"{newer}" was added since the last print; this is for "{names["lot"]}". Name the lot you print on.',
        )
    if not memory.settled:
        remarks += (_RESTLESS,)
    evidence = memory.evidence
    remarks += tuple(
        f'Nothing was printed on the {word} "{named}" yet: how it differs is a usual figure until a print tells.'
        for word in ("lot", "head")
        if (named := names[word]) and evidence.trials and all(getattr(one, word) != named for one in evidence.trials)
    )
    head = evidence.heads[filled["head"]]
    mine = last if last is not None and last.frame == filled["frame"] else None
    magnification = request.magnification
    if request.sheet is not None:
        with db.reading() as conn:
            laid = laid_on(conn, request.sheet, filled["frame"])
        magnification = laid.magnification
        remarks += (laid.words,)
    if magnification is None:
        magnification = mine.patches[-1].setting.magnification if mine else head.usual.magnification
    conditions = Conditions(
        frame=filled["frame"],
        head=filled["head"],
        lot=filled["lot"],
        bath=filled["bath"],
        date=day_number(at),
        bath_state=state,
    )
    paper = evidence.lots.get(filled["lot"], "")
    dyes = paper_named(dye_names.get(paper, "generic"))
    tolerance = tolerance_named(request.tolerance, limits)
    advice = advise_from_memory(
        memory,
        conditions,
        dyes=dyes,
        tolerance=tolerance,
        costs=Costs(
            minute=costs.minute,
            sheet=costs.sheet,
            strip=costs.strip,
            millilitre=costs.millilitre,
            cycle_minutes=costs.cycle_minutes,
        ),
        magnification=magnification,
        f_number=request.f_number,
        compare_with=request.compare_with,
    )
    seen = history(memory, conditions)
    with db.reading() as conn:
        asked = unanswered(conn, advice.suspects)
        remarks += _aimed_at(conn, memory, conditions.frame, paper)
    if request.f_number is None:
        remarks += _other_stop(advice.setting, head)
    return AdviceReport(
        conditions=conditions,
        paper=paper,
        advice=advice,
        seen=seen,
        outline=tuple(tolerance_outline(memory, conditions, dyes=dyes, tolerance=tolerance)),
        handbook=_handbook(mine, seen, head),
        dial_cc=_dial_cc(memory, conditions, advice.setting),
        lights=_lights(advice, declared),
        doubts=asked,
        remarks=remarks,
        newer_lot=newer,
    )


def lights_on(head: Head | None, setting: Setting) -> Lights | None:
    """What the three lights of a head are set to; None of a head with filters."""
    if head is None or head.kind == "subtractive":
        return None
    return lights_of(setting, in_turn=head.kind == "additive_times", step=head.timer_step)


def _lights(advice: Advice, head: Head | None) -> tuple[Lights, ...]:
    strip = advice.strip_settings if advice.next == "strip" else ()
    found = [lights_on(head, setting) for setting in (strip if len(strip) > 1 else (advice.setting,))]
    each = tuple(lights for lights in found if lights is not None)
    # lights that burn together have one balance for all steps
    return each if not each or each[0].in_turn else each[:1]


def _other_stop(setting: Setting, head: HeadFacts) -> tuple[str, ...]:
    """Why the lens is to be set otherwise than usual, if it is."""
    usual = head.usual.f_number
    if setting.f_number == usual:
        return ()
    time = setting.time * (usual / setting.f_number) ** 2
    return (
        f"f/{Figure(setting.f_number):g}, not the usual f/{Figure(usual):g}: there the time would be about "
        f"{Figure(time):.1f} s; {Figure(head.shortest):g} to {Figure(head.longest):g} s are comfortable (from memory).",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """How far a negative is enlarged to lie on a sheet.

    Attributes
    ----------
    magnification : float
        Image length over negative length [1].
    words : str
        What was assumed, and what it costs.
    as_before : bool
        Reckoned as the frame's earlier print was laid on its sheet.
    aside : str
        Name of an earlier print that does not go with its size and this negative; empty if there is none.
    """

    magnification: float
    words: str
    as_before: bool = False
    aside: str = ""


def refuse_two_sizes(magnification: float | None, sheet: Sheet | None) -> None:
    """Raises Refused if both are asked for: each says how far the negative is enlarged."""
    if magnification is not None and sheet is not None:
        raise Refused("Give either a magnification or the size of the sheet, not both.")


def laid_on(conn: sa.Connection, sheet: Sheet, frame: str) -> Laid:
    """How far a frame is enlarged on a sheet, as its earlier print was laid if that was logged with its size."""
    reckoned = enlargement(sheet)
    plain = Laid(magnification=reckoned.magnification, words=reckoned.words)
    rows = every(conn, TrialRow, frame=frame) if every(conn, Frame, name=frame) else []
    sheets = [row for row in rows if row.kind == "sheet" and row.print_size]
    if not sheets:
        return plain
    before = max(sheets, key=lambda row: (row.at, row.id))
    made = with_patches(conn, [before])[0].patches[-1].made.magnification
    moved = enlarged_as(sheet, before.print_size or sheet.size, made)
    if math.isclose(moved, reckoned.magnification, rel_tol=5e-3):
        return plain
    if not _LIKELY[0] < moved / reckoned.magnification < _LIKELY[1]:
        said = (
            f"{reckoned.words} {before.name} was logged as enlarged {Figure(made):.3g} times, which does not go with "
            "its size and this negative: it is left aside. Say which negative it is."
        )
        return replace(plain, words=said, aside=before.name)
    if sheet.whole and moved > reckoned.magnification:
        return replace(plain, words=f"{reckoned.words} {before.name} was cropped, so it is left aside.")
    said = (
        f"Enlarged {Figure(moved):.3g} times: {before.name} was enlarged {Figure(made):.3g} times on its sheet, and "
        f"this is the same on the sheet asked for. By the sheet's size alone: {reckoned.words}"
    )
    return Laid(magnification=moved, words=said, as_before=True)


def _aimed_at(conn: sa.Connection, memory: Memory, frame: str, paper: str) -> tuple[str, ...]:
    """Which kept print is the aim, in words."""
    found = proofs(memory.trials_of(frame), memory.evidence.lots)
    there = every(conn, Frame, name=frame)
    if not found or (there and any(aim.family == paper for aim in every(conn, FrameAim, frame=frame))):
        return ()
    toned = any(one.aim != NEUTRAL_GREY for one in there)
    rest = " As long as that print is kept, the tone that was given for the negative does not count." if toned else ""
    if (frame, paper) in found:
        trial, _ = found[frame, paper]
        return (f"It is to match {trial.name}, the first print of it that was kept and measured.{rest}",)
    (_, other), (trial, _) = next(iter(found.items()))
    return (
        f'It is to look like {trial.name}, kept and measured on "{other}"; carried over to this paper by what is known '
        f"of the dyes of both.{rest}",
    )


def _dial_cc(memory: Memory, conditions: Conditions, setting: Setting) -> tuple[float, float]:
    """CC by which one step of the magenta and of the yellow dial moves its layer against red, as learned."""
    head = memory.evidence.heads[conditions.head]
    plain = replace(setting, burns=())
    made = [plain]
    for colour in ("magenta", "yellow"):
        value = getattr(plain.pack, colour)
        step = head.dial_step if value + head.dial_step <= head.dial_max else -head.dial_step
        made.append(replace(plain, pack=replace(plain.pack, **{colour: max(value + step, 0.0)})))
    here, magenta, yellow = forecast(look_up(memory, conditions), made).log_exposure
    return (
        float(abs(100 * ((magenta - here)[1] - (magenta - here)[0]))),
        float(abs(100 * ((yellow - here)[2] - (yellow - here)[0]))),
    )


def tolerance_named(name: str, limits: Tolerances) -> Tolerance:
    """One of the studio's two tolerances.

    Raises
    ------
    ValueOutOfRange
        If the name is neither.
    """
    if name == "edition match":
        return Tolerance(name=name, delta_e=limits.edition_delta_e)
    if name == "good alone":
        return Tolerance(name=name, colour_cc=limits.good_alone_cc, time_share=limits.good_alone_time)
    raise ValueOutOfRange(f'There is no tolerance "{name}"; use one of: {", ".join(TOLERANCES)}.')


def _latest(memory: Memory, frame: str | None) -> Trial | None:
    """The frame's latest trial, else the studio's; of one moment, the one logged last."""
    mine = memory.trials_of(frame) if frame else ()
    return max(reversed(mine or memory.evidence.trials), key=lambda trial: trial.date, default=None)


def _newest(conn: sa.Connection, kind: type[Head] | type[Frame]) -> str | None:
    there: Head | Frame | None = latest(conn, kind)
    return None if there is None else there.name


def _newer_lot(conn: sa.Connection, today: TrialRow | None, lot: str | None) -> str | None:
    """A lot that came after the last print, where this is for the lot of that one."""
    if today is None or lot is None or lot != today.lot:
        return None
    newest = newest_lot(conn)
    if newest is None or newest.name == lot or newest.created_at is None or today.created_at is None:
        return None
    return newest.name if newest.created_at > today.created_at else None


def _with_placeholders(memory: Memory, names: dict[str, str | None]) -> tuple[Memory, dict[str, str], tuple[str, ...]]:
    """Usual figures in the place of what the studio does not have yet; nothing is written."""
    filled = {word: name or f"unnamed {word}" for word, name in names.items()}
    if names["lot"] is None and filled["lot"] in memory.evidence.lots:
        filled["lot"] = LOT_OF_TODAY
    if names["bath"] is None and filled["bath"] in memory.evidence.baths:
        filled["bath"] = BATH_OF_TODAY
    missing = [word for word, name in names.items() if name is None]
    if not missing:
        return memory, filled, ()
    old = memory.evidence
    heads, papers, lots = dict(old.heads), dict(old.papers), dict(old.lots)
    baths, frames = dict(old.baths), dict(old.frames)
    if "head" in missing:
        heads[filled["head"]] = HeadFacts(name=filled["head"])
    if "lot" in missing:
        paper = next(iter(papers), "unnamed paper")
        papers.setdefault(paper, PaperFacts(name=paper))
        lots[filled["lot"]] = paper
    if "bath" in missing:
        baths[filled["bath"]] = next(iter(baths.values()), "unnamed process")
    if "frame" in missing:
        frames[filled["frame"]] = FrameFacts(name=filled["frame"], film="unnamed film")
    evidence = Evidence(heads=heads, papers=papers, lots=lots, baths=baths, frames=frames, trials=old.trials)
    remarks = tuple(
        f"No {'developer is in use' if word == 'bath' else word + ' is in the studio yet'}: "
        "usual figures, from memory, stand in for it."
        for word in missing
    )
    return solve(evidence), filled, remarks


def _handbook(trial: Trial | None, seen: tuple[Seen, ...], head: HeadFacts) -> Setting | None:
    """The printed rules applied to the frame's latest patch: what an eye said of it, else its densities."""
    if trial is None:
        return None
    patch = next((p for p in reversed(trial.patches) if p.judgement is not None), None)
    if patch is not None and patch.judgement is not None:
        made, said = patch.setting, patch.judgement
        word, strength, dark = said.cast.value, said.strength, said.stops_too_dark
    elif seen:
        made, cast = seen[-1].setting, seen[-1].cast
        word, strength = viewing_filter_of(cast.density)
        dark = cast.stops_too_dark
    else:
        return None
    moved = handbook_move(replace(made, burns=()), word, strength, dark)
    pack = {
        colour: min(round(value / head.dial_step) * head.dial_step, head.dial_max)
        for colour, value in moved.pack.by_colour().items()
    }
    seconds = max(round(moved.time / head.timer_step) * head.timer_step, head.timer_step)
    return replace(moved, pack=FilterPack(**pack), time=min(round(seconds, 6), LONGEST_TIME))
