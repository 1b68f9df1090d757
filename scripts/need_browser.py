"""See that there is a Chromium for the browser tests; on Debian, install it if we may."""

import os
import shutil
import subprocess
import sys


def main() -> int:
    if shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome"):
        return 0
    if os.geteuid() == 0 and shutil.which("apt-get"):
        environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
        subprocess.call(["apt-get", "update", "-qq"], env=environment)
        if subprocess.call(["apt-get", "install", "-y", "-qq", "chromium"], env=environment) == 0:
            return 0
    sys.exit("The browser tests need Chromium. On Debian: apt-get install chromium, then run make test again.")


if __name__ == "__main__":
    sys.exit(main())
