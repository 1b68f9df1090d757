"""Fewer steps to a fixed point: Anderson mixing of the last few.

References
----------
walker-ni2011
"""

import numpy as np

from printlore.core.memory.columns import Floats

_KEPT = 8
"""Steps that are mixed at most."""
_WORSE = 4.0
"""How much larger than the smallest yet a step may be before what was kept is forgotten."""
_FARTHEST = 0.5
"""A step is not lengthened beyond this in any direction."""
_LEAST = 1e-10
"""Smallest singular value that counts, relative to the largest."""


class Mixing:
    """Where to go next, from points that a map was tried at and the steps it asked for.

    Steps of a map that overshoots or creeps in a few directions are combined so that, were the map linear, what is
    left of them in those directions would vanish. The fixed point stays what it is.

    Where the map leads away from a place at which its steps would vanish, or only grow small, that place is what a
    combination of them would go to, and where it would stay. The map knows better: its own step is taken, and twice
    as far each time that this is found again.
    """

    def __init__(self) -> None:
        self._far = 1.0
        self._points: list[Floats] = []
        self._steps: list[Floats] = []
        self._weighed: list[Floats] = []

    def forget(self) -> None:
        """Start anew: the map has changed."""
        self._points.clear()
        self._steps.clear()
        self._weighed.clear()

    def after(self, point: Floats, step: Floats, weighed: Floats) -> Floats:
        """Next point (n,).

        Parameters
        ----------
        point : (n,) where the map was tried
        step : (n,) its value there less the point
        weighed : (m,) the step as it counts: in units of what is believed beforehand
        """
        size = float(np.linalg.norm(weighed))
        if self._weighed and size > _WORSE * min(float(np.linalg.norm(w)) for w in self._weighed):
            self.forget()
        for kept, new in ((self._points, point), (self._steps, step), (self._weighed, weighed)):
            kept.append(new)
            del kept[:-_KEPT]
        if len(self._steps) == 1:
            return point + step
        change = np.column_stack([weighed - earlier for earlier in self._weighed[:-1]])
        share = np.linalg.lstsq(change, weighed, rcond=_LEAST)[0]
        move = step.copy()
        for weight, earlier_point, earlier_step in zip(
            share.tolist(), self._points[:-1], self._steps[:-1], strict=True
        ):
            move -= weight * ((point - earlier_point) + (step - earlier_step))
        if float(move @ step) >= 0:
            self._far = 1.0
            return point + move
        self._far *= 2
        for kept in (self._points, self._steps, self._weighed):
            del kept[:-1]
        return point + min(self._far, max(_FARTHEST / float(np.abs(step).max()), 1.0)) * step
