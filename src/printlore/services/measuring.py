"""Characterise a scanner, catch its drift, and read what an instrument measured."""

import dataclasses
from datetime import date
from pathlib import Path

import numpy as np

from printlore.core.colour.lab import lab_from_xyz, xyz_from_lab
from printlore.core.colour.spectra import status_a_density, xyz_from_reflectance
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.characterise import DriftCheck, ScannerProfile, characterise, drift_check
from printlore.core.measure.chart import Corners, chart_boxes
from printlore.core.measure.measurements import DENSITY_FIELDS, LAB_FIELDS, XYZ_FIELDS, MeasurementTable
from printlore.core.measure.patches import read_light
from printlore.core.measure.scan import Floats
from printlore.core.measure.scanner import Material, ScannerCurves, Wedge, calibrate
from printlore.core.measure.wedge import read_wedge
from printlore.core.plain import from_plain, to_plain
from printlore.devices.exchange import CsvMapping, guess_mapping, read_csv, read_measurements
from printlore.errors import UnknownRecord, UnreadableFile, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.measuring import MappingRecord, ProfileRecord
from printlore.records.rows import add, correct, every
from printlore.services.strips import Densities, Source, opened, wedge_from

_NEUTRAL_CHROMA = 4.0


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
