"""The dark rehearsal: ten minutes in the dark without paper, to find every light this machine can make."""

from dataclasses import dataclass

from printlore.core.figure import Figure
from printlore.errors import Refused, ValueOutOfRange

SHORTEST_WAIT = 600.0
"""[s] Displays, screens savers and sleeping loudspeakers wake within ten minutes (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing to look for or set up; the answer must be yes."""

    name: str
    ask: str


QUESTIONS: tuple[Question, ...] = (
    Question(name="display", ask="Is the display off at its own switch, or covered with something opaque?"),
    Question(name="sleep", ask="Is system sleep off, so that neither sound nor keys stop?"),
    Question(name="switch", ask="Did the switch or key answer with a sound and no light?"),
    Question(name="event", ask="Was the pushed event heard, and did nothing light up?"),
    Question(name="lamps", ask="Are status lamps, lit keys, chargers, clocks and luminous tape dark or taped over?"),
    Question(name="devices", ask="Are telephones, watches and every other screen out of the room?"),
    Question(name="looked", ask="After ten minutes with open eyes, was there no light anywhere?"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """What the printer found on one machine.

    Attributes
    ----------
    device : str
        Which machine.
    seconds : float
        How long the printer sat in the dark [s].
    confirmed : frozenset of str
        Names of the questions answered with yes.
    light_seen : str
        Any light that was seen, in the printer's words; empty: none.
    """

    device: str
    seconds: float
    confirmed: frozenset[str]
    light_seen: str = ""

    def __post_init__(self) -> None:
        if not self.device:
            raise ValueOutOfRange("A dark rehearsal has no device; say which machine it was made on.")
        if not 0 <= self.seconds < 86_400:
            raise ValueOutOfRange(f"A dark rehearsal of {Figure(self.seconds):g} s cannot be; give the seconds waited.")
        known = {question.name for question in QUESTIONS}
        strange = sorted(self.confirmed - known)
        if strange:
            raise ValueOutOfRange(
                f'The rehearsal asks nothing called "{strange[0]}"; it asks: {", ".join(sorted(known))}.'
            )


def check_rehearsal(rehearsal: Rehearsal | None, device: str) -> None:
    """Refuse to take paper out on a machine that has not sat dark.

    Raises
    ------
    Refused
        If there was no rehearsal on this machine, it was too short, a light was seen, or a question is open.
    """
    if rehearsal is None or rehearsal.device != device:
        raise Refused(
            "This machine has not been rehearsed in the dark tonight. Do the dark rehearsal first, without paper."
        )
    if rehearsal.light_seen:
        raise Refused(f"The rehearsal found a light: {rehearsal.light_seen}. Cover it and rehearse again.")
    if rehearsal.seconds < SHORTEST_WAIT:
        raise Refused(
            f"The rehearsal lasted {rehearsal.seconds:.0f} s; some lights wake only after minutes. "
            f"Sit in the dark for {SHORTEST_WAIT:.0f} s."
        )
    still_open = [question.ask for question in QUESTIONS if question.name not in rehearsal.confirmed]
    if still_open:
        raise Refused("The rehearsal is not finished: " + " ".join(still_open))
