"""Measured patches as files: CGATS.17 / ISO 28178 text, CxF (ISO 17972) and CSV with a named mapping."""

import csv
import io
import math
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from printlore.core.measure.measurements import DENSITY_FIELDS, LAB_FIELDS, XYZ_FIELDS, MeasurementTable
from printlore.errors import UnreadableFile, ValueOutOfRange

LARGEST_TABLE_BYTES = 20 << 20
CXF_NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
WAVELENGTH_SLACK = 0.01
"""[nm] Wavelengths in a table are rounded."""
_WORD = re.compile(r'"((?:[^"]|"")*)"|(#.*)|([^\s"#]+)')


def _text(data: bytes, name: str) -> str:
    if not data.strip():
        raise UnreadableFile(f'"{name}" is empty. Export it again.')
    if len(data) > LARGEST_TABLE_BYTES:
        raise UnreadableFile(
            f'"{name}" is larger than {LARGEST_TABLE_BYTES >> 20} MB, too large for a table of patches.'
        )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    if not text.strip() or "\0" in text:
        raise UnreadableFile(f'"{name}" is no text. Choose another file.')
    return text


def _words(line: str) -> tuple[list[str], str | None]:
    """Words of a line, quoted ones without their marks, and the comment after them."""
    found: list[str] = []
    for match in _WORD.finditer(line):
        quoted, comment, plain = match.groups()
        if comment is not None:
            return found, comment[1:]
        found.append(plain if plain is not None else quoted.replace('""', '"'))
    return found, None


def read_cgats(data: bytes, *, name: str = "table") -> tuple[MeasurementTable, ...]:
    """Tables of a CGATS.17 / ISO 28178 text file (also the ISO 12641 style of reference files).

    Raises
    ------
    UnreadableFile
        If it is empty, holds no data, or a table has another number of values than its fields say.

    References
    ----------
    iso28178, iso12641
    """
    lines = _text(data, name).splitlines()
    tables: list[MeasurementTable] = []
    header: list[tuple[str, str]] = []
    fields: list[str] = []
    cells: list[str] = []
    kind, state = "", "header"
    for number, line in enumerate(lines, 1):
        words, comment = _words(line)
        if comment is not None and state == "header":
            header.append(("#", comment))
        if not words:
            continue
        key = words[0]
        if key == "BEGIN_DATA_FORMAT":
            state, fields = "format", []
        elif key == "END_DATA_FORMAT":
            state = "header"
        elif key == "BEGIN_DATA":
            if not fields:
                raise UnreadableFile(f'"{name}", line {number}: data begin before their format is given.')
            state, cells = "data", []
        elif key == "END_DATA":
            if state != "data":
                raise UnreadableFile(f'"{name}", line {number}: data end that never began. Export it again.')
            tables.append(_table(kind or "CGATS.17", header, fields, cells, name))
            header, state, kind = [], "header", ""
        elif state == "format":
            fields.extend(words)
        elif state == "data":
            cells.extend(words)
        elif len(words) == 1 and not kind and not any(key != "#" for key, _ in header):
            kind = key
        elif key not in ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS"):
            header.append((key, " ".join(words[1:])))
    if state == "data":
        raise UnreadableFile(f'"{name}" ends in the middle of its data. Export it again.')
    if not tables:
        raise UnreadableFile(f'"{name}" holds no table of patches (BEGIN_DATA ... END_DATA). Choose another file.')
    return tuple(tables)


def _table(
    kind: str, header: Sequence[tuple[str, str]], fields: Sequence[str], cells: Sequence[str], name: str
) -> MeasurementTable:
    if len(cells) % len(fields):
        raise UnreadableFile(
            f'"{name}" has {len(cells)} values, which is no multiple of its {len(fields)} fields. Export it again.'
        )
    rows = tuple(tuple(cells[at : at + len(fields)]) for at in range(0, len(cells), len(fields)))
    try:
        return MeasurementTable(kind=kind, header=tuple(header), fields=tuple(fields), rows=rows, name=name)
    except ValueOutOfRange as problem:
        raise UnreadableFile(str(problem)) from None


