"""An evening at the bench from Python, with the words of ``printlore evening``."""

import difflib
import secrets
import time
from collections.abc import Callable
from typing import Any

from printlore.core.evening.cues import Cue
from printlore.core.evening.events import KINDS, Undone, What
from printlore.core.evening.pour import PourCheck
from printlore.core.evening.process import Sequence
from printlore.core.evening.state import Evening as State
from printlore.core.plain import from_plain
from printlore.errors import Refused, ValueOutOfRange
from printlore.faces.evening_typed import AUDIO
from printlore.faces.studio_calls import HasRecord, Room, checked, through
from printlore.records.evening import EveningRecord, SequenceRecord
from printlore.services import evening, evening_plan, run_card
from printlore.services.evening import Written
from printlore.services.evening_plan import PieceOrder

DEVICE = "Python"


class Evening(Room):
    """One evening: its frames, loads and drums. The page and these calls write the same record.

    Parameters
    ----------
    clock : callable
        Seconds since 1970-01-01 UTC.
    """

    list = through(evening.evenings)
    sequences = through(evening_plan.sequences)
    sequence = through(evening_plan.find_sequence)

    def __init__(self, studio: HasRecord, clock: Callable[[], float] = time.time) -> None:
        super().__init__(studio)
        self._clock = clock

    @checked
    def open(self, name: str = "") -> EveningRecord:
        """Begin an evening; it is called by its date unless a name is given."""
        return evening.open_evening(self.database, now=self._clock(), name=name)

    @checked
    def show(self, name: str | None = None) -> State:
        """Where everything is."""
        now = self._clock()
        return evening.evening_now(self.database, evening.find_evening(self.database, name, now=now), now=now)

    @checked
    def plan(
        self,
        pieces: tuple[PieceOrder, ...],
        *,
        drum: int,
        sequence: str | None = None,
        bath: str | None = None,
        head: str | None = None,
        name: str = "",
        seen: int | None = None,
        key: str | None = None,
    ) -> Written:
        """Plan a load; parameters as in ``services.evening_plan.plan_load``. A key given again writes nothing twice."""
        return evening_plan.plan_load(
            self.database,
            self._this(),
            pieces,
            drum=drum,
            sequence=sequence,
            bath=bath,
            head=head,
            name=name,
            seen=seen,
            key=_key(key),
            device=DEVICE,
            now=self._clock(),
        )

    @checked
    def tell(self, what: str, *, key: str | None = None, **parts: Any) -> Written:
        """Say what happened: "held", "resumed", "moved", "poured" ..., with its parts as in ``core.evening.events``.

        Parameters
        ----------
        key : str, optional
            Of the caller's choosing: given again, nothing is written twice.
        """
        if what not in KINDS:
            near = difflib.get_close_matches(what, KINDS, n=1)
            hint = f'Near it: "{near[0]}".' if near else f"Use one of {', '.join(KINDS)}."
            raise ValueOutOfRange(f'"{what}" is nothing that happens in an evening. {hint}')
        kind: type[What] = KINDS[what]
        return self._write(from_plain(kind, parts, where=what), key)

    @checked
    def begin(self, load: str, *, wait: float | None = None, key: str | None = None) -> Written:
        """Lid on: begin the sequence of a load, so many seconds from now, or when hands are free."""
        now = self._clock()
        begin = None if wait is None else now + wait
        return evening.begin_run(self.database, self._this(), load, key=_key(key), device=DEVICE, now=now, begin=begin)

    @checked
    def next_start(self, load: str) -> float:
        """In how many seconds a load could be poured without two pours at once."""
        state = self.show()
        return evening.best_start(state, load) - state.now

    @checked
    def compare_pour(self, load: str, step: int, temperature: float) -> PourCheck:
        """Whether a temperature [degrees C] is unlike your usual one in a step (from 0); writes nothing."""
        return evening.compare_pour(self.database, self._this(), load, step, temperature, now=self._clock())

    @checked
    def undo(self, key: str | None = None) -> Written:
        """Take back the last step, or the one with this key."""
        last = self.show().last
        if key is None and last is None:
            raise Refused("There is nothing to take back.")
        return self._write(Undone(key=key or (last.key if last else "")), None)

    @checked
    def card_pdf(self) -> bytes:
        """The run card."""
        return run_card.run_card(self.database, self._this(), now=self._clock())

    @checked
    def cues(self, load: str, piece: int | None = None) -> tuple[Cue, ...]:
        """The cues of a load's sequence, or of one piece of paper (from 0)."""
        found, _ = run_card.cue_sheet_cues(self.show().load(load).load, piece)
        return found

    @checked
    def cues_wav(self, load: str, piece: int | None = None) -> bytes:
        """The same as a sound file for any player."""
        return run_card.cue_sheet(self.database, self._this(), load, piece, audio=AUDIO, now=self._clock())

    @checked
    def keep_sequence(self, sequence: Sequence, *, changes: str | None = None, version: int = 0) -> SequenceRecord:
        """Keep a sequence of your own, or a change of the one that is named."""
        number = evening_plan.find_sequence(self.database, changes).id if changes else 0
        return evening_plan.save_sequence(self.database, sequence, number=number, version=version)

    def _this(self) -> EveningRecord:
        return evening.find_evening(self.database, None, now=self._clock())

    def _write(self, what: What, key: str | None) -> Written:
        return evening.write(self.database, self._this(), what, key=_key(key), device=DEVICE, now=self._clock())


def _key(key: str | None) -> str:
    return key or secrets.token_hex(8)
