"""Print codes, for the backs of prints: short, no two signs alike, and one of them checks the others."""

from collections.abc import Callable, Sequence

from printlore.errors import ValueOutOfRange

SIGNS = "34679ACEFHJKMNPRTWXY"
"""Signs of a print code; of those that are taken for one another (0ODQ 1IL 2Z 5S 8B 6G UV) at most one is here."""
LENGTH = 7
"""Signs of a code, the last of them its check character."""
_VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"


def check_character(text: str) -> str:
    """Check character of digits and capital letters by ISO/IEC 7064, MOD 37-2.

    Two strings that differ in one sign, or by two signs swapped (any two, in up to 36 signs), have different ones.

    Raises
    ------
    ValueOutOfRange
        If the text holds any other sign.

    References
    ----------
    iso7064
    """
    total = 0
    for sign in text:
        if sign not in _VALUES[:-1]:
            raise ValueOutOfRange(f'"{sign}" has no check character; use digits and capital letters.')
        total = (total + _VALUES.index(sign)) * 2 % 37
    return _VALUES[(38 - total) % 37]


def new_code(choose: Callable[[Sequence[str]], str]) -> str:
    """A print code, as "34AC-E9H".

    Parameters
    ----------
    choose : callable
        Takes one of several by chance; ``secrets.choice`` gives a code that nobody guesses.
    """
    while True:
        signs = "".join(choose(SIGNS) for _ in range(LENGTH - 1))
        check = check_character(signs)
        if check in SIGNS:  # a check character that looks like another sign would be misread itself
            return _written(signs + check)


def read_code(text: str) -> str:
    """A print code as read off a print: any case, with or without its dash.

    Raises
    ------
    ValueOutOfRange
        If it has too few or too many signs, one that codes do not have, or its check character does not fit.
    """
    signs = "".join(sign for sign in text.upper() if sign.isalnum())
    if len(signs) != LENGTH:
        raise ValueOutOfRange(
            f'The print code "{text.strip()[:40]}" has {len(signs)} signs; a code has {LENGTH}. Look at the back again.'
        )
    wrong = sorted({sign for sign in signs if sign not in SIGNS})
    if wrong:
        raise ValueOutOfRange(
            f'The print code "{text.strip()}" holds {", ".join(wrong)}, which no code has: it was misread. '
            f"Codes are written with {SIGNS} alone. Look at the back again."
        )
    if check_character(signs[:-1]) != signs[-1]:
        raise ValueOutOfRange(
            f'The print code "{text.strip()}" is none: its check character does not fit, so a sign was misread or two '
            "were swapped. Look at the back again."
        )
    return _written(signs)


def _written(signs: str) -> str:
    return f"{signs[:4]}-{signs[4:]}"
