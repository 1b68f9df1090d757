"""Measurement files by others are read and written back without loss; broken ones are refused in words."""

import importlib.util
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printlore.core.measure.measurements import LAB_FIELDS, MeasurementTable
from printlore.devices.exchange import (
    CsvMapping,
    guess_mapping,
    read_cgats,
    read_csv,
    read_cxf,
    read_measurements,
    write_cgats,
    write_csv,
    write_cxf,
)
from printlore.errors import PrintloreError, UnreadableFile, ValueOutOfRange

# Written after the grammar of ISO 28178 (keyword lines, data format, data; words parted by blanks;
# quoted texts; comments from # on); the values are invented.
SMALL = b"""CGATS.17
ORIGINATOR "an invented instrument"
# made for a test
CREATED "2026-11-01"
PRINT_CONDITIONS "matte; ""first"" lot"

NUMBER_OF_FIELDS 5
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME LAB_L
LAB_A LAB_B
END_DATA_FORMAT
NUMBER_OF_SETS 3
BEGIN_DATA
1 A1 52.10 0.31 -0.25
2 "grey 2" 37.4 -0.2 1.11
3 A3 90.02\t-1.0\t3.5
END_DATA
CGATS.17
DESCRIPTOR "second table"
BEGIN_DATA_FORMAT
SAMPLE_ID D_RED D_GREEN D_BLUE
END_DATA_FORMAT
BEGIN_DATA
1 0.71 0.72 0.69
END_DATA
"""


def real_files():
    """Measurement files by an instrument, inside a general colour library's test data."""
    found = importlib.util.find_spec("colour")
    folder = Path(found.origin).parent / "io" / "tests" / "resources"
    return [path for path in folder.glob("*.txt") if b"BEGIN_DATA_FORMAT" in path.read_bytes()]


def test_small_file_is_read_as_written():
    first, second = read_cgats(SMALL)
    assert first.names == ("A1", "grey 2", "A3")
    assert first.lab()[0].tolist() == [52.10, 0.31, -0.25]
    assert first.says("ORIGINATOR") == "an invented instrument"
    assert first.says("PRINT_CONDITIONS") == 'matte; "first" lot'
    assert second.density().tolist() == [[0.71, 0.72, 0.69]]


def test_several_tables_come_back_the_same():
    tables = read_cgats(SMALL)
    again = read_cgats(write_cgats(tables))
    assert [(t.kind, t.header, t.fields, t.rows) for t in again] == [
        (t.kind, t.header, t.fields, t.rows) for t in tables
    ]


@pytest.mark.parametrize("path", real_files(), ids=lambda path: "instrument file")
def test_files_by_instruments_come_back_the_same(path):
    tables = read_cgats(path.read_bytes(), name=path.name)
    again = read_cgats(write_cgats(tables), name=path.name)
    assert again == tables
    assert len(tables[0].rows) == int(
        next(line.split()[1] for line in path.read_text("latin-1").splitlines() if line.startswith("NUMBER_OF_SETS"))
    )


def test_there_is_a_real_file_to_read():
    assert real_files()


WORD = st.text(st.characters(codec="ascii", categories=["L", "N", "P", "S"]), min_size=1, max_size=12)


@given(
    fields=st.lists(WORD.filter(lambda w: not set(w) & set('"#')), min_size=1, max_size=5, unique=True),
    data=st.data(),
)
def test_any_table_comes_back_the_same(fields, data):
    reserved = {"BEGIN_DATA", "END_DATA", "BEGIN_DATA_FORMAT", "END_DATA_FORMAT"}
    fields = [f for f in fields if f not in reserved] or ["SAMPLE_ID"]
    rows = data.draw(
        st.lists(st.tuples(*[WORD.filter(lambda w: w not in reserved)] * len(fields)), min_size=1, max_size=4)
    )
    table = MeasurementTable(fields=tuple(fields), rows=tuple(rows))
    assert read_cgats(write_cgats([table]))[0].rows == table.rows


