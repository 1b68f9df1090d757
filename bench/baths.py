"""Baths against the rule of thumb: simulated lives, forecasts, and what is spoiled and used.

    python -m bench baths forecasts [lives]     are the forecasts calibrated?
    python -m bench baths months [studios]      sheets spoiled by the bath, and solution used, against discarding
                                                a half-litre after fifteen 20x25 or as much area
    python -m bench baths charts                detection delay and false alarms, beside the textbook
    python -m bench baths                       all three

Each is printed and, unless a count is given, kept in ``bench/results/``. The lives come from
``tests/simulated_baths.py``, which shares nothing with the forecasts. Seeds below 10000 were used while the usual
figures were chosen; the numbers here are from seeds 10000 and up.
"""

import argparse
import json
import math
import os
import sys
from pathlib import Path

# Small products are quicker on one thread.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench.run_lengths import (
    BEYOND_THREE,
    CLASSICAL_RULES,
    FOUR_OF_FIVE,
    run_length_of_cusum,
    run_length_of_ewma,
    run_length_of_rules,
)
from printlore.core.bath.balance import trace
from printlore.core.bath.capacity import HORIZON, Harm, Work, forecast, volume_needed
from printlore.core.bath.choice import BathCosts, options
from printlore.core.bath.learning import (
    LIGHT_GRADIENT,
    ControlReading,
    departures_of,
    draws,
    for_next_bath,
    learn,
    usual_belief,
    wears_of,
)
from printlore.core.bath.pours import Bottle, Carry, DrumLoad, Ledger, TopUp
from printlore.core.control.limits import USUAL_SIGMA, Verdict, Wedge, aim_from, judge, limits_of
from simulated_baths import (
    SHEET,
    SimulatedBath,
    control_reading,
    departures,
    draw_bath,
    draw_life,
    fresh_wedge,
)

RESULTS = Path(__file__).parent / "results"
KINDS = ("mixed", "airy", "wet", "hungry")
FIRST_SEED = 10_000
HARM = Harm()
COSTS = BathCosts(millilitre=0.02, spoiled=7.5, fresh=3.0)
"""In sheets: a half-litre costs ten, a spoiled sheet its paper and 13 minutes at half a sheet each (from memory)."""


def foreseen_light(belief, ledger, rng, members=120):
    """Departures of the light step that the printer corrects for, after the last event (3,)."""
    parameters = draws(belief, rng, members)
    amounts = trace(ledger, wears_of(parameters), Carry())[-1:]
    return departures_of(parameters, amounts)[0, 3:6].mean(axis=1)


