"""Editions from Python, with the words of ``printlore edition``."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from printlore.core.plain import fitted_parts
from printlore.errors import ValueOutOfRange
from printlore.faces.studio_calls import Room, checked, through
from printlore.records.database import Database
from printlore.records.editions import Edition, NumberedPrint, PrintLine
from printlore.services import edition_price, edition_sheets, entry, print_lines
from printlore.services import editions as ledger
from printlore.services.doubts import slip_questions
from printlore.services.editions import PrintView


class Editions(Room):
    """Promise editions, number their prints, and write down what becomes of each; a print is named by its code."""

    list = through(ledger.editions_of)
    add = through(ledger.add_edition)
    show = through(ledger.edition_view)
    print = through(ledger.find_print)
    line = through(print_lines.add_line)
    check = through(print_lines.check_certificate)
    listing = through(edition_sheets.listing)
    price = through(edition_price.price_floor)
    certificate_pdf = through(edition_sheets.certificate_pdf)
    labels_pdf = through(edition_sheets.labels_pdf)
    care_pdf = through(edition_sheets.care_pdf)

    @checked
    def change(
        self, title: str, *, reason: str = "", confirmed: bool = False, seen: int | None = None, **changes: Any
    ) -> Edition:
        """Correct ``name``, ``artist`` or ``sizes``, or change the promise (``prints``, ``proofs``, with a reason).

        Parameters
        ----------
        confirmed : bool
            Raise it although prints are out under the old promise.
        seen : int, optional
            The version that was read: refused if it was changed since.
        """
        if not changes:
            raise ValueOutOfRange("Nothing was named to be changed. Give prints, proofs, name, artist or sizes.")
        changes = fitted_parts(Edition, changes, where="change")
        there = entry.find_record(self.database, Edition, title)
        there = replace(there, version=seen or there.version)
        return ledger.change_edition(self.database, there, reason=reason, confirmed=confirmed, **changes)

    @checked
    def number(
        self,
        title: str,
        *,
        trial: str | None = None,
        number: int | None = None,
        proof: bool = False,
        size: tuple[float, float] | None = None,
        printed_on: str | None = None,
        paper: str = "",
        note: str = "",
        over_copies: bool = False,
    ) -> PrintView:
        """Give a print its number and its code; the parameters are those of ``services.editions.number_print``."""
        asked = _asked(self.database, title) if trial is not None else ledger.NOTHING_ASKED
        return ledger.number_print(
            self.database,
            title,
            trial=trial,
            number=number,
            proof=proof,
            size=size,
            printed_on=printed_on,
            paper=paper,
            note=note,
            over_copies=over_copies,
            asked=asked,
        )

    @checked
    def correct(self, code: str, *, seen: int | None = None, **changes: Any) -> PrintView:
        """Put a print right: ``trial``, ``size`` [mm], ``printed_on``, ``paper``, ``note``; number and code stay.

        Parameters
        ----------
        seen : int, optional
            The version that was read: refused if it was changed since.
        """
        if not changes:
            raise ValueOutOfRange("Nothing was named to be put right. Give trial, size, printed_on, paper or note.")
        changes = fitted_parts(NumberedPrint, changes, where="correct")
        there = ledger.find_print(self.database, code).print
        trial = changes.get("trial")
        asked = _asked(self.database, there.edition) if trial and trial != there.trial else ledger.NOTHING_ASKED
        there = replace(there, version=seen or there.version)
        return ledger.correct_print(self.database, there, asked=asked, **changes)

    @checked
    def certificate(self, code: str, *, again: bool = False) -> PrintLine:
        """The certificate of a print, written unless it is written; ``certificate_pdf`` prints it."""
        made = ledger.find_print(self.database, code).certificate
        return print_lines.write_certificate(self.database, code) if made is None or again else made

    @checked
    def care(
        self, *, lux: float | None = None, hours: float | None = None, stated_dose: float | None = None
    ) -> Sequence[tuple[str, Sequence[tuple[str, str]]]]:
        """Rules of care by part, each with its source; the light in lx and hours a day, the dose in lx h."""
        return edition_sheets.care_words(lux=lux, hours=hours, stated_dose=stated_dose)

    @checked
    def take_back(self, title: str | None = None, *, code: str | None = None, line: int | None = None) -> None:
        """Take back an edition without numbers, the numbering of a print, or a line; it stays listed with a mark."""
        _one_of_three(title, code, line)
        if line is not None:
            print_lines.take_print_line_back(self.database, print_lines.find_print_line(self.database, line))
        elif code is not None:
            ledger.take_print_back(self.database, ledger.find_print(self.database, code).print)
        else:
            ledger.take_edition_back(self.database, entry.find_record(self.database, Edition, title or ""))

    @checked
    def bring_back(self, title: str | None = None, *, code: str | None = None, line: int | None = None) -> None:
        """Let what was taken back count again, as it stood."""
        _one_of_three(title, code, line)
        if line is not None:
            print_lines.bring_print_line_back(self.database, print_lines.find_print_line(self.database, line))
        elif code is not None:
            ledger.bring_print_back(self.database, ledger.find_print(self.database, code).print)
        else:
            ledger.bring_edition_back(self.database, title or "")


def _asked(db: Database, title: str) -> dict[str, str]:
    return slip_questions(db, entry.find_record(db, Edition, title).frame)


def _one_of_three(title: str | None, code: str | None, line: int | None) -> None:
    if sum(one is not None for one in (title, code, line)) != 1:
        raise ValueOutOfRange("Name one of three: the title of an edition, a print's code, or the number of a line.")