@settings(max_examples=150)
@given(st.one_of(st.binary(max_size=400), st.lists(st.sampled_from(SMALL.split(b"\n")), max_size=30).map(b"\n".join)))
def test_broken_text_gives_tables_or_a_printlore_error(data):
    try:
        outcome = read_measurements(data)
    except PrintloreError:
        outcome = None
    assert outcome is None or isinstance(outcome, MeasurementTable)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty. Export it again"),
        (SMALL[:290], "ends in the middle of its data"),
        (b"CGATS.17\nBEGIN_DATA\n1 2\nEND_DATA\n", "data begin before their format"),
        (
            b"CGATS.17\nBEGIN_DATA_FORMAT\nA B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 2 3\nEND_DATA\n",
            "3 values, which is no multiple",
        ),
        (b'CGATS.17\nORIGINATOR "x"\n', "holds no table of patches"),
        (b"CGATS.17\nBEGIN_DATA_FORMAT\nA A\nEND_DATA_FORMAT\nBEGIN_DATA\n1 2\nEND_DATA\n", "names a field twice"),
    ],
)
def test_broken_cgats_says_what_is_wrong(data, words):
    with pytest.raises(UnreadableFile, match=words):
        read_cgats(data, name="chart.txt")


def test_missing_fields_and_wrong_numbers_are_named():
    first, _ = read_cgats(SMALL, name="chart.txt")
    with pytest.raises(ValueOutOfRange, match=r'"chart.txt" has no field D_RED, D_GREEN, D_BLUE; it has SAMPLE_ID'):
        first.density()
    odd = MeasurementTable(fields=LAB_FIELDS, rows=(("50", "0", "n/a"),), name="odd.txt")
    with pytest.raises(ValueOutOfRange, match=r'"odd.txt", set 1, LAB_B: "n/a" is not a number'):
        odd.lab()


# Written after ISO 17972 (CxF/X); namespace and element names from memory, checked with an open reader of the format.
CXF = b"""<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core">
  <cc:FileInformation><cc:Creator>an invented instrument</cc:Creator></cc:FileInformation>
  <cc:Resources><cc:ObjectCollection>
    <cc:Object ObjectType="Target" Name="grey 1" Id="1"><cc:ColorValues>
      <cc:ReflectanceSpectrum ColorSpecification="m" StartWL="400">0.1 0.2 0.3</cc:ReflectanceSpectrum>
      <cc:ColorCIELab ColorSpecification="m"><cc:L>52.1</cc:L><cc:A>0.3</cc:A><cc:B>-0.2</cc:B></cc:ColorCIELab>
    </cc:ColorValues></cc:Object>
    <cc:Object ObjectType="Target" Name="grey 2" Id="2"><cc:ColorValues>
      <cc:ReflectanceSpectrum ColorSpecification="m" StartWL="400">0.4 0.5 0.6</cc:ReflectanceSpectrum>
      <cc:ColorCIELab ColorSpecification="m"><cc:L>70</cc:L><cc:A>1</cc:A><cc:B>2</cc:B></cc:ColorCIELab>
    </cc:ColorValues></cc:Object>
  </cc:ObjectCollection>
  <cc:ColorSpecificationCollection><cc:ColorSpecification Id="m"><cc:MeasurementSpec>
    <cc:WavelengthRange StartWL="400" Increment="20"/></cc:MeasurementSpec></cc:ColorSpecification>
  </cc:ColorSpecificationCollection></cc:Resources>
</cc:CxF>"""


