"""Which page speaks: one at a time, by a lease that is renewed.

An automatic hand-over happens only when nothing is under way and the holder has not been heard for the
term; while paper is out or a drum is in its sequence, a voice that fell silent is replaced only when a
person asks for it, because the silent page may merely be cut off and still be speaking.
"""

from dataclasses import dataclass, replace

from printlore.errors import Refused

TERM = 15.0
"""[s] Renewals come every few seconds; longer silence means closed, asleep or cut off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """Who speaks.

    Attributes
    ----------
    page : str or None
        The page that holds the voice; ``None``: nobody.
    renewed : float
        When it was last heard of [s].
    turn : int
        Counts the changes of holder.
    """

    page: str | None = None
    renewed: float = 0.0
    turn: int = 0


def claim(voice: Voice, page: str, now: float, *, under_way: bool, asked: bool, dark: bool = False) -> Voice:
    """Take or renew the voice.

    Parameters
    ----------
    voice : Voice
        As it is.
    page : str
        Who wants to speak.
    now : float
        [s]
    under_way : bool
        Whether paper is out or a drum is in its sequence.
    asked : bool
        Whether a person pressed "speak here" on that page.
    dark : bool
        Whether paper is out: the page in the dark then keeps the voice while it is heard of.

    Raises
    ------
    Refused
        If another page speaks; says for how long it has not been heard.
    """
    if voice.page == page:
        return replace(voice, renewed=now)
    silent = now - voice.renewed
    if voice.page is not None and dark and silent <= TERM:
        raise Refused("Paper is out, and the page in the dark has the voice. It keeps it until there is light.")
    if voice.page is None or asked or (silent > TERM and not under_way):
        return Voice(page=page, renewed=now, turn=voice.turn + 1)
    if silent > TERM:
        raise Refused(
            f"Another page has the voice but has not been heard for {silent:.0f} s. "
            'If it is silent, press "speak here"; if it still speaks, leave it.'
        )
    raise Refused('Another page speaks. Press "speak here" to move the voice to this one.')


def release(voice: Voice, page: str, now: float) -> Voice:
    """Give the voice up; nothing happens if the page does not hold it."""
    if voice.page != page:
        return voice
    return Voice(page=None, renewed=now, turn=voice.turn + 1)
