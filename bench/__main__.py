"""Benchmarks: ``python -m bench`` runs all that are there, ``python -m bench NAME ...`` one of them."""

import importlib
import importlib.util
import sys

NAMES = ("scoreboard", "speed", "measuring", "baths", "cutting", "evening", "pages")


def main(arguments: list[str]) -> None:
    """Run one benchmark with its arguments, or every one that exists."""
    if arguments and arguments[0] not in NAMES:
        raise SystemExit(f'There is no benchmark "{arguments[0]}"; use one of: {", ".join(NAMES)}.')
    for name in arguments[:1] or NAMES:
        if importlib.util.find_spec(f"bench.{name}") is None:
            continue
        run = getattr(importlib.import_module(f"bench.{name}"), "main", None)
        if run is None:
            continue
        print(f"== {name}", flush=True)
        sys.argv = [f"python -m bench {name}", *arguments[1:]]
        run()


if __name__ == "__main__":
    main(sys.argv[1:])
