"""Tables of measured patches, as instruments and makers of charts give them.

Cells stay the text they were, so that a file can be written back without loss; numbers are
taken out on request, under the field names of the standard.
"""

from dataclasses import dataclass

import numpy as np

from printlore.core.measure.scan import Floats
from printlore.errors import ValueOutOfRange

NAME_FIELDS = ("SAMPLE_ID", "SAMPLE_NAME", "SampleID", "SAMPLE_LOC")
LAB_FIELDS = ("LAB_L", "LAB_A", "LAB_B")
XYZ_FIELDS = ("XYZ_X", "XYZ_Y", "XYZ_Z")
DENSITY_FIELDS = ("D_RED", "D_GREEN", "D_BLUE")


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementTable:
    """One table of measured patches.

    Attributes
    ----------
    kind : str
        First line of the file, such as "CGATS.17".
    header : tuple of (keyword, value)
        In their order; a value without its quotation marks. Keyword "#": a comment.
    fields : tuple of str
    rows : tuple of tuples of str
        Cells as they stood.
    name : str
        Of the file, for messages.

    References
    ----------
    iso28178
    """

    kind: str = "CGATS.17"
    header: tuple[tuple[str, str], ...] = ()
    fields: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    name: str = "table"

    def __post_init__(self) -> None:
        if len(set(self.fields)) != len(self.fields):
            raise ValueOutOfRange(f'"{self.name}" names a field twice; each may stand once.')
        for number, row in enumerate(self.rows, 1):
            if len(row) != len(self.fields):
                raise ValueOutOfRange(
                    f'"{self.name}", set {number}: {len(row)} values for {len(self.fields)} fields. Export it again.'
                )

    def says(self, keyword: str) -> str:
        """Value of a keyword in the header, or an empty text."""
        return next((value for key, value in self.header if key == keyword), "")

    def has(self, fields: tuple[str, ...]) -> bool:
        """Whether all of these fields are there."""
        return all(field in self.fields for field in fields)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the patches: the location on a chart, or the sample's number."""
        for field in reversed(NAME_FIELDS):
            if field in self.fields:
                at = self.fields.index(field)
                return tuple(row[at] for row in self.rows)
        return tuple(str(number) for number in range(1, len(self.rows) + 1))

    def numbers(self, fields: tuple[str, ...]) -> Floats:
        """(sets, fields) of numbers.

        Raises
        ------
        ValueOutOfRange
            If a field is not there, or a cell is not a number.
        """
        missing = [field for field in fields if field not in self.fields]
        if missing:
            raise ValueOutOfRange(
                f'"{self.name}" has no field {", ".join(missing)}; it has {", ".join(self.fields)}. '
                "Export it again with these, or choose another file."
            )
        at = [self.fields.index(field) for field in fields]
        out = np.empty((len(self.rows), len(fields)))
        for number, row in enumerate(self.rows):
            for column, place in enumerate(at):
                try:
                    out[number, column] = float(row[place].replace(",", "."))
                except ValueError:
                    out[number, column] = np.nan
                if not np.isfinite(out[number, column]):
                    raise ValueOutOfRange(
                        f'"{self.name}", set {number + 1}, {fields[column]}: "{row[place]}" is not a number.'
                    )
        return out

    def lab(self) -> Floats:
        """(sets, 3) CIELAB."""
        return self.numbers(LAB_FIELDS)

    def xyz(self) -> Floats:
        """(sets, 3) tristimulus values, a perfect white at Y = 1."""
        return self.numbers(XYZ_FIELDS) / 100.0

    def density(self) -> Floats:
        """(sets, 3) densities red, green, blue."""
        return self.numbers(DENSITY_FIELDS)
