"""Make the virtual environment; on Debian, add the missing venv package first if we may."""

import os
import shutil
import subprocess
import sys


def main() -> int:
    folder = sys.argv[1]
    if sys.version_info < (3, 11):  # noqa: UP036 - this file is what older Pythons meet first
        sys.exit(f"Printlore needs Python 3.11 or newer; this is {sys.version.split()[0]}. Try: make PYTHON=python3.12")
    if subprocess.call([sys.executable, "-m", "venv", folder]) == 0:
        return 0
    shutil.rmtree(folder, ignore_errors=True)
    if os.geteuid() == 0 and shutil.which("apt-get"):
        package = f"python3.{sys.version_info.minor}-venv"
        subprocess.call(["apt-get", "update", "-qq"])
        if subprocess.call(["apt-get", "install", "-y", "-qq", package]) == 0:
            return subprocess.call([sys.executable, "-m", "venv", folder])
    sys.exit("Python's venv module is missing. On Debian: apt-get install python3-venv, then run make again.")


if __name__ == "__main__":
    sys.exit(main())
