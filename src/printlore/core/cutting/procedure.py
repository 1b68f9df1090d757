"""A sitting as steps to be spoken: what to do, how often, and what must be shut before light.

The order keeps paper safe: every section is cut off first, then the roll goes back into its sealed bag, and each box
is closed before anything else is done. Common practice, no source.
"""

from dataclasses import dataclass

from printlore.core.cutting.plan import Sitting
from printlore.core.cutting.sections import Kind, Section, Setting, Size, Way
from printlore.core.cutting.spoken import said, spoken, written
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do.

    Attributes
    ----------
    key : str
        Unique in its procedure.
    say : tuple of str
        Prompts, see ``core.cutting.spoken``.
    dark : bool
        Paper is out: no light of any kind, the page included.
    count : int
        Presses that end it, if it does not follow another; 1 for a step that is only confirmed.
    counted : bool
        A press stands for a cut.
    pile : int or None
        Which kind of section.
    per_unit : int
        Cuts for each section (or sheet) of the pile.
    starts_pile : bool
        Its count says how many sections there are.
    """

    key: str
    say: tuple[str, ...]
    dark: bool
    count: int = 1
    counted: bool = False
    pile: int | None = None
    per_unit: int = 1
    starts_pile: bool = False

    @property
    def words(self) -> str:
        """What is said."""
        return said(self.say)

    @property
    def written(self) -> str:
        """The same to be read."""
        return written(self.say)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """Sections of one kind, by number from 1: how many are planned and what each becomes."""

    number: int
    section: Section
    planned: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """A sitting, ready to be spoken.

    Attributes
    ----------
    source, lot : str
    from_roll : bool
        False: from sheets.
    discard : float
        Outer length cut off first and thrown away [mm].
    piles : tuple of Pile
    boxes : tuple of Size
        What goes into box 1, 2, ...
    steps : tuple of Step
    """

    source: str
    lot: str
    from_roll: bool
    discard: float
    piles: tuple[Pile, ...]
    boxes: tuple[Size, ...]
    steps: tuple[Step, ...]


def spoken_procedure(sitting: Sitting, *, from_roll: bool, discard: float = 0.0) -> Procedure:
    """Steps of a sitting in the order that keeps the paper safe.

    Parameters
    ----------
    from_roll : bool
        Whether the source is a roll, not sheets.
    discard : float
        Length of outer turns to cut off first [mm]; 0 if that was done in an earlier sitting.

    Raises
    ------
    ValueOutOfRange
        If the sitting cuts nothing.
    """
    if not sitting.sections:
        raise ValueOutOfRange("This sitting cuts nothing; plan it again.")
    maker = _Maker(sitting, from_roll, discard)
    return maker.procedure()


class _Maker:
    def __init__(self, sitting: Sitting, from_roll: bool, discard: float) -> None:
        self.sitting, self.from_roll, self.discard = sitting, from_roll, discard
        self.piles = tuple(
            Pile(number=i, section=section, planned=count) for i, (section, count) in enumerate(sitting.sections, 1)
        )
        self.boxes: list[Size] = []
        self.steps: list[Step] = []
        self.stop: float | None = None

    def procedure(self) -> Procedure:
        self._at_the_desk()
        self._confirm("take", ("take_roll" if self.from_roll else "take_pile",))
        if self.from_roll and self.discard > 0:
            self._confirm("square", ("square",))
        for setting in self.sitting.settings:
            if setting.way is Way.CROSS:
                self._across(setting)
        self._confirm("away", ("roll_away" if self.from_roll else "pile_away",))
        self._box_finished(None)
        for setting in self.sitting.settings:
            if setting.way is Way.EDGE:
                self._along(setting)
            elif setting.way is Way.SLIT:
                self._along(setting)
                self._box_finished(setting)
        if any(size[2] is Kind.STRIP for pile in self.piles for size in pile.section.pieces()):
            self._confirm("strips", ("strips_box",))
        for name in (
            ("confirm_roll", "confirm_boxes", "confirm_table")
            if self.from_roll
            else (
                "confirm_boxes",
                "confirm_table",
            )
        ):
            self._confirm(name, (name,))
        self._confirm("light", ("light",))
        self._confirm("labels", ("labels",), dark=False)
        return Procedure(
            source=self.sitting.source,
            lot=self.sitting.lot,
            from_roll=self.from_roll,
            discard=self.discard,
            piles=self.piles,
            boxes=tuple(self.boxes),
            steps=tuple(self.steps),
        )

    def _confirm(self, key: str, say: tuple[str, ...], *, dark: bool = True) -> None:
        self.steps.append(Step(key=key, say=say, dark=dark))

    def _at_the_desk(self) -> None:
        for name in ("care_light", "care_floor", "care_blade", "care_static", "warm", "boxes"):
            self._confirm(name, (name,), dark=False)
        if self.sitting.settings:
            first = self.sitting.settings[0]
            self.stop = first.distance
            self._confirm("first_stop", ("first_stop", *spoken(first.distance)), dark=False)
        self._confirm("dark", ("dark",), dark=False)

    def _set(self, setting: Setting) -> None:
        if self.stop != setting.distance:
            self.stop = setting.distance
            word = "edge_stop" if setting.way is Way.EDGE else "set_stop"
            self._confirm(f"stop {setting.way} {setting.distance:g}", (word, *spoken(setting.distance)))

    def _count(self, pile: Pile, setting: Setting, word: str) -> None:
        strokes = dict(pile.section.cuts)[setting]
        count = strokes * pile.planned
        say = (word, *(("once",) if count == 1 else (*spoken(count), "times")))
        self.steps.append(
            Step(
                key=f"cut {pile.number} {setting.way} {setting.distance:g}",
                say=say,
                dark=True,
                count=count,
                counted=True,
                pile=pile.number,
                per_unit=strokes,
                starts_pile=setting.way is Way.CROSS,
            )
        )

    def _across(self, setting: Setting) -> None:
        self._set(setting)
        for pile in self.piles:
            if setting in pile.section.settings:
                self._count(pile, setting, "across")
                self._confirm(f"box pile {pile.number}", ("sections_box",))

    def _along(self, setting: Setting) -> None:
        piles = [pile for pile in self.piles if setting in pile.section.settings]
        if piles:
            self._set(setting)
        for pile in piles:
            key = f"{pile.number} {setting.way} {setting.distance:g}"
            if len(self.piles) > 1:
                self._confirm(f"take {key}", ("take_sections", *spoken(pile.number), "pile_ready"))
            self._count(pile, setting, "edge_off" if setting.way is Way.EDGE else "slit")
            later = self.sitting.settings[self.sitting.settings.index(setting) + 1 :]
            if any(other in pile.section.settings for other in later):
                self._confirm(f"back {key}", ("sections_box",))

    def _box_finished(self, setting: Setting | None) -> None:
        """Mark and box the sheets that need no further cut after this setting (``None``: after all cross cuts)."""
        for pile in self.piles:
            slits = [s for s in pile.section.settings if s.way is not Way.CROSS]
            if (slits[-1] if slits else None) != setting:
                continue
            for size in pile.section.pieces():
                if size[2] is Kind.SHEET:
                    if size not in self.boxes:
                        self.boxes.append(size)
                    number = self.boxes.index(size) + 1
                    key = f"{pile.number} {size[0]:g} {size[1]:g}"
                    self._confirm(f"mark {key}", ("mark",))
                    self._confirm(f"box {key}", ("into_box", *spoken(number), "box_shut"))
