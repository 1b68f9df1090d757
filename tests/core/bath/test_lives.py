"""Forecasts against simulated lives that share nothing with them (the full count is in ``bench/baths.py``)."""

import ast
from pathlib import Path

import numpy as np

import simulated_baths
from printlore.core.bath.capacity import HORIZON, Harm, Work, forecast, volume_needed
from printlore.core.bath.learning import ControlReading, learn, usual_belief
from printlore.core.bath.pours import Bottle, DrumLoad, Ledger
from simulated_baths import SHEET, SimulatedBath, control_reading, departures, draw_life, fresh_wedge

FIRST_SEED = 50_000


def test_the_simulated_bath_knows_nothing_of_the_forecasts():
    tree = ast.parse(Path(simulated_baths.__file__).read_text())
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    imported |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert imported == {"dataclasses", "numpy"}


def test_the_simulated_bath_lasts_as_long_as_the_trade_says():
    """From memory: 0.5 to 1 m2 for a half-litre with recipes left alone."""
    areas = []
    for seed in range(FIRST_SEED, FIRST_SEED + 30):
        rng = np.random.default_rng(seed)
        life = draw_life(rng)
        bath, aim, area = SimulatedBath(life), fresh_wedge(life), 0.0
        while area < 2:
            bath.wait(bath.day + 1)
            if Harm().spoiled(departures(bath.wedge(bath.load(SHEET, rng, image=1.0)), aim)[:, None])[0]:
                break
            area += SHEET
        areas.append(area)
    assert 0.5 <= np.median(areas) <= 1.0


def test_forecasts_hold_what_comes_and_beat_a_constant():
    inside, errors, truths = [], [], []
    for number, seed in enumerate(range(FIRST_SEED, FIRST_SEED + 40)):
        rng = np.random.default_rng(seed)
        life = draw_life(rng, ("mixed", "airy", "wet", "hungry")[number % 4])
        bath, aim = SimulatedBath(life), fresh_wedge(life)
        events, readings = [], []
        for load in range(int(rng.integers(3, 14))):
            day = 1.0 * load
            bath.wait(day)
            seen = bath.load(SHEET, rng)
            events.append(DrumLoad(day=day, area=SHEET, open_minutes=3.0))
            if load % 3 == 0:
                patch = control_reading(life, bath.wedge(seen), aim, rng)
                readings.append(ControlReading(day=day, departures=tuple(patch.tolist())))
        ledger = Ledger(day=0, volume=500, events=tuple(events), bottle=Bottle(capacity=life.bottle))
        belief, _ = learn(usual_belief(), ledger, readings)
        work = Work(name="20x25", area=SHEET, need=volume_needed(SHEET), a_session=1, gap=1.0)
        start = events[-1].day + 1
        found = forecast(belief, ledger, start, work, np.random.default_rng(1), corrected=False, members=200)
        truth = HORIZON
        for k, load in enumerate(work.loads(start, HORIZON)):
            bath.wait(load.day)
            if Harm().spoiled(departures(bath.wedge(bath.load(SHEET, rng, image=1.0)), aim)[:, None])[0]:
                truth = k
                break
        inside.append(found.together.low <= truth <= found.together.high)
        errors.append(abs(found.together.middle - truth))
        truths.append(truth)
    assert np.mean(inside) >= 0.75
    assert np.mean(errors) < 0.85 * np.mean(np.abs(np.array(truths) - np.median(truths)))
