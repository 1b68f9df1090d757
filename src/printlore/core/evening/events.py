"""What can happen in an evening. An evening is its events in order, and nothing else.

Times are seconds since 1970-01-01 UTC on the server's clock.
"""

import math
from dataclasses import dataclass

from printlore.core.evening.light import Light
from printlore.core.evening.load import Load
from printlore.core.evening.process import StepKind
from printlore.core.evening.rehearsal import Rehearsal
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class CareConfirmed:
    """Cautions the printer has seen to, by name."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """A dark rehearsal on one machine."""

    rehearsal: Rehearsal


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """From one kind of light to another.

    Attributes
    ----------
    to : Light
        The new one.
    confirmed : tuple of str
        What the printer said yes to (see ``state.ENTER_DARK`` and ``state.LEAVE_DARK``).
    load : str or None
        Which load is exposed, when paper comes out.
    """

    to: Light
    confirmed: tuple[str, ...] = ()
    load: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameListed:
    """A frame is on tonight's list."""

    frame: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameDropped:
    """A frame is off tonight's list."""

    frame: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlanned:
    """A load was prepared, or prepared anew under the same name."""

    load: Load


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatDone:
    """The script of a load has passed so many beats."""

    load: str
    beat: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RunBegun:
    """Lid on: the sequence of a load begins. ``begin`` is its first pour [s]; soon, or now."""

    load: str
    begin: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.begin):
            raise ValueOutOfRange(f'The run of load "{self.load}" begins at {self.begin}; give a finite time.')


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The drum stays in its step until further notice; the bath goes on working."""

    load: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed:
    """The held step goes on where it was held."""

    load: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedOn:
    """The step under way ended now; the next was poured."""

    load: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Poured:
    """What was poured in a step: number from 0, temperature [degrees C], volume [mL]; ``None``: not said.

    ``kind`` is the kind of step, so that pours of other evenings can be compared.
    """

    load: str
    step: int
    kind: StepKind | None = None
    temperature: float | None = None
    volume: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WentWrong:
    """A note that something did not go as planned."""

    note: str
    load: str | None = None

    def __post_init__(self) -> None:
        if len(self.note) > 2000:
            raise ValueOutOfRange(f"The note has {len(self.note)} letters; at most 2000. Shorten it.")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWritten:
    """The run of a load is in the bath ledger, under this name."""

    load: str
    ledger: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldApart:
    """After the wash: a piece, by its number in the load, was found by its corners."""

    load: str
    piece: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrumDried:
    """Drum, lid and hands were rinsed and dried."""

    drum: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """An earlier event, named by its key, is taken back."""

    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """The evening is over."""


What = (
    CareConfirmed
    | Rehearsed
    | Moved
    | FrameListed
    | FrameDropped
    | LoadPlanned
    | BeatDone
    | RunBegun
    | Held
    | Resumed
    | MovedOn
    | Poured
    | WentWrong
    | RunWritten
    | ToldApart
    | DrumDried
    | Undone
    | Closed
)

KINDS: dict[str, type[What]] = {
    "care_confirmed": CareConfirmed,
    "rehearsed": Rehearsed,
    "moved": Moved,
    "frame_listed": FrameListed,
    "frame_dropped": FrameDropped,
    "load_planned": LoadPlanned,
    "beat_done": BeatDone,
    "run_begun": RunBegun,
    "held": Held,
    "resumed": Resumed,
    "moved_on": MovedOn,
    "poured": Poured,
    "went_wrong": WentWrong,
    "run_written": RunWritten,
    "told_apart": ToldApart,
    "drum_dried": DrumDried,
    "undone": Undone,
    "closed": Closed,
}
"""Each event by its name in files."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened.

    Attributes
    ----------
    number : int
        In the order of writing, from 1.
    key : str
        Chosen by whoever sent it; the same key twice is the same event.
    at : float
        When [s since 1970-01-01 UTC].
    device : str
        Which page or program sent it.
    what : What
        Its kind and particulars.
    """

    number: int
    key: str
    at: float
    device: str
    what: What

    def __post_init__(self) -> None:
        if not self.key or len(self.key) > 100:
            raise ValueOutOfRange(f'An event has the key "{self.key[:20]}"; give 1 to 100 letters.')
        if not math.isfinite(self.at):
            raise ValueOutOfRange(f'Event "{self.key}" is at {self.at}; give a finite time.')
