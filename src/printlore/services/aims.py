"""What a negative's reference patch should come out as: a tone, or a density on a paper; stated or taken back."""

import dataclasses
from dataclasses import dataclass

from printlore.errors import UnknownRecord
from printlore.records.database import Database
from printlore.records.negatives import NEUTRAL_GREY, Frame, Lab
from printlore.records.papers import FrameAim
from printlore.records.rows import add, correct, every, find, remove


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedAims:
    """What was stated for a frame.

    Attributes
    ----------
    tone : (L*, a*, b*)
        Of the reference patch on a good print (CIELAB, D50, 2 degrees).
    usual : bool
        Whether that is the neutral grey that counts if nothing is said.
    densities : one for each paper where a density goes before the tone
    """

    frame: str
    tone: Lab
    usual: bool
    densities: tuple[FrameAim, ...]


def stated_aims(db: Database, frame: str) -> StatedAims:
    """What was stated for a frame. Raises UnknownRecord with near names."""
    with db.reading() as conn:
        there = find(conn, Frame, frame)
        densities = tuple(every(conn, FrameAim, frame=frame))
    return StatedAims(frame=frame, tone=there.aim, usual=there.aim == NEUTRAL_GREY, densities=densities)


def state_tone(db: Database, frame: str, tone: Lab, *, version: int | None = None) -> Frame:
    """State the tone of a frame's reference patch.

    Parameters
    ----------
    tone : (L*, a*, b*)
    version : int, optional
        Of the frame as it was looked at, so that a change in between is noticed.

    Raises
    ------
    ValueOutOfRange
        If paper cannot show that colour; names the nearest it can.
    """
    must_be_shown(tone)
    with db.transaction() as conn:
        there = find(conn, Frame, frame)
        return correct(
            conn, dataclasses.replace(there, aim=tone, version=there.version if version is None else version)
        )


def must_be_shown(tone: Lab) -> None:
    """Raises ValueOutOfRange if paper cannot show that colour; names the nearest it can."""
    # Loading the dye model takes a third of a second that every command would pay.
    from printlore.core.paper.dyes import generic_paper

    generic_paper().density_from_lab(tone)


def state_density(db: Database, frame: str, paper: str, density: tuple[float, float, float]) -> FrameAim:
    """State the density (red, green, blue) of a frame's reference patch on a paper; replaces what was stated before."""
    with db.transaction() as conn:
        earlier = every(conn, FrameAim, frame=frame, family=paper)
        if earlier:
            return correct(conn, dataclasses.replace(earlier[-1], density=density))
        return add(conn, FrameAim(frame=frame, family=paper, density=density))


def drop_density(db: Database, frame: str, paper: str) -> FrameAim:
    """Take a stated density back: the tone counts again, or the first print that was kept.

    Raises
    ------
    UnknownRecord
        If none was stated.
    """
    with db.transaction() as conn:
        find(conn, Frame, frame)
        stated = every(conn, FrameAim, frame=frame, family=paper)
        if not stated:
            papers = ", ".join(f'"{one.family}"' for one in every(conn, FrameAim, frame=frame))
            rest = f"Densities are stated on {papers}." if papers else "None is stated on any paper: its tone counts."
            raise UnknownRecord(f'No density was stated for "{frame}" on the paper "{paper}". {rest}')
        remove(conn, stated[-1])
        return stated[-1]