def _quoted(word: str) -> str:
    if word and not re.search(r'[\s"#]', word):
        return word
    return '"' + word.replace('"', '""') + '"'


def write_cgats(tables: Sequence[MeasurementTable]) -> bytes:
    """Text of tables; reading it gives the same tables.

    References
    ----------
    iso28178
    """
    lines: list[str] = []
    for table in tables:
        lines.append(table.kind)
        for key, value in table.header:
            plain = re.fullmatch(r"[-+]?\d+(\.\d+)?", value)
            lines.append(f"#{value}" if key == "#" else f"{key}\t{value if plain else _always_quoted(value)}")
        lines += [f"NUMBER_OF_FIELDS\t{len(table.fields)}", "BEGIN_DATA_FORMAT", "\t".join(table.fields)]
        lines += ["END_DATA_FORMAT", f"NUMBER_OF_SETS\t{len(table.rows)}", "BEGIN_DATA"]
        lines += ["\t".join(_quoted(cell) for cell in row) for row in table.rows]
        lines.append("END_DATA")
    return ("\n".join(lines) + "\n").encode()


def _always_quoted(value: str) -> str:
    return '"' + value.replace('"', '""') + '"'


# --- CxF ---------------------------------------------------------------------------------------

_CXF_TRIPLES = {
    "ColorCIELab": (("L", "A", "B"), LAB_FIELDS),
    "ColorCIEXYZ": (("X", "Y", "Z"), XYZ_FIELDS),
}


def _local(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2]


def read_cxf(data: bytes, *, name: str = "table") -> MeasurementTable:
    """Lab, XYZ and reflectance spectra of a CxF/X file, as a table.

    Raises
    ------
    UnreadableFile
        If it is no CxF, declares entities, or holds no such values; if samples hold different kinds.

    References
    ----------
    iso17972
    """
    text = _text(data, name)
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise UnreadableFile(
            f'"{name}" declares entities, which a file of measurements has no need of. It is not read.'
        )
    try:
        root = ElementTree.fromstring(text.encode())
    except ElementTree.ParseError as problem:
        raise UnreadableFile(f'"{name}" is damaged XML ({problem}). Export it again.') from None
    if _local(root) != "CxF":
        raise UnreadableFile(f'"{name}" is XML, but not CxF. Choose another file.')
    header = [(_local(e), (e.text or "").strip()) for part in root if _local(part) == "FileInformation" for e in part]
    spacing = {
        e.get("Id", ""): next((r for r in e.iter() if _local(r) == "WavelengthRange"), None)
        for e in root.iter()
        if _local(e) == "ColorSpecification"
    }
    samples: list[dict[str, str]] = []
    for element in root.iter():
        if _local(element) != "Object":
            continue
        sample = {"SAMPLE_ID": element.get("Id", ""), "SAMPLE_NAME": element.get("Name", "")}
        for value in element.iter():
            kind = _local(value)
            if kind in _CXF_TRIPLES and _CXF_TRIPLES[kind][1][0] not in sample:
                parts = {_local(child): (child.text or "").strip() for child in value}
                for part, field in zip(*_CXF_TRIPLES[kind], strict=True):
                    sample[field] = parts.get(part, "")
            elif kind == "ReflectanceSpectrum" and not any(f.startswith("SPECTRAL_NM") for f in sample):
                sample |= _spectrum(value, spacing.get(value.get("ColorSpecification", "")), name)
        if len(sample) > 2:
            samples.append(sample)
    if not samples:
        raise UnreadableFile(f'"{name}" holds no Lab, XYZ or reflectance values. Choose another file.')
    fields = tuple(samples[0])
    if any(tuple(sample) != fields for sample in samples):
        raise UnreadableFile(f'"{name}": its samples do not all hold the same kinds of values. Export them apart.')
    return MeasurementTable(
        kind="CxF",
        header=tuple((key, value) for key, value in header if value),
        fields=fields,
        rows=tuple(tuple(sample[field] for field in fields) for sample in samples),
        name=name,
    )


