"""What the prints taught: every shared effect that was learned, how sure, and from what."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from printlore.core.memory.explain import Effect, shared_effects
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, Page, render
from printlore.services.memory import current_memory

PAGE = Page(title="What the prints taught", path="/taught", order=60)
router = APIRouter(prefix="/taught")
api = APIRouter(prefix="/taught", tags=["main job"])

KINDS = {
    "lot": ("Paper lots", "against the first lot of the same paper"),
    "bath": ("Baths", "against a fresh bath"),
    "film": ("Films", "against the usual film"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TaughtRow:
    """An effect as moves: magenta, yellow [CC] to add, exposure to give [log10]; errors; how much is known of it."""

    name: str
    magenta: float
    yellow: float
    light: float
    magenta_error: float
    yellow_error: float
    prior: float
    prints: int

    @property
    def known(self) -> str:
        """How sure, in words."""
        error = max(self.magenta_error, self.yellow_error)
        if not self.prints:
            return "nothing printed yet"
        if error > 0.8 * self.prior:
            return "hardly known yet"
        return "known to a step" if error > 1.5 else "well known"


def taught_row(effect: Effect) -> TaughtRow:
    """The effect as the move that answers it. Errors of the layers are taken as independent of each other."""
    red, green, blue = effect.log_exposure
    error_red, error_green, error_blue = effect.standard_error
    return TaughtRow(
        name=effect.name,
        magenta=100 * (green - red),
        yellow=100 * (blue - red),
        light=-red,
        magenta_error=100 * (error_green**2 + error_red**2) ** 0.5,
        yellow_error=100 * (error_blue**2 + error_red**2) ** 0.5,
        prior=100 * (effect.prior_sd[1] ** 2 + effect.prior_sd[0] ** 2) ** 0.5,
        prints=len(effect.trials),
    )


@router.get("")
def show(request: Request, db: Db) -> HTMLResponse:
    """Lots, baths and films with what was learned of each."""
    memory = current_memory(db)
    effects = shared_effects(memory)
    groups = [
        (title, against, [taught_row(effect) for effect in effects if effect.kind == kind])
        for kind, (title, against) in KINDS.items()
    ]
    return render(
        request,
        "taught.html",
        trials=len(memory.evidence.trials),
        frames=len({trial.frame for trial in memory.evidence.trials}),
        groups=[group for group in groups if group[2]],
        reach=max(
            (abs(value) for _, _, rows in groups for row in rows for value in (row.magenta, row.yellow)), default=1
        ),
    )


@api.get("", summary="Every shared effect that was learned, with its error and its trials")
def get_taught(db: Db) -> Any:
    return plain(shared_effects(current_memory(db)))