def _forecast_case(studio, kind, baths=4):
    """One studio, several baths in a row; a forecast at a random moment of each, and what came true."""
    rng = np.random.default_rng(studio)
    life = draw_life(rng, kind)
    aim = fresh_wedge(life)
    belief = usual_belief()
    cases = []
    for _ in range(baths):
        bath = SimulatedBath(draw_bath(life, rng))
        gap, a_session = float(rng.choice([2.0, 4.0, 7.0])), int(rng.integers(3, 8))
        total = int(rng.integers(3, 16))
        events, readings = [], []
        for i in range(total):
            day = (i // a_session) * gap + (i % a_session) / 96
            bath.wait(day)
            seen = bath.load(SHEET, rng)
            events.append(DrumLoad(day=day, area=SHEET, open_minutes=3.0))
            if i % a_session == 0:
                patch = control_reading(bath.life, bath.wedge(seen), aim, rng)
                readings.append(ControlReading(day=day, departures=tuple(patch.tolist())))
        ledger = Ledger(day=0.0, volume=500.0, events=tuple(events), bottle=Bottle(capacity=life.bottle))
        learned, _ = learn(belief, ledger, readings)
        start = ((total - 1) // a_session + 1) * gap
        work = Work(name="20x25", area=SHEET, need=volume_needed(SHEET), a_session=a_session, gap=gap)
        plain = forecast(learned, ledger, start, work, np.random.default_rng(1), harm=HARM, corrected=False)
        corrected = forecast(learned, ledger, start, work, np.random.default_rng(1), harm=HARM, corrected=True)
        parameters = draws(learned, np.random.default_rng(1), 300)
        ahead = tuple(work.loads(start, HORIZON))
        longer = Ledger(day=0.0, volume=500.0, events=(*events, *ahead), bottle=ledger.bottle)
        rows = trace(longer, wears_of(parameters), Carry())[-HORIZON:]
        expected = departures_of(parameters, rows).mean(axis=2)[:, 3:6]
        truth = {"plain": HORIZON, "corrected": HORIZON}
        for k, load in enumerate(ahead):
            bath.wait(load.day)
            if bath.volume < work.need:
                truth = {name: min(value, k) for name, value in truth.items()}
                break
            seen = bath.load(SHEET, rng, image=1.0)
            away = departures(bath.wedge(seen), aim)
            if truth["plain"] == HORIZON and HARM.spoiled(away[:, None])[0]:
                truth["plain"] = k
            if truth["corrected"] == HORIZON:
                printed = departures(bath.wedge(seen, -expected[k] / LIGHT_GRADIENT), aim)
                if HARM.spoiled(printed[:, None])[0]:
                    truth["corrected"] = k
            if max(truth.values()) < HORIZON:
                break
        cases.append({name: (truth[name], one.members) for name, one in (("plain", plain), ("corrected", corrected))})
        belief = for_next_bath(learned)
    return cases


def pit(truth, members, rng):
    """Where the truth falls among the members, ties split at random: even if the forecast is calibrated."""
    below, same = np.mean(members < truth), np.mean(members == truth)
    return below + rng.uniform() * same


def forecasts(lives=240):
    rng = np.random.default_rng(0)
    studios = max(lives // 4 // len(KINDS), 1)
    out = {}
    for name in ("plain", "corrected"):
        out[name] = {}
    found = {
        kind: [_forecast_case(FIRST_SEED + 97 * i + j, kind) for i in range(studios)] for j, kind in enumerate(KINDS)
    }
    for name in ("plain", "corrected"):
        for label, chosen in [(kind, found[kind]) for kind in KINDS] + [
            ("all", [one for kind in KINDS for one in found[kind]])
        ]:
            for which, part in (("first bath", slice(0, 1)), ("later baths", slice(1, 4)), ("every bath", slice(0, 4))):
                cases = [case[name] for studio in chosen for case in studio[part]]
                values = np.array([pit(truth, members, rng) for truth, members in cases])
                errors = [abs(np.median(members) - truth) for truth, members in cases]
                base = np.median([truth for truth, _ in cases])
                out[name][f"{label}, {which}"] = {
                    "lives": len(cases),
                    "inside 50 %": round(float(np.mean((values > 0.25) & (values < 0.75))), 3),
                    "inside 90 %": round(float(np.mean((values > 0.05) & (values < 0.95))), 3),
                    "mean error, loads": round(float(np.mean(errors)), 2),
                    "of always saying the median": round(float(np.mean([abs(base - t) for t, _ in cases])), 2),
                    "bias, loads": round(float(np.mean([np.median(m) - t for t, m in cases])), 2),
                }
    return out


def _evenings(rng, days):
    """When, and how many loads of which area."""
    day, found = 0.0, []
    while day < days:
        loads = int(rng.integers(2, 8))
        found.append((day, [SHEET * float(rng.choice([1.0, 1.0, 1.0, 0.5, 2.0])) for _ in range(loads)]))
        day += float(rng.choice([2.0, 3.0, 4.0, 7.0, 14.0], p=[0.3, 0.25, 0.25, 0.15, 0.05]))
    return found


def rule_of_thumb(life, aim, plan, rng, *, until=15 * SHEET, react=False):
    """Discard a half-litre after fifteen 20x25 or as much area; recipes left alone.

    ``react``: one spoiled sheet is seen, and the bath is discarded after it.
    """
    sheets = spoiled = 0
    used = area = paper = 0.0
    bath = None
    for day, loads in plan:
        for i, size in enumerate(loads):
            if bath is None or area + size > until + 1e-9:
                bath, area = SimulatedBath(draw_bath(life, rng), day=day), 0.0
                used += 500
            bath.wait(day + i / 96)
            away = departures(bath.wedge(bath.load(size, rng)), aim)
            bad = bool(HARM.spoiled(away[:, None])[0])
            sheets += 1
            spoiled += bad
            area += size
            paper += size
            if bad and react:
                bath = None
    return {"sheets": sheets, "spoiled": spoiled, "used": used, "concentrate": used, "paper": paper}


def with_ledger(life, aim, plan, rng, *, strengths=(1.0, 1.5), amounts=(0.1, 0.2, 0.4), corrected=True, every=1):
    """Control patch each evening, forecast, keep or top up or retire by expected cost; exposure as foreseen."""
    belief, bath, ledger, readings = usual_belief(), None, None, []
    learned = belief
    sheets = spoiled = 0
    used = concentrate = paper = 0.0
    for number, (day, loads) in enumerate(plan):
        work = Work(
            name="tonight", area=float(np.mean(loads)), need=volume_needed(max(loads)), a_session=len(loads), gap=3.0
        )
        change = 0 if bath is None else None
        if bath is not None:
            best = options(
                learned,
                ledger,
                day,
                work,
                len(loads),
                np.random.default_rng(number),
                harm=HARM,
                corrected=corrected,
                strengths=strengths,
                amounts=amounts,
                members=80,
                costs=COSTS,
            )[0]
            change = 0 if best.what == "retire" else best.changes_after
            if best.what == "top up":
                bath.wait(day)
                bled = min(best.bled, 0.95 * bath.volume)
                added = min(best.added, life.bottle - (bath.volume - bled))
                bath.top_up(added, bled, best.strength)
                ledger = _with(ledger, TopUp(day=day, volume=added, bled=bled, strength=best.strength))
                used += added
                concentrate += added * best.strength
        for i, size in enumerate(loads):
            when = day + i / 96
            if i == change:
                belief = for_next_bath(learned) if readings else belief
                learned, readings = belief, []
                bath = SimulatedBath(draw_bath(life, rng), day=when)
                ledger = Ledger(day=when, volume=500.0, bottle=Bottle(capacity=life.bottle))
                used += 500
                concentrate += 500
            bath.wait(when)
            spoiled += bath.volume < volume_needed(size)
            seen = bath.load(size, rng)
            ledger = _with(ledger, DrumLoad(day=when, area=size, open_minutes=3.0))
            shift = 0.0
            if corrected:
                # by what was known before this load: the evening's patch is read after the first
                shift = -foreseen_light(learned, ledger, np.random.default_rng(1)) / LIGHT_GRADIENT
            away = departures(bath.wedge(seen, shift), aim)
            if i == 0 and number % every == 0:
                patch = control_reading(bath.life, bath.wedge(seen), aim, rng)
                readings.append(ControlReading(day=when, departures=tuple(patch.tolist())))
            if i == 0 and readings:
                learned, _ = learn(belief, ledger, readings)
            sheets += 1
            spoiled += bool(HARM.spoiled(away[:, None])[0])
            paper += size
    return {"sheets": sheets, "spoiled": spoiled, "used": used, "concentrate": concentrate, "paper": paper}


def _with(ledger, event):
    return Ledger(
        day=ledger.day, volume=ledger.volume, events=(*ledger.events, event), bottle=ledger.bottle, strength=1.0
    )


def months(studios=24, first=FIRST_SEED, days=60.0):
    rows = {}
    policies = {
        "fifteen 20x25, then discarded": lambda life, aim, plan, rng: rule_of_thumb(life, aim, plan, rng),
        "the same, and after a spoiled sheet": lambda life, aim, plan, rng: rule_of_thumb(
            life, aim, plan, rng, react=True
        ),
        "ledger and control patch": lambda life, aim, plan, rng: with_ledger(life, aim, plan, rng),
        "ledger, never topped up": lambda life, aim, plan, rng: with_ledger(life, aim, plan, rng, amounts=()),
        "ledger, top-up at usual strength": lambda life, aim, plan, rng: with_ledger(
            life, aim, plan, rng, strengths=(1.0,)
        ),
        "ledger, exposure left alone": lambda life, aim, plan, rng: with_ledger(life, aim, plan, rng, corrected=False),
    }
    for name, policy in policies.items():
        total = {"sheets": 0, "spoiled": 0, "used": 0.0, "concentrate": 0.0, "paper": 0.0}
        for i in range(studios):
            seed = first + 31 * i
            rng = np.random.default_rng(seed)
            life = draw_life(rng, KINDS[i % len(KINDS)])
            aim, plan = fresh_wedge(life), _evenings(rng, days)
            for key, value in policy(life, aim, plan, np.random.default_rng(seed + 1)).items():
                total[key] += value
        rows[name] = {
            "sheets": total["sheets"],
            "spoiled by the bath, %": round(100 * total["spoiled"] / total["sheets"], 2),
            "solution, mL/m2": round(total["used"] / total["paper"]),
            "at usual strength, mL/m2": round(total["concentrate"] / total["paper"]),
        }
    base = rows["fifteen 20x25, then discarded"]
    for row in rows.values():
        for key, name in (
            ("spoiled by the bath, %", "spoiled against the rule, %"),
            ("solution, mL/m2", "solution against the rule, %"),
            ("at usual strength, mL/m2", "at usual strength against the rule, %"),
        ):
            row[name] = round(100 * (row[key] / base[key] - 1)) if base[key] else math.nan
    return rows


def _patch(rng, shift):
    """A control patch of a process with usual noise, its light step moved by so many spreads in all channels."""
    light = 0.70 + shift * USUAL_SIGMA["light step"] + rng.normal(0, 0.02) + rng.normal(0, 0.011, 3)
    contrast = 0.75 + rng.normal(0, 0.008) + rng.normal(0, 0.012, 3)
    return Wedge(
        white=tuple(0.1 + rng.normal(0, 0.007, 3)),
        light=tuple(light),
        dark=tuple(light + contrast),
        black=tuple(2.2 + rng.normal(0, 0.011, 3)),
    )


def _finite(value):
    return float(value) if math.isfinite(value) else None


def verdicts(shift, runs=300, horizon=40):
    """Twelve lines judged as on the page, aim from five patches: share of looks and stops, and patches until each."""
    rng = np.random.default_rng(6)
    looks = stops = patches = 0
    until = {"look": [], "stop": []}
    for _ in range(runs):
        series = [_patch(rng, 0.0) for _ in range(5)]
        aim = aim_from(series)
        limits = limits_of(aim)
        seen = {}
        for number in range(1, horizon + 1):
            series.append(_patch(rng, shift))
            verdict = judge(series, aim, limits).verdict
            patches += 1
            looks += verdict is not Verdict.GOOD
            stops += verdict is Verdict.STOP
            if verdict is not Verdict.GOOD:
                seen.setdefault("look", number)
            if verdict is Verdict.STOP:
                seen.setdefault("stop", number)
        for name, found in until.items():
            found.append(seen.get(name, math.inf))
    return {
        "patches that ask for a look, %": round(100 * looks / patches, 1),
        "patches that ask to stop, %": round(100 * stops / patches, 2),
        **{
            f"patches until a {name}, median (null: not within {horizon})": _finite(np.median(v))
            for name, v in until.items()
        },
    }


def charts():
    """Average run lengths of one line beside the textbook's, and the verdict over twelve lines as on the page."""
    out = {}
    textbook = {0.0: 168.0, 0.5: 26.6, 1.0: 8.38, 1.5: 4.75, 2.0: 3.34, 3.0: 2.19}
    for shift in textbook:
        rng = np.random.default_rng(5)
        out[f"shift {shift:g} sigma"] = {
            "one line, outer limit alone": round(run_length_of_rules([BEYOND_THREE], shift, rng).mean, 1),
            "one line, with four of five": round(run_length_of_rules([BEYOND_THREE, FOUR_OF_FIVE], shift, rng).mean, 1),
            "one line, all four classical rules": round(run_length_of_rules(CLASSICAL_RULES, shift, rng).mean, 1),
            "one line, weighted average 0.25, 3": round(run_length_of_ewma(0.25, 3.0, shift, rng).mean, 1),
            "one line, cumulative sum 0.5, 4": round(run_length_of_cusum(0.5, 4.0, shift, rng).mean, 1),
            "the same in Lucas and Crosier 1982": textbook[shift],
            "twelve lines, as on the page": verdicts(shift),
        }
    return out


def main() -> None:
    """The one that is asked for, or all."""
    jobs = {"forecasts": forecasts, "months": months, "charts": charts}
    parser = argparse.ArgumentParser(prog="python -m bench baths", description=__doc__)
    parser.add_argument("what", nargs="?", choices=jobs)
    parser.add_argument("count", nargs="?", type=int, help="lives or studios")
    asked = parser.parse_args()
    if asked.count and asked.what not in ("forecasts", "months"):
        parser.error("a count goes with forecasts or months")
    for name in [asked.what] if asked.what else jobs:
        text = json.dumps(jobs[name](*([asked.count] if asked.count else [])), indent=1)
        print(text)
        if not asked.count:
            (RESULTS / f"baths_{name}.json").write_text(text + "\n", encoding="utf-8")