def _spectrum(element: ElementTree.Element, spacing: ElementTree.Element | None, name: str) -> dict[str, str]:
    values = (element.text or "").split()
    try:
        start = float(element.get("StartWL", ""))
        step = float(spacing.get("Increment", "10") if spacing is not None else "10")
        if not (0 < start < 1e5 and 0 < step < 1e4 and len(values) < 10_000):
            raise ValueError
    except ValueError:
        raise UnreadableFile(f'"{name}": a spectrum does not say where it starts or how it steps.') from None
    return {f"SPECTRAL_NM{start + step * k:g}": value for k, value in enumerate(values)}


def write_cxf(table: MeasurementTable) -> bytes:
    """CxF text of a table's Lab, XYZ and spectra (D50, 2 degrees).

    Raises
    ------
    ValueOutOfRange
        If the table holds none of them, or a spectrum whose steps are not equal: CxF says first and step alone.

    References
    ----------
    iso17972
    """
    spectral = [f for f in table.fields if re.fullmatch(r"SPECTRAL_NM\d+(\.\d+)?", f)]
    triples = [(kind, *parts) for kind, parts in _CXF_TRIPLES.items() if table.has(parts[1])]
    if not triples and not spectral:
        raise ValueOutOfRange(
            f'"{table.name}" holds no Lab, XYZ or spectra, which is what CxF is for. Export CGATS text.'
        )
    wavelengths = [float(f.removeprefix("SPECTRAL_NM")) for f in spectral]
    steps = [after - before for before, after in pairwise(wavelengths)]
    if steps and not (steps[0] > 0 and all(math.isclose(step, steps[0], abs_tol=WAVELENGTH_SLACK) for step in steps)):
        raise ValueOutOfRange(
            f'The spectra of "{table.name}" do not go up in equal steps of wavelength, and CxF says only where they '
            "begin and how they step. Export CGATS text."
        )
    ElementTree.register_namespace("cc", CXF_NAMESPACE)

    def add(parent: ElementTree.Element, tag: str, text: str = "", **attributes: str) -> ElementTree.Element:
        child = ElementTree.SubElement(parent, f"{{{CXF_NAMESPACE}}}{tag}", attributes)
        child.text = text or None
        return child

    root = ElementTree.Element(f"{{{CXF_NAMESPACE}}}CxF")
    information = add(root, "FileInformation")
    known = dict(table.header) if table.kind == "CxF" else {}
    about = {"Creator": "Printlore", "Description": table.says("DESCRIPTOR")} | known
    for key, value in about.items():
        if value:
            add(information, key, value)
    resources = add(root, "Resources")
    objects = add(resources, "ObjectCollection")
    for identity, (label, row) in enumerate(zip(table.names, table.rows, strict=True), 1):
        cells = dict(zip(table.fields, row, strict=True))
        sample = add(
            objects,
            "Object",
            ObjectType="Standard",
            Name=cells.get("SAMPLE_NAME", label),
            Id=cells.get("SAMPLE_ID", str(identity)),
        )
        values = add(sample, "ColorValues")
        if spectral:
            first = spectral[0].removeprefix("SPECTRAL_NM")
            add(
                values,
                "ReflectanceSpectrum",
                " ".join(cells[f] for f in spectral),
                ColorSpecification="measured",
                StartWL=first,
            )
        for kind, parts, fields in triples:
            triple = add(values, kind, ColorSpecification="measured")
            for part, field in zip(parts, fields, strict=True):
                add(triple, part, cells[field])
    specification = add(add(resources, "ColorSpecificationCollection"), "ColorSpecification", Id="measured")
    tristimulus = add(specification, "TristimulusSpec")
    add(tristimulus, "Illuminant", "D50")
    add(tristimulus, "Observer", "2_Degree")
    measured = add(specification, "MeasurementSpec")
    add(measured, "MeasurementType", "Spectrum_Reflectance" if spectral else "Colorimetric_Reflectance")
    if steps:
        add(measured, "WavelengthRange", StartWL=f"{wavelengths[0]:g}", Increment=f"{steps[0]:g}")
    ElementTree.indent(root)
    return bytes(ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


# --- CSV ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvMapping:
    """Which column of a kind of CSV file is which field.

    Attributes
    ----------
    delimiter : str
        One of , ; tab | or a space.
    decimal : str
        Point or comma.
    columns : tuple of (field, column heading)
    """

    delimiter: str = ","
    decimal: str = "."
    columns: tuple[tuple[str, str], ...]

    def __post_init__(self) -> None:
        if self.delimiter not in (",", ";", "\t", "|", " ") or self.decimal not in (".", ",") or not self.columns:
            raise ValueOutOfRange("A CSV mapping needs a delimiter (, ; tab | space), a decimal mark and columns.")
        if self.delimiter == self.decimal:
            raise ValueOutOfRange("The same mark cannot part the columns and the decimals; choose another.")


_USUAL_HEADINGS: Mapping[str, tuple[str, ...]] = {
    "SAMPLE_NAME": ("sample_name", "name", "patch", "sample", "id", "sample_id"),
    "D_RED": ("d_red", "red", "r", "d_r", "dr"),
    "D_GREEN": ("d_green", "green", "g", "d_g", "dg"),
    "D_BLUE": ("d_blue", "blue", "b", "d_b", "db"),
    "LAB_L": ("lab_l", "l", "l*"),
    "LAB_A": ("lab_a", "a", "a*"),
    "LAB_B": ("lab_b", "b", "b*"),
    "XYZ_X": ("xyz_x", "x"),
    "XYZ_Y": ("xyz_y", "y"),
    "XYZ_Z": ("xyz_z", "z"),
}


def mapping_said(columns: Iterable[str], *, delimiter: str = ",", decimal: str = ".") -> CsvMapping:
    """A mapping as it is said: each column as ``FIELD=heading``, for example ``D_RED=Red density``.

    Raises
    ------
    ValueOutOfRange
        If one cannot be read, its field is not known, or a field is named twice; says which there are.
    """
    found: dict[str, str] = {}
    for text in columns:
        field, equals, heading = (part.strip() for part in text.partition("="))
        field = field.upper()
        if not (equals and heading):
            raise ValueOutOfRange(f'"{text}" names no column. Write for example "D_RED=Red density".')
        if field not in _USUAL_HEADINGS and not re.fullmatch(r"SPECTRAL_NM\d+(\.\d+)?", field):
            raise ValueOutOfRange(
                f'"{field}" is no field of a measurement; use one of {", ".join(_USUAL_HEADINGS)} or SPECTRAL_NM380 ...'
            )
        if field in found:
            raise ValueOutOfRange(f"{field} is named twice ({found[field]}, {heading}). Leave one of them out.")
        found[field] = heading
    return CsvMapping(delimiter=delimiter, decimal=decimal, columns=tuple(found.items()))


def guess_mapping(data: bytes, *, name: str = "table") -> CsvMapping:
    """A first guess of the mapping, from the headings; the printer confirms it and it is remembered.

    Raises
    ------
    UnreadableFile
        If no heading is known.
    """
    lines = _text(data, name).splitlines()
    first = next(line for line in lines if line.strip())
    delimiter = max((";", "\t", ",", "|"), key=first.count)
    body = "\n".join(lines[1:50])
    decimal = "," if delimiter != "," and re.search(r"\d,\d", body) and not re.search(r"\d\.\d", body) else "."
    headings = [heading.strip().strip('"') for heading in first.split(delimiter)]
    lower = [heading.lower() for heading in headings]
    is_lab = {"l", "l*", "lab_l"} & set(lower)
    columns: list[tuple[str, str]] = []
    for field, usual in _USUAL_HEADINGS.items():
        # A lone "b" is blue beside r and g, and b* beside L and a.
        if field in DENSITY_FIELDS and is_lab and not {"r", "red", "d_red"} & set(lower):
            continue
        if field in LAB_FIELDS and not is_lab:
            continue
        found = next((headings[lower.index(word)] for word in usual if word in lower), None)
        if found is not None and found not in dict(columns).values():
            columns.append((field, found))
    if not any(field != "SAMPLE_NAME" for field, _ in columns):
        raise UnreadableFile(
            f'"{name}": none of the headings ({", ".join(headings)[:200]}) is known. Say which column is which '
            "(printlore measure import --column)."
        )
    return CsvMapping(delimiter=delimiter, decimal=decimal, columns=tuple(columns))


def read_csv(data: bytes, mapping: CsvMapping, *, name: str = "table") -> MeasurementTable:
    """Table of a CSV file, by a mapping.

    Raises
    ------
    UnreadableFile
        If a mapped column is not there or there twice, or a row is shorter or longer than the headings.

    References
    ----------
    rfc4180
    """
    reader = csv.reader(io.StringIO(_text(data, name), newline=None), delimiter=mapping.delimiter)
    try:
        rows = [(reader.line_num, row) for row in reader if any(row)]
    except csv.Error as problem:
        raise UnreadableFile(f'"{name}" is no CSV ({problem}). Choose another file.') from None
    headings = [heading.strip() for heading in rows[0][1]] if rows else []
    missing = [column for _, column in mapping.columns if column not in headings]
    if missing:
        raise UnreadableFile(
            f'"{name}" has no column {", ".join(missing)}; parted by {mapping.delimiter!r}, it has '
            f"{', '.join(headings)[:200]}. Say again which column is which, and what parts them."
        )
    twice = [column for _, column in mapping.columns if headings.count(column) > 1]
    if twice:
        raise UnreadableFile(f'"{name}" has two columns {twice[0]}. Rename one, so that it is known which counts.')
    at = [headings.index(column) for _, column in mapping.columns]
    cells = []
    for number, row in rows[1:]:
        if len(row) <= max(at) or any(row[len(headings) :]):
            hint = " A decimal comma may have parted a number." if len(row) > len(headings) else ""
            raise UnreadableFile(
                f'"{name}", line {number}: {len(row)} columns where {len(headings)} were expected.{hint}'
            )
        picked = [row[place].strip() for place in at]
        cells.append(
            tuple(cell.replace(mapping.decimal, ".") if _is_number(cell, mapping) else cell for cell in picked)
        )
    return MeasurementTable(
        kind="CSV", fields=tuple(field for field, _ in mapping.columns), rows=tuple(cells), name=name
    )


def _is_number(cell: str, mapping: CsvMapping) -> bool:
    try:
        return math.isfinite(float(cell.replace(mapping.decimal, ".")))
    except ValueError:
        return False


def write_csv(table: MeasurementTable) -> bytes:
    """CSV text of a table, headings first."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.fields)
    writer.writerows(table.rows)
    return out.getvalue().encode()


def read_measurements(data: bytes, *, name: str = "table") -> MeasurementTable:
    """First table of a file of any of the three kinds, told apart by its content.

    Raises
    ------
    UnreadableFile
        As the reader of its kind.
    """
    text = _text(data[:4096], name) if len(data) > 4096 else _text(data, name)
    if text.lstrip().startswith("<"):
        return read_cxf(data, name=name)
    if "BEGIN_DATA" in text or re.match(r"\s*(CGATS|ISO28178|IT8)", text):
        return read_cgats(data, name=name)[0]
    return read_csv(data, guess_mapping(data, name=name), name=name)
