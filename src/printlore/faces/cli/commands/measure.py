"""Scanners and instruments: characterise, check, compare prints, read folders, negatives and probes."""

from pathlib import Path

import click

from printlore.core.measure.compare import Comparison
from printlore.core.measure.pairs import Pair, PairKind
from printlore.core.measure.scan import Box
from printlore.core.measure.scanner import Material
from printlore.errors import ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, OutFile, Steps, table, with_desk
from printlore.faces.telling import TAKEN_BACK
from printlore.files import write_file
from printlore.services.comparing import (
    compare_and_keep,
    compare_prints,
    comparison_again,
    comparisons,
    log_comparison,
    own_paper,
    paper_words,
)
from printlore.services.measuring import (
    characterise_by_chart,
    characterise_by_wedge,
    check_drift,
    import_measurements,
    latest_profile,
    profile_words,
    profiles,
)
from printlore.services.pairs import add_pair, bring_pair_back, learned, pairs, remove_pair, shift_words
from printlore.services.scan_folders import new_scans, pictures_in, read_folder, watch_folder, watched_folder

FILE = click.Path(path_type=Path, exists=True, dir_okay=False)
FOLDER = click.Path(path_type=Path, exists=True, file_okay=False)
WEDGE = click.option("--wedge", required=True, help='Densities of its steps, for example "0,05 0,20 0,35".')
REPORT = click.option("--report", "out", type=OutFile(), help="Write a page: .pdf or .png.")
_HEAD = ("", "red", "green", "blue")


@click.group(cls=Steps)
def command() -> None:
    """Scanners and instruments: characterise, check, compare prints, read folders, negatives and probes."""


@command.command()
@click.argument("scan", type=FILE)
@click.option("--scanner", required=True, help="Which scanner, and how it is set.")
@WEDGE
@with_desk
def wedge(desk: Desk, scan: Path, scanner: str, wedge: str) -> None:
    """Keep a scanner's curves from the grey wedge in SCAN."""
    record = characterise_by_wedge(desk.db, scanner, scan, typed.numbers(wedge, "wedge"))
    desk.say(record, profile_words(record.profile()))


@command.command()
@click.argument("scan", type=FILE)
@click.argument("reference", type=FILE)
@click.option("--scanner", required=True, help="Which scanner, and how it is set.")
@click.option("--corner", "corners", type=float, nargs=2, multiple=True, required=True,
              help="x y of a corner patch's middle; four, clockwise from the top left.")  # fmt: skip
@click.option("--wedge", help="Densities of a wedge in the same scan; without one the chart's greys do.")
@click.option("--material", type=click.Choice([m.value for m in Material]), default=Material.UNKNOWN.value)
@with_desk
def chart(
    desk: Desk,
    scan: Path,
    reference: Path,
    scanner: str,
    corners: tuple[tuple[float, float], ...],
    wedge: str | None,
    material: str,
) -> None:
    """Keep a scanner's colour from the chart in SCAN, by its REFERENCE file (CGATS, CxF or CSV)."""
    if len(corners) != 4:
        raise ValueOutOfRange(f"{len(corners)} corners were given; four are needed, clockwise from the top left.")
    record = characterise_by_chart(
        desk.db,
        scanner,
        scan,
        reference,
        (corners[0], corners[1], corners[2], corners[3]),
        wedge=typed.numbers(wedge, "wedge") if wedge else None,
        material=Material(material),
    )
    profile = record.profile()
    desk.say(record, profile_words(profile), *(f"Doubt: {flag.words}." for flag in profile.flags))


@command.command("profiles")
@with_desk
def profiles_(desk: Desk) -> None:
    """Profiles of scanners, oldest first."""
    known = profiles(desk.db)
    lines = [f"{record.made}, number {record.number}. {profile_words(record.profile())}" for record in known]
    desk.say(known, *(lines or ["No scanner has been characterised yet."]))


