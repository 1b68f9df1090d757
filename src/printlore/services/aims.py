"""What a negative's reference patch should come out as: a tone, or a density on a paper; stated or taken back."""

import dataclasses
from dataclasses import dataclass

import sqlalchemy as sa

from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.negatives import NEUTRAL_GREY, Frame, Lab
from printlore.records.papers import FrameAim, PaperFamily
from printlore.records.rows import add, bring_back, correct, every, every_ever, find, remove


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
    taken_back : one for each paper where the density that was stated last was taken back; ``removed`` is set
    """

    frame: str
    tone: Lab
    usual: bool
    densities: tuple[FrameAim, ...]
    taken_back: tuple[FrameAim, ...] = ()


def stated_aims(db: Database, frame: str) -> StatedAims:
    """What was stated for a frame. Raises UnknownRecord with near names."""
    with db.reading() as conn:
        there = find(conn, Frame, frame)
        ever = every_ever(conn, FrameAim, frame=frame)
    densities = tuple(one for one in ever if not one.removed)
    counts = {one.family for one in densities}
    taken_back = tuple({one.family: one for one in ever if one.family not in counts}.values())
    return StatedAims(
        frame=frame, tone=there.aim, usual=there.aim == NEUTRAL_GREY, densities=densities, taken_back=taken_back
    )


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


def state_density(
    db: Database, frame: str, paper: str, density: tuple[float, float, float], *, version: int | None = None
) -> FrameAim:
    """State the density (red, green, blue) of a frame's reference patch on a paper; replaces what was stated before.

    Parameters
    ----------
    version : int, optional
        Of what was stated on that paper as it was looked at (0: nothing ever was), so that a change in between is
        noticed.

    Raises
    ------
    ChangedMeanwhile
        If something else was stated, or it was taken back, since it was looked at.
    ValueOutOfRange
        If that paper cannot come out so: lighter than its white, darker than its black.
    """
    with db.transaction() as conn:
        there = _ever_stated(conn, frame, paper)
        find(conn, PaperFamily, paper).facts().refuse_beyond_reach(density)
        if version is not None and version != (there.version if there else 0):
            raise ChangedMeanwhile(
                f'What was stated for "{frame}" on the paper "{paper}" was changed meanwhile: you read version '
                f"{version}, now it is {there.version if there else 0}. Look at it again before you state another."
            )
        if there is None:
            return add(conn, FrameAim(frame=frame, family=paper, density=density))
        # one record for each paper, whatever was taken back in between
        there = bring_back(conn, there) if there.removed else there
        return correct(conn, dataclasses.replace(there, density=density))


def drop_density(db: Database, frame: str, paper: str, *, version: int | None = None) -> FrameAim:
    """Take a stated density back: the tone counts again, or the first print that was kept.

    Parameters
    ----------
    version : int, optional
        That was looked at, so that a change in between is noticed.

    Raises
    ------
    UnknownRecord
        If none was stated.
    """
    with db.transaction() as conn:
        there = _ever_stated(conn, frame, paper)
        if there is None or there.removed:
            papers = ", ".join(f'"{one.family}"' for one in every(conn, FrameAim, frame=frame))
            rest = f"Densities are stated on {papers}." if papers else "None is stated on any paper: its tone counts."
            raise UnknownRecord(f'No density was stated for "{frame}" on the paper "{paper}". {rest}')
        remove(conn, there if version is None else dataclasses.replace(there, version=version))
        return there


def bring_density_back(db: Database, frame: str, paper: str) -> FrameAim:
    """Let a density that was taken back count again, as it was stated.

    Raises
    ------
    Refused
        If it was not taken back.
    UnknownRecord
        If none was ever stated.
    """
    with db.transaction() as conn:
        there = _ever_stated(conn, frame, paper)
        if there is None:
            raise UnknownRecord(f'No density was ever stated for "{frame}" on the paper "{paper}". State one.')
        if not there.removed:
            raise Refused(f'The density stated for "{frame}" on the paper "{paper}" was not taken back: it counts.')
        return bring_back(conn, there)


def aim_troubles(conn: sa.Connection) -> tuple[str, ...]:
    """Stated densities that their paper cannot come out as."""
    papers = {paper.name: paper.facts() for paper in every(conn, PaperFamily)}
    found = []
    for one in every(conn, FrameAim):
        try:
            if one.family in papers:
                papers[one.family].refuse_beyond_reach(one.density)
        except ValueOutOfRange as error:
            found.append(f'The density stated for "{one.frame}": {error}')
    return tuple(found)


def _ever_stated(conn: sa.Connection, frame: str, paper: str) -> FrameAim | None:
    """What counts on a paper, or what was taken back last. Raises UnknownRecord for a frame or paper that is none."""
    find(conn, Frame, frame)
    find(conn, PaperFamily, paper)
    known = every_ever(conn, FrameAim, frame=frame, family=paper)
    return max(known, key=lambda one: (not one.removed, one.id), default=None)
