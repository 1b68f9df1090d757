"""Side absorptions that the memory starts from, against the published dyes they are of."""

import numpy as np
import pytest

from printlore.core.paper.dyes import paper_named
from printlore.core.paper.facts import PaperFacts, sides_named
from printlore.core.paper.layers import SIDE_COLUMN, SIDE_ROW
from printlore.errors import ValueOutOfRange
from printlore.records.papers import PaperFamily


@pytest.mark.parametrize("name", ["generic", "b", "generic b"])
def test_they_are_those_of_a_mid_grey_by_the_dye_model(name):
    """Source: filmscan-paper-a, filmscan-paper-b, by status A."""
    dyes = paper_named(name)
    for density in (0.5, 0.72, 1.0):
        jacobian = dyes.density_jacobian_of_dyes(dyes.dyes_from_density(np.full(3, density)))
        mix = jacobian / np.diag(jacobian)
        assert sides_named(name) == pytest.approx(mix[SIDE_ROW, SIDE_COLUMN].tolist(), abs=0.006)


def test_a_paper_is_believed_to_have_those_of_its_dye_model():
    assert PaperFamily(name="matt").facts().side_absorptions == PaperFacts(name="matt").side_absorptions
    assert PaperFamily(name="gloss", dye_model="b").facts().side_absorptions == sides_named("b")
    assert sides_named("b") != sides_named("a")


@pytest.mark.parametrize("side", [-0.01, 0.5, float("nan")])
def test_a_dye_that_absorbs_as_much_elsewhere_is_refused(side):
    with pytest.raises(ValueOutOfRange, match="do not all lie from 0 to 0"):
        PaperFacts(name="odd", side_absorptions=(side, 0.0, 0.1, 0.1, 0.1, 0.1))
