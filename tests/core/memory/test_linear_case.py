"""The linear step against an independent fit of a linear mixed model.

Data: dietox (weights of growing pigs), as shipped with statsmodels among the results of its tests. Published
results (lme4-dietox): R, lme4::lmer(Weight ~ Time + (1 | Pig)) and (1 + Time | Pig), REML, in statsmodels'
test_lme.py. A pig is a frame (or a block); its weekly weights are the densities, of which only the first is read.
"""

from importlib.resources import files
from types import SimpleNamespace

import numpy as np
import pandas
import pytest
import scipy.sparse
from statsmodels.regression.mixed_linear_model import MixedLM

from printlore.core.memory.arrow import Scales, State, eliminate, link
from printlore.core.memory.model import Prediction

SURE = 1e11
"""Precision of an effect that is held at zero."""
# lmer: fixef, sqrt(diag(vcov)), sigma^2, VarCorr
R_INTERCEPT = {"fixed": (15.723523, 6.942505), "se": (0.78805374, 0.03338727), "noise": 11.36692, "pig": [[40.39395]]}
R_SLOPE = {
    "fixed": (15.738650, 6.939014),
    "se": (0.5501253, 0.0798254),
    "noise": 6.03745,
    "pig": [[19.4934552, 0.2938323], [0.2938323, 0.4160620]],
}


@pytest.fixture(scope="module")
def pigs():
    """(time, weight, number of pig) of each weighing."""
    with files("statsmodels.regression.tests.results").joinpath("dietox.csv").open() as table:
        data = pandas.read_csv(table)
    time, weight = data["Time"].to_numpy(float), data["Weight"].to_numpy(float)
    _, pig = np.unique(data["Pig"], return_inverse=True)
    return time, weight, pig


def eliminated(pigs, noise, between, *, as_block=False):
    """Fixed effects, their covariance, and the pigs' own effects, by the memory's arrow."""
    time, weight, pig = pigs
    n, count, parts = len(time), int(pig.max()) + 1, len(between)
    by_general, by_layer = np.zeros((n, 3, 2)), np.zeros((n, 3, 3))
    by_general[:, 0] = by_layer[:, 0, :2] = np.column_stack([np.ones(n), time])
    if parts == 1:
        by_layer[:, 0, 1] = 0.0
    prior = np.eye(3) * SURE
    prior[:parts, :parts] = np.linalg.inv(between)
    blocks = count if as_block else 0
    frames = n if as_block else count
    columns = SimpleNamespace(
        names=SimpleNamespace(frames=tuple(range(frames))),
        cell=np.arange(n),
        cell_frame=np.arange(n) if as_block else pig,
        cell_run=np.arange(n),
        cell_nested=np.ones(n, dtype=bool),
        cell_blocks=pig[:, None] if as_block else np.full((n, 1), -1),
        cell_shares=np.ones((n, 1)),
        block_last=np.zeros(blocks),
        between=lambda begin, end: slice(begin, end),
    )
    residual = np.zeros((n, 3))
    residual[:, 0] = weight
    whitener = np.zeros((n, 3, 3))
    whitener[:, 0, 0] = noise**-0.5
    found = eliminate(
        SimpleNamespace(
            size=2, precision=np.zeros((2, 2)), between=scipy.sparse.csr_array(np.kron(np.eye(blocks), prior))
        ),
        link(columns),
        State(np.zeros(2), np.zeros((blocks, 3)), np.zeros((frames, 3)), np.zeros((n, 3))),
        Prediction(np.zeros((n, 3)), np.zeros((n, 3)), by_layer, np.zeros((n, 3)), np.zeros((n, 3))),
        residual,
        Scales(
            whitener,
            np.broadcast_to(SURE * np.eye(3) if as_block else prior, (frames, 3, 3)),
            np.eye(3) / SURE,
            np.full(frames, -1),
        ),
        np.ones(n),
        lambda part, here, left: left @ by_general[part.columns],
    )
    own = found.half(np.eye(2, found.shared))
    covariance = own.T @ own
    return found.step.general, covariance, (found.step.blocks if as_block else found.step.frames)[:, :parts], found


@pytest.mark.parametrize("as_block", [False, True])
@pytest.mark.parametrize("published", [R_INTERCEPT, R_SLOPE])
def test_published_fixed_effects_and_errors_at_the_published_variances(pigs, published, as_block):
    """R's printed digits; statsmodels' own tests hold its slopes' errors to 1e-3 of R's."""
    fixed, covariance, _, _ = eliminated(pigs, published["noise"], np.array(published["pig"]), as_block=as_block)
    assert fixed == pytest.approx(published["fixed"], rel=2e-6)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(published["se"], rel=1e-4)


@pytest.mark.parametrize("slopes", [False, True])
def test_independent_mixed_model_fit_agrees_in_every_pig(pigs, slopes):
    time, weight, pig = pigs
    data = pandas.DataFrame({"Time": time, "Weight": weight, "Pig": pig})
    model = MixedLM.from_formula("Weight ~ Time", groups="Pig", re_formula="1 + Time" if slopes else "1", data=data)
    fit = model.fit(method=["cg"] if slopes else None)
    between = np.asarray(fit.cov_re)
    fixed, covariance, own, found = eliminated(pigs, fit.scale, between)
    assert fixed == pytest.approx(np.asarray(fit.fe_params), rel=1e-8)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(np.asarray(fit.bse)[:2], rel=1e-3 if slopes else 1e-6)
    theirs = np.array([np.asarray(fit.random_effects[name]) for name in range(len(own))])
    assert own == pytest.approx(theirs, rel=1e-6, abs=1e-6)
    if not slopes:
        # conditional variance of a pig's effect, fixed effects given: textbook 1 / (1 / between + n / noise)
        count = np.bincount(pig)
        assert found.local_covariance[:, 0, 0] == pytest.approx(1 / (1 / between[0, 0] + count / fit.scale), rel=1e-9)