def test_cxf_values_are_read_and_come_back_the_same():
    table = read_cxf(CXF)
    assert table.names == ("grey 1", "grey 2")
    assert table.lab()[1].tolist() == [70.0, 1.0, 2.0]
    assert table.numbers(("SPECTRAL_NM400", "SPECTRAL_NM420", "SPECTRAL_NM440"))[0].tolist() == [0.1, 0.2, 0.3]
    again = read_cxf(write_cxf(table))
    assert (again.fields, again.rows, again.header) == (table.fields, table.rows, table.header)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'<!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>', "declares entities"),
        (b"<cc:CxF", "damaged XML"),
        (b"<other/>", "XML, but not CxF"),
        (b"<CxF/>", "holds no Lab, XYZ or reflectance values"),
        (CXF.replace(b'StartWL="400">0.1', b'StartWL="x">0.1'), "does not say where it starts"),
        (
            CXF.replace(
                b'<cc:ReflectanceSpectrum ColorSpecification="m" StartWL="400">0.4 0.5 0.6</cc:ReflectanceSpectrum>',
                b"",
            ),
            "do not all hold the same kinds",
        ),
    ],
)
def test_broken_cxf_says_what_is_wrong(data, words):
    with pytest.raises(UnreadableFile, match=words):
        read_cxf(data)


def test_cxf_is_not_for_densities():
    with pytest.raises(ValueOutOfRange, match="which is what CxF is for"):
        write_cxf(read_measurements(b"name,red,green,blue\na,0.7,0.7,0.7\n"))


def test_csv_mapping_is_guessed_confirmed_and_used():
    data = b"Patch;R;G;B\r\ngrey;0,71;0,72;0,69\r\nsky;0,30;0,35;0,50\r\n"
    mapping = guess_mapping(data)
    assert mapping.delimiter == ";"
    assert mapping.decimal == ","
    table = read_csv(data, mapping)
    assert table.names == ("grey", "sky")
    assert table.density().tolist() == [[0.71, 0.72, 0.69], [0.30, 0.35, 0.50]]
    assert read_csv(write_csv(table), guess_mapping(write_csv(table))).rows == table.rows


def test_csv_of_lab_is_not_taken_for_densities():
    table = read_measurements(b"name,L*,a*,b*\ngrey,52,0.1,-0.3\n")
    assert table.lab().tolist() == [[52.0, 0.1, -0.3]]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"name,L,a,b\n\nA,50,5,1,2\n", "line 3: 5 columns where 4 were expected. A decimal comma may have parted"),
        (b"name,L,L,a,b\nA,50,51,1,2\n", "has two columns L. Rename one, so that it is known which counts"),
    ],
)
def test_csv_takes_no_number_from_a_column_that_is_not_sure(data, words):
    with pytest.raises(UnreadableFile) as caught:
        read_measurements(data, name="patches.csv")
    assert words in str(caught.value)


def test_csv_may_end_its_lines_with_a_comma_and_as_on_any_machine():
    for end in (b"\n", b"\r\n", b"\r"):
        table = read_measurements(end.join((b"name,L,a,b", b"A,50,1,2,", b"B,60,1,2,")), name="patches.csv")
        assert table.rows == (("A", "50", "1", "2"), ("B", "60", "1", "2"))


@pytest.mark.parametrize("bands", [(380, 390, 420), (400, 390, 380)])
def test_cxf_is_not_for_spectra_of_unequal_steps(bands):
    """Written with the first step, they came back at other wavelengths."""
    table = MeasurementTable(
        kind="CGATS.17", fields=tuple(f"SPECTRAL_NM{band}" for band in bands), rows=(("0.1", "0.2", "0.3"),), name="t"
    )
    with pytest.raises(ValueOutOfRange, match="do not go up in equal steps of wavelength"):
        write_cxf(table)


def test_csv_says_which_column_is_missing_or_unknown():
    with pytest.raises(UnreadableFile, match=r"none of the headings \(foo, bar\) is known. Say which column is which"):
        guess_mapping(b"foo,bar\n1,2\n")
    mapping = CsvMapping(columns=(("D_RED", "red"),))
    with pytest.raises(UnreadableFile, match="has no column red"):
        read_csv(b"foo,bar\n1,2\n", mapping)
    with pytest.raises(UnreadableFile, match="line 2: 1 columns where 2 were expected"):
        read_csv(b"foo,red\n1\n", mapping)
    with pytest.raises(ValueOutOfRange, match="same mark cannot part"):
        CsvMapping(delimiter=",", decimal=",", columns=(("D_RED", "red"),))
    with pytest.raises(ValueOutOfRange, match="needs a delimiter"):
        CsvMapping(columns=())