@command.command()
@click.argument("scan", type=FILE)
@click.option("--scanner", default="", help="Which; default: the one characterised last.")
@WEDGE
@with_desk
def drift(desk: Desk, scan: Path, scanner: str, wedge: str) -> None:
    """Whether a scanner still reads as when it was characterised, by the wedge in SCAN."""
    check = check_drift(desk.db, scan, typed.numbers(wedge, "wedge"), scanner=scanner)
    shift = " ".join(words.number(value, 3, signed=True) for value in check.shift)
    verdict = "It has changed: make its profile again." if check.flags else "It reads as it did."
    error = words.number(check.standard_error, 3)
    desk.say(check, f"{verdict} Mean shift {shift} density (red, green, blue), ± {error}.")


@command.command()
@click.argument("first", type=FILE)
@click.argument("second", type=FILE)
@WEDGE
@click.option("--blank", type=FILE, help="Scan of a blank sheet, to level the light by.")
@REPORT
@click.option("--paper", default="", help="That both prints are on: exposures by its own gradient, as learned.")
@click.option("--keep", is_flag=True, help="Keep the verdict and, without --blank, both scans to show it again.")
@with_desk
def compare(
    desk: Desk, first: Path, second: Path, wedge: str, blank: Path | None, out: Path | None, paper: str, keep: bool
) -> None:
    """How the print in SECOND differs from that in FIRST: exposure, colour, defects."""
    desk.write_as_studio()
    _must_be_a_page(out)
    names, known = (first.name, second.name), typed.numbers(wedge, "wedge")
    if keep and blank is None:
        _, result = compare_and_keep(desk.db, first.read_bytes(), second.read_bytes(), known, names=names, paper=paper)
    else:
        own = own_paper(desk.db, paper) if paper else None
        result = compare_prints(first, second, known, blank=blank, paper=own)
        if keep:
            log_comparison(desk.db, result, names, paper=own)
    recorded = "The comparison is kept; write it with: printlore measure compared NUMBER --report." if keep else ""
    _say_comparison(desk, result, names, out, recorded=recorded)


@command.command()
@click.argument("number", type=click.IntRange(min=1), required=False)
@REPORT
@with_desk
def compared(desk: Desk, number: int | None, out: Path | None) -> None:
    """Comparisons that were kept; or that of NUMBER, made again from its scans."""
    if number is None and out is not None:
        raise ValueOutOfRange("--report is of one comparison. Give its number; without one they are listed.")
    if number is None:
        known = comparisons(desk.db)
        lines = [f"{one.id}  {one.first} and {one.second}: {one.words}" for one in known]
        desk.say(known, *(lines or ["No comparison is kept yet: printlore measure compare --keep."]))
        return
    _must_be_a_page(out)
    record, result = comparison_again(desk.db, number)
    _say_comparison(desk, result, (record.first, record.second), out)


def _must_be_a_page(out: Path | None) -> None:
    if out is not None and out.suffix.lower() not in (".pdf", ".png"):
        raise ValueOutOfRange(f'"{out.name}" is neither .pdf nor .png; choose one of them.')


def _say_comparison(
    desk: Desk, result: Comparison, names: tuple[str, str], out: Path | None, *, recorded: str = ""
) -> None:
    if out is not None:
        from printlore.services.side_by_side import report

        page = report(result, names, form="png" if out.suffix.lower() == ".png" else "pdf")
        write_file(out, page, recorded=recorded)
    rows = [
        (
            shift.tones,
            words.number(shift.stops, 2, signed=True),
            *(words.number(value, 1, signed=True) for value in (shift.cyan, shift.magenta, shift.yellow)),
            words.number(shift.delta_e, 1),
        )
        for shift in (result.overall, *result.by_tone)
    ]
    doubts = [f"Doubt: {flag.words}." for flag in result.flags]
    answer = {
        "likeness": result.likeness,
        "words": result.words,
        "overall": result.overall,
        "by_tone": result.by_tone,
        "crossover": result.crossover,
        "delta_e_median": result.delta_e_median,
        "delta_e_95": result.delta_e_95,
        "histogram": result.histogram,
        "defects": result.defects,
        "paper": result.paper,
        "gradient_doubt": result.gradient_doubt,
        "flags": result.flags,
    }
    lines = table(("tones", "stops", "C", "M", "Y", "dE00"), rows)
    desk.say(answer, result.words, *lines, paper_words(result), *doubts)


