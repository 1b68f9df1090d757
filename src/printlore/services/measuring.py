"""Characterise a scanner, catch its drift, compare prints, read negatives and instruments, watch a folder."""

import dataclasses
import hashlib
import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import sqlalchemy as sa

from printlore.core.colour.lab import lab_from_xyz, xyz_from_lab
from printlore.core.colour.spectra import status_a_density, xyz_from_reflectance
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.characterise import (
    DriftCheck,
    ScannerProfile,
    characterise,
    drift_check,
)
from printlore.core.measure.chart import Corners, chart_boxes
from printlore.core.measure.compare import CURVE_DOUBT, Comparison, OwnPaper, compare
from printlore.core.measure.evenness import level_from_blank
from printlore.core.measure.measurements import DENSITY_FIELDS, LAB_FIELDS, XYZ_FIELDS, MeasurementTable
from printlore.core.measure.patches import read_light
from printlore.core.measure.scan import Floats
from printlore.core.measure.scanner import Material, ScannerCurves, Wedge, calibrate
from printlore.core.measure.strip import find_paper
from printlore.core.measure.wedge import WedgeReport, read_wedge
from printlore.core.memory.model import curves_of, gradient_places
from printlore.core.paper.layers import LayerCurves
from printlore.core.plain import from_plain, to_plain
from printlore.devices.exchange import CsvMapping, guess_mapping, read_csv, read_measurements, write_csv
from printlore.devices.scans import read_scan
from printlore.errors import PrintloreError, UnknownRecord, UnreadableFile, ValueOutOfRange
from printlore.files import append_to_file
from printlore.records.database import Database
from printlore.records.measuring import ComparisonRecord, MappingRecord, ProfileRecord, WatchedFolder
from printlore.records.negatives import Frame, NegativeReadingRecord
from printlore.records.rows import add, correct, every
from printlore.records.scans import Scan as ScanRecord
from printlore.records.stock import FogRecord
from printlore.records.trials import PatchReading
from printlore.services.entry import keep_scan
from printlore.services.memory import current_memory
from printlore.services.strips import Densities, Source, opened, read_strip, wedge_from

_NEUTRAL_CHROMA = 4.0
_OFFERED = 5
"""New scans of the watched folder that are offered at once."""
_PICTURES = (".tif", ".tiff", ".png", ".jpg", ".jpeg")


# --- profiles ----------------------------------------------------------------------------------


def profiles(db: Database) -> tuple[ProfileRecord, ...]:
    """All profiles, oldest first."""
    with db.reading() as conn:
        return tuple(every(conn, ProfileRecord))


def latest_profile(db: Database, scanner: str = "") -> ProfileRecord:
    """Newest profile of a scanner, or of any.

    Raises
    ------
    UnknownRecord
        If there is none.
    """
    known = [record for record in profiles(db) if scanner in ("", record.scanner)]
    if not known:
        which = f'of "{scanner}"' if scanner else "of any scanner"
        raise UnknownRecord(f"There is no profile {which} yet; scan a wedge or a chart and characterise it first.")
    return known[-1]


def characterise_by_wedge(db: Database, scanner: str, scan: Source, wedge: Densities) -> ProfileRecord:
    """Keep a scanner's curves from one scanned wedge, as its next profile.

    Raises
    ------
    UnreadableFile, ValueOutOfRange
        If the scan cannot be used or no wedge is found in it.
    """
    report = read_wedge(opened(scan), wedge_from(wedge))
    number = _next_number(db, scanner)
    profile = ScannerProfile(
        scanner=scanner,
        made=date.today().isoformat(),
        version=number,
        curves=report.curves,
        material=report.material,
        flags=(*report.curves.flags, *(() if report.material is Material.PHOTOGRAPHIC_PAPER else (Flag.OTHER_DYES,))),
    )
    return _keep_profile(db, profile)


