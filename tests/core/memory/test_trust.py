"""How far a print counts as it drifts away from the others of its negative."""

import numpy as np

from printlore.core.memory.trust import trust_within


def trust_of_the_last(apart):
    """Four prints of one negative, run sd 0.01 in each layer, read to 0.003; the last lies apart [log10]."""
    levels = np.zeros((4, 3))
    levels[3] = apart
    information = np.broadcast_to(np.eye(3) / 0.003**2, (4, 3, 3))
    found = trust_within(
        np.zeros(4, dtype=np.int64),
        levels,
        information,
        np.zeros((4, 3)),
        0.01**2 * np.eye(3),
        np.eye(3)[None] / 0.2**2,
    )
    return found[3]


def test_trust_falls_without_a_jump():
    """A jump would have no place to rest where the mode lies on it: the search would go round and round."""
    trust = np.array([trust_of_the_last(apart) for apart in np.arange(0.0, 0.12, 0.0001)])
    assert trust[0] == 1.0
    assert trust[-1] < 0.001
    assert np.all(np.diff(trust) <= 1e-12)
    falls = -np.diff(trust)
    # no step is much larger than those beside it: what a jump would be, however finely it is looked at
    assert np.all(falls[1:-1] <= 1e-4 + 2 * np.maximum(falls[:-2], falls[2:]))


def two_that_contradict(more):
    """Trust of two prints of a negative, read alike, that lie apart by 0.12, the second by a little more."""
    return trust_within(
        np.zeros(2, dtype=np.int64),
        np.array([[0.06] * 3, [-0.06 - more] * 3]),
        np.broadcast_to(np.eye(3) / 0.003**2, (2, 3, 3)),
        np.zeros((2, 3)),
        0.01**2 * np.eye(3),
        np.eye(3)[None] / 0.2**2,
    )


def test_a_hair_does_not_decide_between_two_that_contradict_each_other():
    one, two = two_that_contradict(-1e-9), two_that_contradict(1e-9)
    assert 0.0 < one[0] < 0.5
    np.testing.assert_allclose(one, two, atol=1e-6)
    np.testing.assert_allclose(one[0], one[1], atol=1e-6)


def test_of_two_blunders_among_five_both_are_found():
    levels = np.zeros((5, 3))
    levels[1], levels[3] = 0.2, -0.25
    found = trust_within(
        np.zeros(5, dtype=np.int64),
        levels,
        np.broadcast_to(np.eye(3) / 0.003**2, (5, 3, 3)),
        np.zeros((5, 3)),
        0.01**2 * np.eye(3),
        np.eye(3)[None] / 0.2**2,
    )
    assert np.all(found[[1, 3]] < 0.05)
    assert np.all(found[[0, 2, 4]] > 0.9)