@command.command()
@click.argument("folder", type=FOLDER)
@click.argument("out", type=OutFile())
@click.option("--count", type=click.IntRange(min=1), help="Number of steps, if they should not be counted.")
@click.option("--scanner", help="Use the newest profile of this scanner.")
@WEDGE
@with_desk
def folder(desk: Desk, folder: Path, out: Path, count: int | None, scanner: str | None, wedge: str) -> None:
    """Read every strip in FOLDER into OUT (CSV). Stopped, it goes on where it was when called again."""
    profile = latest_profile(desk.db, scanner).profile() if scanner else None
    read = failed = 0
    with desk.progress(len(pictures_in(folder)), "Reading") as bar:
        for line in read_folder(
            folder,
            typed.numbers(wedge, "wedge"),
            out,
            count=count,
            profile=profile,
            progress=lambda path: bar.update(1),
        ):
            read, failed = read + (not line.problem), failed + bool(line.problem)
    desk.say({"steps": read, "failed": failed}, f"{read} steps read, {failed} files could not be; see {out}.")


@command.command()
@click.argument("frame", type=FILE)
@click.argument("empty", type=FILE)
@click.option("--box", "boxes", type=int, nargs=4, multiple=True, required=True, help="left top right bottom [pixels].")
@click.option("--raw", is_flag=True, help="They are a camera's raw files.")
@with_desk
def negative(desk: Desk, frame: Path, empty: Path, boxes: tuple[tuple[int, int, int, int], ...], raw: bool) -> None:
    """Densities of places of the negative in FRAME against the carrier in EMPTY, at the same settings."""
    desk.write_as_studio()
    from printlore.core.measure.negatives import large_area_density, read_negative
    from printlore.devices.raw import read_raw
    from printlore.devices.scans import read_scan

    opener = read_raw if raw else read_scan
    film, carrier = opener(frame), opener(empty)
    places = [Box(left=left, top=top, right=right, bottom=bottom) for left, top, right, bottom in boxes]
    read = read_negative(film, carrier, places)
    large = [large_area_density(film, carrier, box) for box in places]
    rows = [
        (str(number), *(words.density(d) for d in patch.density), f"± {words.number(max(patch.standard_error), 3)}")
        for number, patch in enumerate(read, 1)
    ]
    doubts = dict.fromkeys(flag for patch in read for flag in patch.flags)
    answer = {"patches": read, "large_area": large}
    desk.say(answer, *table((*_HEAD, ""), rows), *(f"Doubt: {flag.words}." for flag in doubts))


@command.command("import")
@click.argument("file", type=FILE)
@click.option("--to", "out", type=OutFile(), help="Write it again: .txt, .cxf, .csv.")
@click.option("--column", "columns", multiple=True, help='Of a CSV file, which column is which: "D_RED=Red density".')
@click.option("--delimiter", help='With --column: what parts them, a comma if not given; "tab" for a tab.')
@click.option("--decimal", help="With --column: the decimal mark in the file, a point if not given.")
@with_desk
def import_(
    desk: Desk, file: Path, out: Path | None, columns: tuple[str, ...], delimiter: str | None, decimal: str | None
) -> None:
    """Patches measured by an instrument, from FILE (CGATS text, CxF or CSV).

    Columns of a CSV file are guessed by their headings, or named; what was named counts for every file with these
    headings.
    """
    from printlore.devices.exchange import mapping_said, write_cgats, write_csv, write_cxf

    if not columns and (delimiter, decimal) != (None, None):
        raise ValueOutOfRange("--delimiter and --decimal go with --column. Name the columns too, or leave them out.")
    parted = "\t" if delimiter == "tab" else delimiter or ","
    mapping = mapping_said(columns, delimiter=parted, decimal=decimal or ".") if columns else None
    measured = import_measurements(desk.db, file.read_bytes(), name=file.name, mapping=mapping)
    if out is not None:
        writers = {
            ".txt": lambda: write_cgats([measured]),
            ".cxf": lambda: write_cxf(measured),
            ".csv": lambda: write_csv(measured),
        }
        if out.suffix.lower() not in writers:
            raise ValueOutOfRange(f'"{out.name}" is none of .txt, .cxf and .csv; choose one of them.')
        write_file(out, writers[out.suffix.lower()]())
    shown = table(measured.fields[:8], [row[:8] for row in measured.rows[:40]])
    desk.say(measured, f"{len(measured.rows)} patches.", *shown)


