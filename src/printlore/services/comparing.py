"""Two prints side by side: compare their scans, keep the verdict, make it again."""

from collections.abc import Sequence

import numpy as np

from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.compare import CURVE_DOUBT, Comparison, OwnPaper, compare
from printlore.core.measure.evenness import level_from_blank
from printlore.core.measure.scanner import Wedge
from printlore.core.measure.strip import find_paper
from printlore.core.measure.wedge import WedgeReport, read_wedge
from printlore.core.memory.model import curves_of, gradient_places
from printlore.core.paper.layers import LayerCurves
from printlore.core.plain import to_plain
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.measuring import ComparisonRecord
from printlore.records.rows import add, every
from printlore.services.entry import keep_scan
from printlore.services.memory import current_memory
from printlore.services.strips import Densities, Source, opened, wedge_from


def own_paper(db: Database, name: str) -> OwnPaper:
    """A paper of the studio as its prints have shown it; if there are none, as it is usually believed to be.

    Raises
    ------
    UnknownRecord
        If there is no such paper.
    """
    memory = current_memory(db)
    papers = memory.columns.names.papers
    if name not in papers:
        known = ", ".join(papers) or "none"
        raise UnknownRecord(f'There is no paper "{name}" in this studio; it has: {known}.')
    place = papers.index(name)
    gradient = gradient_places(memory.layout)[place] + np.arange(3)
    variance = np.diag(memory.elimination.factor.covariance_general)[gradient]
    return OwnPaper(
        name=name,
        curves=curves_of(memory.layout, memory.state.general, place),
        doubt=float(np.sqrt(variance.mean() + CURVE_DOUBT**2)),
    )


def paper_words(result: Comparison) -> str:
    """By whose gradient exposures were reckoned, and how well it is known."""
    known = f"{100 * result.gradient_doubt:.0f} %"
    if result.paper:
        return f"Exposures are reckoned by {result.paper}, whose gradient is known to {known} so far."
    return f"Exposures are reckoned by a generic paper, whose gradient may be {known} off: say which paper it is."


def compare_prints(
    first: Source,
    second: Source,
    wedge: Densities,
    *,
    profile: ScannerProfile | None = None,
    blank: Source | None = None,
    names: tuple[str, str] = ("", ""),
    paper: OwnPaper | None = None,
) -> Comparison:
    """Compare two prints of one picture; a wedge lies in the first scan at least.

    Raises
    ------
    UnreadableFile, ValueOutOfRange
        If a scan cannot be used, no wedge is found, or the two do not show the same picture.
    """
    one, two = opened(first, names[0]), opened(second, names[1])
    known = wedge_from(wedge)
    evenness = None if blank is None else level_from_blank(opened(blank, "blank sheet"))
    report = read_wedge(one, known, evenness=evenness)
    try:
        other: WedgeReport = read_wedge(two, known, evenness=evenness)
    except ValueOutOfRange:
        other = report  # the scanner was left alone, so the first wedge speaks for both
    return compare(
        one,
        two,
        (report.curves, other.curves),
        within=find_paper(one, report.boxes),
        profile=profile,
        paper=paper,
    )


def compare_and_keep(
    db: Database, first: bytes, second: bytes, wedge: Densities, *, names: tuple[str, str], paper: str = ""
) -> tuple[ComparisonRecord, Comparison]:
    """Compare two scans of prints on a paper and keep both and the verdict, so that the picture can be made again.

    Raises
    ------
    UnreadableFile, ValueOutOfRange
        As ``compare_prints``; nothing is kept then.
    """
    known = wedge_from(wedge)
    own = own_paper(db, paper) if paper else None
    result = compare_prints(first, second, known, names=names, paper=own)
    kept = [
        keep_scan(db, content, media_type="application/octet-stream", original_name=name).sha256
        for content, name in zip((first, second), names, strict=True)
    ]
    return log_comparison(db, result, names, scans=kept, wedge=known, paper=own), result


def comparison_again(db: Database, number: int) -> tuple[ComparisonRecord, Comparison]:
    """A kept comparison, made again from its scans.

    Raises
    ------
    UnknownRecord
        If there is none of that number, or its scans were not kept.
    """
    record = next((one for one in comparisons(db) if one.id == number), None)
    if record is None or not record.document.get("scans"):
        raise UnknownRecord(f"No comparison with the number {number} has its scans kept; list them first.")
    wedge = Wedge(densities=tuple((r, g, b) for r, g, b in record.document["wedge"]))
    first, second = (db.scans.get(sha256) for sha256 in record.document["scans"])
    # by the paper as it was known then: what was said is shown again
    kept = record.document.get("paper")
    paper = kept and OwnPaper(
        name=kept["name"],
        curves=LayerCurves(aim=np.array(kept["aim"]), theta=np.array(kept["theta"])),
        doubt=kept["doubt"],
    )
    return record, compare_prints(first, second, wedge, names=(record.first, record.second), paper=paper)


def log_comparison(
    db: Database,
    result: Comparison,
    names: tuple[str, str],
    *,
    scans: Sequence[str] = (),
    wedge: Wedge | None = None,
    paper: OwnPaper | None = None,
) -> ComparisonRecord:
    """Keep what a comparison said, and the paper as it was known."""
    document = {
        "scans": list(scans),
        "wedge": [] if wedge is None else to_plain(wedge.densities),
        "paper": paper
        and {
            "name": paper.name,
            "aim": paper.curves.aim.tolist(),
            "theta": paper.curves.theta.tolist(),
            "doubt": paper.doubt,
        },
        "overall": to_plain(result.overall),
        "by_tone": to_plain(result.by_tone),
        "crossover": result.crossover,
        "crossover_error": result.crossover_error,
        "delta_e_median": result.delta_e_median,
        "delta_e_95": result.delta_e_95,
        "histogram": to_plain(result.histogram),
        "defects": to_plain(result.defects),
        "flags": to_plain(result.flags),
    }
    with db.transaction() as conn:
        return add(
            conn,
            ComparisonRecord(
                first=names[0], second=names[1], likeness=result.likeness.value, words=result.words, document=document
            ),
        )


def comparisons(db: Database) -> tuple[ComparisonRecord, ...]:
    """All comparisons kept, oldest first."""
    with db.reading() as conn:
        return tuple(every(conn, ComparisonRecord))
