"""Read a test strip or a print from a scan with a grey wedge in it."""

from collections.abc import Sequence
from pathlib import Path

from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.evenness import level_from_blank
from printlore.core.measure.pairs import LearnedShift
from printlore.core.measure.scan import Box, Scan
from printlore.core.measure.scanner import Wedge, grey_wedge
from printlore.core.measure.strip import Exposures, StripKind, StripReading
from printlore.core.measure.strip import read_strip as read_steps
from printlore.core.measure.wedge import read_wedge, wedge_boxes
from printlore.devices.scans import read_scan

Densities = Sequence[float] | Sequence[tuple[float, float, float]] | Wedge
Source = Scan | Path | str | bytes


def opened(source: Source, name: str = "") -> Scan:
    """A scan from wherever it comes."""
    return source if isinstance(source, Scan) else read_scan(source, name=name)


def wedge_from(densities: Densities) -> Wedge:
    """Wedge from its densities: one number a step, or (red, green, blue) a step."""
    if isinstance(densities, Wedge):
        return densities
    triples: list[tuple[float, float, float]] = []
    for step in densities:
        if isinstance(step, (int, float)):
            return grey_wedge([float(d) for d in densities])  # type: ignore[arg-type]
        red, green, blue = step
        triples.append((float(red), float(green), float(blue)))
    return Wedge(densities=tuple(triples))


def read_strip(
    scan: Source,
    wedge: Densities,
    boxes: Sequence[Box] | None = None,
    *,
    wedge_ends: tuple[Box, Box] | None = None,
    count: int | None = None,
    kind: StripKind = StripKind.SAME_TONE,
    exposures: Exposures = Exposures.SEPARATE,
    reference_step: int | None = None,
    blank: Source | None = None,
    profile: ScannerProfile | None = None,
    dyes: LearnedShift | None = None,
) -> StripReading:
    """Densities of a strip, or of patches of a print, from a scan that holds a grey wedge.

    Parameters
    ----------
    scan : Scan, path or bytes
    wedge : sequence of float, of (red, green, blue), or Wedge
        Stated reflection densities in the wedge's order [1].
    boxes : sequence of Box, optional
        Where to read; ``None``: the steps of the strip are found.
    wedge_ends : (Box, Box), optional
        About the wedge's first and last step, where it cannot be found by itself.
    count : int, optional
        Number of steps, if known.
    kind, exposures, reference_step
        See ``core.measure.strip``.
    blank : Scan, path or bytes, optional
        Scan of a blank sheet that fills the same area at the same settings, to level the light by.
    profile : ScannerProfile, optional
        Of the scanner, from a chart.
    dyes : LearnedShift, optional
        What known patches of this paper say (``services.pairs.learned``).

    Raises
    ------
    UnreadableFile
        If the file is no scan that can be used.
    ValueOutOfRange
        If no wedge or no paper is found, or a box reaches outside the scan.
    """
    scan = opened(scan)
    known = wedge_from(wedge)
    ends = None if wedge_ends is None else wedge_boxes(*wedge_ends, len(known.densities))
    evenness = None if blank is None else level_from_blank(opened(blank, "blank sheet"))
    return read_steps(
        scan,
        read_wedge(scan, known, ends, evenness=evenness),
        boxes=boxes,
        count=count,
        kind=kind,
        exposures=exposures,
        reference_step=reference_step,
        evenness=evenness,
        profile=profile,
        dyes=dyes,
    )
