"""Derivatives of the forward model, and what each effect does."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import facts_of, printed
from printlore.core.light.filters import FilterPack
from printlore.core.memory.columns import compile_columns
from printlore.core.memory.evidence import BathState, Cast, FrameFacts, Judgement, NegativeReading, Patch, Trial
from printlore.core.memory.model import by_general, lay_out, predict
from printlore.core.memory.priors import Priors
from printlore.core.paper.facts import PaperFacts


@pytest.fixture(scope="module")
def everything():
    """Evidence in which every general effect appears: two heads, papers, processes, sources, stops, persons."""
    record = printed("steady vane", 2, 4, prints=2)
    evidence, room = record.evidence, record.room
    film = next(iter(evidence.frames.values())).film
    frames = dict(evidence.frames) | {
        "other": FrameFacts(name="other", film=film, reading=NegativeReading(density=(0.5, 0.6, 0.8), source="scanner"))
    }
    usual = evidence.heads["head"].usual
    setting = replace(
        usual, pack=FilterPack(cyan=10, magenta=70, yellow=30), time=23.0, f_number=5.6, magnification=12.0
    )
    trials = tuple(
        Trial(
            name=name,
            frame="other",
            head="second",
            lot="rag 1",
            bath="bath 2",
            date=3.0,
            bath_state=BathState(area_per_litre=0.4, age_days=5.0, strength=0.9),
            patches=(
                Patch(setting=setting, density=(0.6, 0.9, 0.7)),
                Patch(
                    setting=replace(setting, time=9.0),
                    judgement=Judgement(cast=Cast.RED, strength=15, stops_too_dark=0.4, person=name),
                ),
            ),
        )
        for name in ("printer", "guest")
    )
    return replace(
        evidence,
        heads=dict(evidence.heads) | {"second": replace(facts_of(room), name="second")},
        papers=dict(evidence.papers) | {"rag": PaperFacts(name="rag", gradient=(2.2, 2.4, 2.5))},
        lots=dict(evidence.lots) | {"rag 1": "rag"},
        baths=dict(evidence.baths) | {"bath 2": "warm process"},
        frames=frames,
        trials=evidence.trials + trials,
    )


def test_every_derivative_is_that_of_the_prediction(everything):
    priors = Priors()
    columns = compile_columns(everything, priors)
    layout = lay_out(everything, columns.names, priors)
    rng = np.random.default_rng(1)
    # a point away from the prior mean, by half a prior standard deviation in every direction
    sd = 1 / np.sqrt(np.diag(layout.precision)[: layout.size])
    general = 0.5 * np.minimum(sd, 0.2) * rng.standard_normal(layout.size)
    additive = 0.1 * rng.standard_normal((columns.rows, 3))
    negative = 0.2 * rng.standard_normal((columns.rows, 3))
    here = predict(layout, columns, general, additive, negative, priors)
    moves = by_general(layout, columns, general, here, priors)
    left = rng.standard_normal((columns.rows, 3, 3))
    assert by_general(layout, columns, general, here, priors, left) == pytest.approx(left @ moves, abs=1e-12)
    step = 1e-6
    touched = 0
    for place in range(layout.size):
        move = np.zeros(layout.size)
        move[place] = step
        up = predict(layout, columns, general + move, additive, negative, priors).density
        down = predict(layout, columns, general - move, additive, negative, priors).density
        numeric = (up - down) / (2 * step)
        assert moves[:, :, place] == pytest.approx(numeric, abs=2e-6), place
        touched += bool(np.abs(numeric).max() > 1e-4)
    # all but stops that nobody used, the other paper's reading source and dials at zero
    assert touched >= 100
    for layer in range(3):
        move = np.zeros((columns.rows, 3))
        move[:, layer] = step
        up = predict(layout, columns, general, additive + move, negative, priors).density
        down = predict(layout, columns, general, additive - move, negative, priors).density
        assert here.by_layer[:, :, layer] == pytest.approx((up - down) / (2 * step), abs=2e-6)


def test_at_the_prior_mean_the_usual_setting_gives_the_aim(everything):
    priors = Priors()
    columns = compile_columns(everything, priors)
    layout = lay_out(everything, columns.names, priors)
    at_usual = replace(
        columns,
        dial=0 * columns.dial,
        time=columns.usual_time,
        light=0 * columns.light,
        size=0 * columns.size,
        reading=0 * columns.reading,
        bath_state=0 * columns.bath_state,
        person=np.full(columns.rows, -1),
    )
    seen = predict(
        layout, at_usual, np.zeros(layout.size), np.zeros((columns.rows, 3)), np.zeros((columns.rows, 3)), priors
    )
    aims = np.array([curves.aim for curves in layout.curves])[columns.paper]
    assert seen.log_exposure == pytest.approx(np.zeros((columns.rows, 3)))
    assert seen.density == pytest.approx(aims)
