"""See that the outside programs of the tests are there; on Debian, install what is missing if we may."""

import os
import shutil
import subprocess
import sys

NEEDED = {
    "chromium": ("chromium", "chromium-browser", "google-chrome"),
    "poppler-utils": ("pdftotext",),
}
"""By Debian package: programs of which one is enough. Poppler reads our labels and cards back."""


def missing() -> list[str]:
    return [package for package, programs in NEEDED.items() if not any(map(shutil.which, programs))]


def main() -> int:
    if missing() and os.geteuid() == 0 and shutil.which("apt-get"):
        environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
        subprocess.call(["apt-get", "update", "-qq"], env=environment)
        subprocess.call(["apt-get", "install", "-y", "-qq", *missing()], env=environment)
    if missing():
        packages = " ".join(missing())
        sys.exit(f"The tests need programs that are not here. On Debian: apt-get install {packages}, then again.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
