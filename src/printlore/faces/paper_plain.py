"""Cut plans and what paper covers, as plain values: commands and the HTTP interface answer with these."""

from typing import Any

from printlore.core.cutting.plan import Plan
from printlore.core.cutting.supply import Cover
from printlore.faces.plain import plain
from printlore.services.cutting import KeptPlan


def plan_answer(plan: Plan) -> dict[str, Any]:
    """A plan: what it takes, what it makes, and each sitting with its stops."""
    return {
        "proof": plan.proof,
        "settings": plan.settings,
        "paper_m2": plan.paper / 1e6,
        "waste_share": plan.waste_share,
        "gap": plan.gap,
        "made": dict(plan.made),
        "short": dict(plan.short),
        "sittings": [
            {
                "source": sitting.source,
                "lot": sitting.lot,
                "stops_mm": [setting.distance for setting in sitting.settings],
                "sections": [
                    {
                        "count": count,
                        "parts": [
                            {"kind": part.kind.value, "along_mm": part.along, "across_mm": part.across}
                            for part in section.parts
                        ],
                    }
                    for section, count in sitting.sections
                ],
            }
            for sitting in plan.sittings
        ],
    }


def kept_plan_answer(kept: KeptPlan, *, sheets: int, pack: float) -> dict[str, Any]:
    """A plan that was kept, how far each sitting is cut, what a sheet costs, and a pack of so many with its box."""
    return {
        "name": kept.record.name,
        "plan": plan_answer(kept.record.plan),
        "sittings": [
            {
                "name": state.sitting.name,
                "number": state.sitting.number,
                "step": state.position.number,
                "steps": state.position.steps,
                "booked": state.sitting.booked,
            }
            for state in kept.sittings
        ],
        "costs": plain(kept.costs),
        "packs": plain([one.pack(sheets, pack) for one in kept.costs]),
        "no_costs": kept.why_not,
    }


def cover_answer(found: Cover) -> dict[str, Any]:
    """How many prints of an edition a lot covers, and that in words."""
    return {"prints": found.prints, "wanted": found.wanted, "sheets": found.sheets, "words": found.words}
