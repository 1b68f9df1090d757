"""Scanners and instruments from Python, with the words of ``printlore measure``."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from printlore.core.measure.compare import Comparison
from printlore.core.measure.measurements import MeasurementTable
from printlore.core.measure.negatives import NegativePatch, read_negative
from printlore.core.measure.pairs import Pair, PairKind
from printlore.core.measure.scan import Box
from printlore.core.memory.evidence import NegativeReading
from printlore.core.paper.facts import Vector
from printlore.devices.exchange import CsvMapping, write_cgats, write_csv, write_cxf
from printlore.devices.light_line import read_probe, reading_from_line
from printlore.devices.raw import read_raw
from printlore.devices.scans import read_scan
from printlore.errors import UnreadableFile
from printlore.faces.studio_calls import Room, checked, through
from printlore.records.measuring import ComparisonRecord, PairRecord
from printlore.services import comparing, measuring, pairs, scan_folders, side_by_side
from printlore.services.scan_folders import BatchLine
from printlore.services.strips import Densities, wedge_from


class Measure(Room):
    """Characterise and check a scanner, compare prints, read folders, negatives and probes."""

    wedge = through(measuring.characterise_by_wedge)
    chart = through(measuring.characterise_by_chart)
    profiles = through(measuring.profiles)
    drift = through(measuring.check_drift)
    take_pair_back = through(pairs.remove_pair)
    bring_pair_back = through(pairs.bring_pair_back)
    learned = through(pairs.learned)
    pairs = through(pairs.pairs)
    comparisons = through(comparing.comparisons)
    compared = through(comparing.comparison_again)
    watch = through(scan_folders.watch_folder)
    watched = through(scan_folders.watched_folder)
    new_scans = through(scan_folders.new_scans)

    @checked
    def pair(
        self,
        kind: PairKind,
        read: Vector,
        known: Vector,
        *,
        standard_error: float = 0.007,
        paper: str = "",
        scanner: str = "",
        note: str = "",
    ) -> PairRecord:
        """Keep a patch read twice ("dyes": by scanner and instrument; "dry_down": wet and dry), to correct by it."""
        both = Pair(read=read, known=known, standard_error=standard_error)
        return pairs.add_pair(self.database, kind, both, paper=paper, scanner=scanner, note=note)

    @checked
    def compare(
        self,
        first: Path | str,
        second: Path | str,
        wedge: Densities,
        *,
        blank: Path | str | None = None,
        paper: str = "",
    ) -> Comparison:
        """How the print in the second scan differs from that in the first; ``keep_comparison`` keeps both."""
        own = comparing.own_paper(self.database, paper) if paper else None
        return comparing.compare_prints(first, second, wedge, blank=blank, paper=own)

    @checked
    def keep_comparison(
        self, first: Path | str, second: Path | str, wedge: Densities, *, paper: str = ""
    ) -> tuple[ComparisonRecord, Comparison]:
        """Compare two scans and keep both and the verdict; ``compared`` shows it again by its number."""
        one, other = Path(first), Path(second)
        names = (one.name, other.name)
        return comparing.compare_and_keep(
            self.database, _content(one), _content(other), wedge, names=names, paper=paper
        )

    @checked
    def report(self, number: int, *, form: Literal["pdf", "png"] = "pdf") -> bytes:
        """A comparison that was kept, on a page."""
        record, result = comparing.comparison_again(self.database, number)
        return side_by_side.report(result, (record.first, record.second), form=form)

    @checked
    def folder(
        self, folder: Path | str, out: Path | str, *, wedge: Densities, count: int | None = None, scanner: str = ""
    ) -> tuple[BatchLine, ...]:
        """Read every strip in a folder into a CSV file. Stopped, it goes on where it was when called again."""
        profile = measuring.latest_profile(self.database, scanner).profile() if scanner else None
        return tuple(scan_folders.read_folder(Path(folder), wedge_from(wedge), Path(out), count=count, profile=profile))

    @checked
    def negative(
        self, frame: Path | str, empty: Path | str, boxes: Sequence[Box], *, raw: bool = False
    ) -> tuple[NegativePatch, ...]:
        """Densities of places of a negative against the empty carrier at the same settings, from two pictures."""
        opener = read_raw if raw else read_scan
        return read_negative(opener(Path(frame)), opener(Path(empty)), boxes)

    @checked
    def import_(self, file: Path | str, *, mapping: CsvMapping | None = None) -> MeasurementTable:
        """Patches measured by an instrument, from CGATS text, CxF or CSV; a mapping of columns is remembered."""
        path = Path(file)
        return measuring.import_measurements(self.database, _content(path), name=path.name, mapping=mapping)

    @checked
    def written(self, table: MeasurementTable, form: Literal["txt", "cxf", "csv"]) -> bytes:
        """Such a table as CGATS text, CxF or CSV."""
        if form == "txt":
            return write_cgats([table])
        return write_cxf(table) if form == "cxf" else write_csv(table)

    @checked
    def probe(
        self, port: str = "", *, line: str = "", ask: str = "", speed: int = 9600, decimal_comma: bool = False
    ) -> NegativeReading:
        """One reading of a three-channel probe, from a serial port or from a line as it sends them."""
        if line:
            return reading_from_line(line, decimal_comma=decimal_comma)
        return read_probe(port, ask=ask, speed=speed, decimal_comma=decimal_comma)


def _content(file: Path) -> bytes:
    if not file.is_file():
        raise UnreadableFile(f'There is no file "{file}". Check the name and the folder.')
    return file.read_bytes()
