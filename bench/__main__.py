"""Benchmarks: ``python -m bench`` runs all of them, ``python -m bench NAME ...`` one of them."""

import importlib
import sys

NAMES = ("scoreboard", "again", "later", "speed", "measuring", "baths", "cutting", "evening", "pages")


def main(arguments: list[str]) -> None:
    """Run one benchmark with its arguments, or all of them."""
    if arguments and arguments[0] not in NAMES:
        raise SystemExit(f'There is no benchmark "{arguments[0]}"; use one of: {", ".join(NAMES)}.')
    for name in arguments[:1] or NAMES:
        print(f"== {name}", flush=True)
        sys.argv = [f"python -m bench {name}", *arguments[1:]]
        importlib.import_module(f"bench.{name}").main()


if __name__ == "__main__":
    main(sys.argv[1:])