def characterise_by_chart(
    db: Database,
    scanner: str,
    scan: Source,
    reference: MeasurementTable | bytes | Path,
    corners: Corners,
    *,
    wedge: Densities | None = None,
    material: Material = Material.UNKNOWN,
    made: str = "",
) -> ProfileRecord:
    """Keep a scanner's colour from one scanned chart, as its next profile.

    Parameters
    ----------
    reference : table, or a file of one (CGATS text, CxF or CSV)
        With Lab, XYZ or spectra by patch; densities too, if they are known.
    corners
        Middles of the chart's corner patches (``core.measure.chart``).
    wedge : densities, optional
        Of a wedge in the same scan; without one the chart's own grey patches do.

    Raises
    ------
    UnreadableFile, ValueOutOfRange
        If the scan or the reference cannot be used, or they do not belong together.
    """
    chart = opened(scan)
    table = _table(reference)
    lab = _reference_lab(table)
    names = table.names
    boxes = chart_boxes(corners, names)
    rows = [row for row, name in enumerate(names) if name in boxes]
    light = [read_light(chart, boxes[names[row]]) for row in rows]
    usable = [not any(patch.clipped_channels) for patch in light]
    rows = [row for row, use in zip(rows, usable, strict=True) if use]
    values = np.array([patch.light for patch, use in zip(light, usable, strict=True) if use])
    if wedge is not None:
        curves = read_wedge(chart, wedge_from(wedge)).curves
    else:
        curves = _curves_of_greys(values, lab[rows])
    # Without a wedge the curves end in densities by lightness, which no later scan's wedge gives: no map from them.
    status_a = None if wedge is None else _reference_density(table)
    number = _next_number(db, scanner)
    profile = characterise(
        curves.density(values),
        lab[rows],
        curves,
        names=[names[row] for row in rows],
        scanner=scanner,
        made=made or date.today().isoformat(),
        version=number,
        status_a=None if status_a is None else status_a[rows],
        material=material,
    )
    return _keep_profile(db, profile)


def _table(reference: MeasurementTable | bytes | Path) -> MeasurementTable:
    if isinstance(reference, MeasurementTable):
        return reference
    if isinstance(reference, Path):
        if not reference.is_file():
            raise UnreadableFile(f'There is no file "{reference}". Check the name and the folder.')
        return read_measurements(reference.read_bytes(), name=reference.name)
    return read_measurements(reference, name="reference")


def _spectra(table: MeasurementTable) -> tuple[Floats, Floats] | None:
    fields = [f for f in table.fields if f.startswith(("SPECTRAL_NM", "nm"))]
    if len(fields) < 10:
        return None
    digits = ["".join(c for c in field if c.isdigit() or c == ".") for field in fields]
    values = table.numbers(tuple(fields))
    return np.array([float(d) for d in digits]), values / 100.0 if values.max() > 3 else values


def _reference_lab(table: MeasurementTable) -> Floats:
    if table.has(LAB_FIELDS):
        return table.lab()
    if table.has(XYZ_FIELDS):
        return lab_from_xyz(table.xyz())
    spectra = _spectra(table)
    if spectra is not None:
        return lab_from_xyz(xyz_from_reflectance(*spectra))
    raise ValueOutOfRange(f'"{table.name}" has neither Lab, XYZ nor spectra, so it cannot be a chart\'s reference.')


def _reference_density(table: MeasurementTable) -> Floats | None:
    if table.has(DENSITY_FIELDS):
        return table.density()
    spectra = _spectra(table)
    return None if spectra is None else status_a_density(*spectra)


def _curves_of_greys(light: Floats, lab: Floats) -> ScannerCurves:
    """Curves from a chart's near-neutral patches, their densities by their lightness."""
    grey = np.hypot(lab[:, 1], lab[:, 2]) < _NEUTRAL_CHROMA
    if grey.sum() < 6:
        raise ValueOutOfRange(
            f"The chart has only {int(grey.sum())} grey patches, too few for the scanner's tone curve. "
            "Lay a grey wedge beside it and give its densities."
        )
    density = -np.log10(np.maximum(xyz_from_lab(lab[grey])[:, 1], 1e-4))
    order = np.argsort(density)
    steps = tuple((float(d), float(d), float(d)) for d in density[order])
    return calibrate(light[grey][order], Wedge(densities=steps, standard_error=0.01, name="the chart's greys"))


def _next_number(db: Database, scanner: str) -> int:
    if not scanner.strip():
        raise ValueOutOfRange("The scanner has no name; say which it is and how it is set, as flatbed 600 reflective.")
    return 1 + max((record.number for record in profiles(db) if record.scanner == scanner), default=0)


def _keep_profile(db: Database, profile: ScannerProfile) -> ProfileRecord:
    with db.transaction() as conn:
        return add(
            conn,
            ProfileRecord(
                scanner=profile.scanner, made=profile.made, number=profile.version, document=to_plain(profile)
            ),
        )