@command.command()
@click.argument("port", required=False)
@click.option("--line", help="A reading as typed, in place of a port.")
@click.option("--ask", default="", help="Sent first, for a probe that waits to be asked.")
@click.option("--speed", type=click.IntRange(min=50), default=9600, show_default=True)
@click.option("--decimal-comma", is_flag=True)
@with_desk
def probe(desk: Desk, port: str | None, line: str | None, ask: str, speed: int, decimal_comma: bool) -> None:
    """One reading of a three-channel probe: densities from a serial PORT, or from --line."""
    desk.write_as_studio()
    from printlore.devices.light_line import read_probe, reading_from_line

    if (port is None) == (line is None):
        raise ValueOutOfRange("Give either a port or --line.")
    reading = (
        reading_from_line(line, decimal_comma=decimal_comma)
        if line is not None
        else read_probe(port or "", ask=ask, speed=speed, decimal_comma=decimal_comma)
    )
    desk.say(reading, words.densities(reading.density))


@command.command()
@click.argument("kind", type=click.Choice([kind.value for kind in PairKind]))
@click.option("--read", required=True, help='By the scanner, or wet: "red green blue".')
@click.option("--known", required=True, help='By the instrument, or dry: "red green blue".')
@click.option("--error", default="0.007", show_default=True, help="Of the difference of the two.")
@click.option("--paper", default="", help="Family; default: that of the newest lot.")
@click.option("--scanner", default="", help="Which, if the studio has more than one.")
@click.option("--note", default="")
@with_desk
def pair(desk: Desk, kind: str, read: str, known: str, error: str, paper: str, scanner: str, note: str) -> None:
    """Keep a patch read twice, so that later readings are corrected.

    dyes: by the scanner through a grey wedge, and by an instrument. dry_down: wet, and dry again.
    """
    record = add_pair(
        desk.db,
        PairKind(kind),
        Pair(
            read=typed.three(read, "read"),
            known=typed.three(known, "known"),
            standard_error=typed.number(error, "error"),
        ),
        paper=paper,
        scanner=scanner,
        note=note,
    )
    desk.say(record, shift_words(learned(desk.db, record.kind, paper=record.paper, scanner=record.scanner)))


@command.command("pairs")
@click.option("--remove", type=click.IntRange(min=1), help="Take the pair of this number back.")
@click.option("--bring-back", type=click.IntRange(min=1), help="Let the pair of this number correct again.")
@with_desk
def pairs_(desk: Desk, remove: int | None, bring_back: int | None) -> None:
    """Patches read twice, oldest first; one that was taken back has a mark."""
    if remove is not None and remove == bring_back:
        raise ValueOutOfRange(f"Pair {remove} cannot be taken back and brought back at once; give one of both.")
    if remove is not None:
        remove_pair(desk.db, remove)
    if bring_back is not None:
        bring_pair_back(desk.db, bring_back)
    known = pairs(desk.db)
    rows = [
        (
            str(record.id),
            record.kind.value.replace("_", "-"),
            record.paper,
            record.scanner,
            *(
                f"{words.density(a)} > {words.density(b)}"
                for a, b in zip(record.pair.read, record.pair.known, strict=True)
            ),
            TAKEN_BACK if record.removed else "",
        )
        for record in known
    ]
    head = ("", "kind", "paper", "scanner", *_HEAD[1:], "")
    desk.say(known, *table(head, rows, none="No patch was read twice yet."))


@command.command()
@click.argument("folder", default="")
@with_desk
def watch(desk: Desk, folder: str) -> None:
    """Say that the scanner saves into FOLDER: the page offers new scans there. Without FOLDER: no longer."""
    watch_folder(desk.db, folder)
    desk.say({"folder": folder}, f"{folder} is watched." if folder else "No folder is watched.")


@command.command()
@with_desk
def watched(desk: Desk) -> None:
    """The folder that is watched, and the scans in it that the studio does not hold yet, newest first."""
    folder, found = watched_folder(desk.db), new_scans(desk.db)
    said = "No folder is watched." if folder is None else f"{folder} is watched."
    hint = ["Log one: printlore log-scan."] if found else []
    desk.say({"folder": folder, "new": found}, said, *(str(path) for path in found), *hint)
