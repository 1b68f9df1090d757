"""How a studio says of itself that nothing in it is real."""

from pathlib import Path

from printlore.files import write_file

MARK = "INVENTED.txt"
"""A file of this name in the studio's folder."""

INVENTED_WORDS = (
    "Everything in this studio is invented for the demo and computed: no such negatives, papers or people exist."
)


def mark_as_demo(folder: Path) -> None:
    """Say in a studio's folder that it is invented."""
    write_file(folder / MARK, f"{INVENTED_WORDS}\n".encode())


def is_demo(folder: Path | None) -> bool:
    """Whether a studio says so."""
    return folder is not None and (folder / MARK).exists()
