"""Evidence as a printer of a simulated room would have it: trials near the right setting, with truth beside them."""

from dataclasses import dataclass, replace

import numpy as np

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Evidence, FrameFacts, HeadFacts, NegativeReading, Patch, Trial
from printlore.core.paper.facts import PaperFacts
from printroom.kinds import KINDS
from printroom.room import Exposure, Outcome, Room


def vector(values):
    return float(values[0]), float(values[1]), float(values[2])


def as_setting(exposure: Exposure) -> Setting:
    return Setting(
        pack=FilterPack(cyan=exposure.cyan, magenta=exposure.magenta, yellow=exposure.yellow),
        time=exposure.time,
        f_number=exposure.f_number,
        magnification=exposure.magnification,
    )


def as_exposure(setting: Setting) -> Exposure:
    pack = setting.pack
    return Exposure(
        cyan=pack.cyan,
        magenta=pack.magenta,
        yellow=pack.yellow,
        time=setting.time,
        f_number=setting.f_number,
        magnification=setting.magnification,
    )


@dataclass(frozen=True)
class Record:
    room: Room
    evidence: Evidence
    outcomes: dict[str, Outcome]


def room_of(kind="steady vane", seed=1, films=("film A", "film B")):
    room = Room(seed=seed, kind=KINDS[kind])
    for film in films:
        room.add_film(film)
    room.add_lot("lot 1")
    room.add_bath("bath 1")
    return room


def facts_of(room, **head):
    usual = as_setting(room.usual)
    return HeadFacts(
        name="head",
        usual=usual,
        additive=room.kind.head.startswith("additive"),
        dial_step=room.kind.dial_step,
        timer_step=room.kind.time_step,
        **head,
    )


def evidence_of(room, trials=(), *, readings=True, lots=("lot 1",)):
    frames = {
        name: FrameFacts(
            name=name,
            film=room.film_of(name),
            reading=NegativeReading(
                density=vector(room.read_negative(name)), standard_error=room.kind.negative_reading_sd
            )
            if readings
            else None,
        )
        for name in room._frames
    }
    return Evidence(
        heads={"head": facts_of(room)},
        papers={"paper": PaperFacts(name="paper", aim_density=vector(room.aim_density))},
        lots=dict.fromkeys(lots, "paper"),
        baths={"bath 1": "process"},
        frames=frames,
        trials=tuple(trials),
    )


def patch_of(room, outcome, **more):
    return Patch(
        setting=as_setting(outcome.logged),
        density=vector(outcome.measured),
        standard_error=room.kind.density_reading_sd,
        **more,
    )


def printed(kind="steady vane", seed=1, negatives=12, *, readings=True, lots=1, spread=0.06, prints=2):
    """A record: each negative printed a few times, each time nearer the right setting, as a printer gets there."""
    room = room_of(kind, seed)
    names = tuple(f"lot {n + 1}" for n in range(lots))
    for lot in names:
        room.add_lot(lot)
    rng = np.random.default_rng(seed)
    trials, outcomes = [], {}
    for number in range(negatives):
        frame = room.add_frame(("film A", "film B")[number % 2])
        lot = names[number * lots // negatives]
        day = float(number // 3)
        at = room.conditions(lot, "bath 1", date=day)
        right = room.right_setting(frame, at)
        for turn in range(prints):
            off = spread / (1 + 2 * turn) * rng.standard_normal(3)
            asked = replace(
                right,
                magenta=max(right.magenta + 100 * off[0] / 2, 0.0),
                yellow=max(right.yellow + 100 * off[1] / 2, 0.0),
                time=right.time * 10 ** off[2],
            )
            run = f"{frame} run {turn}"
            outcome = room.expose_strip(frame, [asked], at, run=run)[0]
            name = f"{frame} print {turn + 1}"
            outcomes[name] = outcome
            trials.append(
                Trial(
                    name=name,
                    frame=frame,
                    head="head",
                    lot=lot,
                    bath="bath 1",
                    date=day,
                    run=run,
                    patches=(patch_of(room, outcome),),
                )
            )
    return Record(room, evidence_of(room, trials, readings=readings, lots=names), outcomes)
