"""A certificate of the studio's own for HTTPS, made by the program openssl if the machine has it.

Browsers give a page the screen lock and other careful things only over HTTPS or on the machine itself.
"""

import ipaddress
import os
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from printlore.errors import Refused, ValueOutOfRange
from printlore.files import beside, make_folder

LONGEST_DAYS = 825
"""[d] Browsers trust no server certificate that lasts longer (common practice, from memory)."""

_NAME = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Files of a certificate and its key, both PEM."""

    certificate: Path
    key: Path

    @property
    def there(self) -> bool:
        return self.certificate.is_file() and self.key.is_file()


def certificate_in(folder: Path) -> Certificate:
    """Where a studio keeps its certificate, whether it is there or not."""
    return Certificate(certificate=folder / "https" / "certificate.pem", key=folder / "https" / "key.pem")


def make_certificate(folder: Path, names: Sequence[str], *, days: int = LONGEST_DAYS) -> Certificate:
    """Make a self-signed certificate for these names and addresses; one that is there is replaced.

    Raises
    ------
    UnreadableFile
        If the folder cannot be written.
    Refused
        If the machine has no openssl, or it fails.
    ValueOutOfRange
        If a name or the days cannot be.
    """
    if not 1 <= days <= LONGEST_DAYS:
        raise ValueOutOfRange(f"A certificate for {days} days cannot be; browsers take 1 to {LONGEST_DAYS}.")
    openssl = shutil.which("openssl")
    if openssl is None:
        raise Refused(
            "This machine has no openssl, which makes the certificate. Install it (Debian: apt-get install openssl), "
            "or put certificate.pem and key.pem from elsewhere into the studio's folder https."
        )
    made = certificate_in(folder)
    make_folder(made.key.parent)
    with beside(made.key) as key, beside(made.certificate) as certificate:
        os.close(os.open(key, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        _ask_openssl(openssl, names, days, Certificate(certificate=certificate, key=key))
    made.key.chmod(0o600)
    return made


def _ask_openssl(openssl: str, names: Sequence[str], days: int, made: Certificate) -> None:
    subject = f"/CN={names[0]}" if names else "/CN=localhost"
    command = [
        openssl,
        "req",
        "-x509",
        "-newkey",
        "ec",
        "-pkeyopt",
        "ec_paramgen_curve:prime256v1",
        "-nodes",
        "-sha256",
    ]
    command += ["-days", str(days), "-subj", subject, "-addext", f"subjectAltName={_alternatives(names)}"]
    command += ["-addext", "basicConstraints=critical,CA:TRUE,pathlen:0", "-addext", "extendedKeyUsage=serverAuth"]
    command += ["-keyout", str(made.key), "-out", str(made.certificate)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0 or not made.there:
        said = done.stderr.strip().splitlines()
        raise Refused(
            f"openssl made no certificate: {said[-1] if said else 'it gave no reason'}. Check its installation."
        )


def _alternatives(names: Sequence[str]) -> str:
    found = []
    for name in dict.fromkeys(("localhost", "127.0.0.1", *names)):
        try:
            found.append(f"IP:{ipaddress.ip_address(name)}")
        except ValueError:
            if not _NAME.fullmatch(name):
                raise ValueOutOfRange(
                    f'"{name}" is no host name or address; write for example studio.local or 192.168.1.20.'
                ) from None
            found.append(f"DNS:{name}")
    return ",".join(found)