def profile_words(profile: ScannerProfile) -> str:
    """How good a profile is, as a sentence."""
    if profile.report is None:
        worst = max(profile.curves.residual)
        return f"{profile.scanner}: grey only; the wedge's steps lie within {Figure(worst):.3f} density of the curve."
    report = profile.report
    return (
        f"{profile.scanner}: colours it has not seen come out {Figure(report.held_out_mean):.1f} dE00 off on average, "
        f"19 of 20 within {Figure(report.held_out_95):.1f}; worst is {report.held_out_worst[0]} with "
        f"{Figure(report.held_out_worst[1]):.1f}."
    )


def check_drift(db: Database, scan: Source, wedge: Densities, *, scanner: str = "") -> DriftCheck:
    """Whether a scanner still reads as when it was last characterised.

    Raises
    ------
    UnknownRecord
        If it never was.
    """
    profile = latest_profile(db, scanner).profile()
    picture, known = opened(scan), wedge_from(wedge)
    report = read_wedge(picture, known)
    light = [read_light(picture, box).light for box in report.boxes]
    keep = list(report.curves.steps)
    return drift_check(profile, np.array(light)[keep], known.as_array()[keep])


# --- side by side ------------------------------------------------------------------------------


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
        As ``compare_prints``; the scans are kept all the same.
    """
    known = wedge_from(wedge)
    kept = [
        keep_scan(db, content, media_type="application/octet-stream", original_name=name).sha256
        for content, name in zip((first, second), names, strict=True)
    ]
    own = own_paper(db, paper) if paper else None
    result = compare_prints(first, second, known, names=names, paper=own)
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


# --- instruments -------------------------------------------------------------------------------


def import_measurements(db: Database, data: bytes, *, name: str, mapping: CsvMapping | None = None) -> MeasurementTable:
    """Table of a file by an instrument; the mapping of a CSV file is remembered for the next with its headings.

    Raises
    ------
    UnreadableFile
        If it cannot be read, or no mapping is known or can be guessed.
    """
    head = data.lstrip()[:1]
    if head == b"<" or b"BEGIN_DATA" in data:
        return read_measurements(data, name=name)
    headings = data.decode("utf-8-sig", errors="replace").strip().partition("\n")[0].strip()[:180]
    with db.reading() as conn:
        known = next(
            (record for record in every(conn, MappingRecord) if record.name == " ".join(headings.split())), None
        )
    if mapping is None and known is not None:
        mapping = from_plain(CsvMapping, known.document, where="What is known of such a file")
    mapping = mapping or guess_mapping(data, name=name)
    table = read_csv(data, mapping, name=name)
    document = to_plain(mapping)
    with db.transaction() as conn:
        if known is None:
            add(conn, MappingRecord(name=headings, document=document))
        elif known.document != document:
            correct(conn, dataclasses.replace(known, document=document))
    return table


# --- batches and the watched folder ------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchLine:
    """One file of a batch: densities of its steps, or what was wrong."""

    file: str
    sha256: str
    step: int
    density: tuple[float, float, float] | None
    standard_error: tuple[float, float, float] | None
    doubts: str
    problem: str = ""


_BATCH_FIELDS = (
    "file",
    "sha256",
    "step",
    "D_RED",
    "D_GREEN",
    "D_BLUE",
    "SE_RED",
    "SE_GREEN",
    "SE_BLUE",
    "doubts",
    "problem",
)


def pictures_in(folder: Path) -> list[Path]:
    """Image files in a folder and below it, by name.

    Raises
    ------
    UnreadableFile
        If there is no such folder.
    """
    if not folder.is_dir():
        raise UnreadableFile(f'There is no folder "{folder}". Check its name.')
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in _PICTURES and path.is_file())


def read_folder(
    folder: Path,
    wedge: Densities,
    out: Path,
    *,
    count: int | None = None,
    profile: ScannerProfile | None = None,
    progress: Callable[[Path], None] = lambda path: None,
) -> Iterator[BatchLine]:
    """Read every strip in a folder into a CSV file, line by line; files already in it are passed over.

    A run that was stopped goes on where it was: a file is known by its content. A file that cannot be
    read gets a line that says why, and the rest goes on.

    Raises
    ------
    UnreadableFile
        If there is no such folder, or ``out`` is there and is no such file.
    """
    done: set[str] = set()
    if out.exists() and out.stat().st_size:
        table = read_csv(out.read_bytes(), CsvMapping(columns=tuple((f, f) for f in _BATCH_FIELDS)), name=out.name)
        at = table.fields.index("sha256")
        done = {row[at] for row in table.rows}
    for path in pictures_in(folder):
        content = path.read_bytes()
        sha256 = hashlib.sha256(content).hexdigest()
        if sha256 not in done:
            done.add(sha256)
            lines = _batch_lines(path, sha256, content, wedge, count, profile)
            _append(out, lines)
            yield from lines
        progress(path)


def _batch_lines(
    path: Path, sha256: str, content: bytes, wedge: Densities, count: int | None, profile: ScannerProfile | None
) -> list[BatchLine]:
    try:
        reading = read_strip(read_scan(content, name=path.name), wedge, count=count, profile=profile)
    except PrintloreError as problem:
        return [
            BatchLine(
                file=path.name,
                sha256=sha256,
                step=0,
                density=None,
                standard_error=None,
                doubts="",
                problem=str(problem),
            )
        ]
    return [
        BatchLine(
            file=path.name,
            sha256=sha256,
            step=number,
            density=step.density,
            standard_error=step.standard_error,
            doubts=" ".join(dict.fromkeys(flag.value for flag in (*reading.flags, *step.flags))),
        )
        for number, step in enumerate(reading.steps, 1)
    ]


def _append(out: Path, lines: Sequence[BatchLine]) -> None:
    rows = tuple(
        (
            line.file,
            line.sha256,
            str(line.step),
            *(f"{v:.4f}" for v in line.density or ()),
            *(f"{v:.4f}" for v in line.standard_error or ()),
            *([""] * 6 if line.density is None else []),
            line.doubts,
            line.problem,
        )
        for line in lines
    )
    data = write_csv(MeasurementTable(fields=_BATCH_FIELDS, rows=rows))
    new = not out.exists() or not out.stat().st_size
    # All lines of a picture in one write: a run cut short leaves whole pictures only.
    append_to_file(out, data if new else data.partition(b"\r\n")[2])


def watched_folder(db: Database) -> Path | None:
    """Where the scanner saves, if the studio was told."""
    with db.reading() as conn:
        known = [record.path for record in every(conn, WatchedFolder)]
    return Path(known[-1]) if known and known[-1] else None


def watch_folder(db: Database, folder: str) -> None:
    """Say where the scanner saves; empty: nowhere.

    Raises
    ------
    UnreadableFile
        If there is no such folder.
    """
    if folder and not Path(folder).is_dir():
        raise UnreadableFile(f'There is no folder "{folder}". Check its name.')
    with db.transaction() as conn:
        known = list(every(conn, WatchedFolder))
        if known:
            correct(conn, dataclasses.replace(known[-1], path=folder))
        else:
            add(conn, WatchedFolder(path=folder))


def new_scans(db: Database) -> tuple[Path, ...]:
    """Newest image files in the watched folder that stand for nothing in the studio yet, newest first.

    One that is kept, but from which nothing was logged, is still offered.
    """
    folder = watched_folder(db)
    if folder is None or not folder.is_dir():
        return ()
    files = sorted(
        (path for path in folder.iterdir() if path.suffix.lower() in _PICTURES and path.is_file()),
        key=lambda path: -path.stat().st_mtime,
    )
    with db.reading() as conn:
        held: dict[tuple[str, int], list[str]] = {}
        for record in every(conn, ScanRecord):
            held.setdefault((record.original_name, record.size), []).append(record.sha256)
        known = ((path, held.get((path.name, path.stat().st_size), ())) for path in files[: 4 * _OFFERED])
        new = (path for path, scans in known if not any(_stands_for_something(conn, scan) for scan in scans))
        return tuple(itertools.islice(new, _OFFERED))


def _stands_for_something(conn: sa.Connection, scan: str) -> bool:
    """Whether a print, a negative or a fogged sheet was read from a scan, or it was compared, or chosen to be shown."""
    read = any(every(conn, kind, scan=scan) for kind in (PatchReading, NegativeReadingRecord, FogRecord))
    compared = any(scan in one.document.get("scans", ()) for one in every(conn, ComparisonRecord))
    return read or compared or bool(every(conn, Frame, thumbnail=scan))
