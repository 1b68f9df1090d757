"""Make a certificate of your own, so that other devices can use the page over HTTPS."""

import socket

import click

from printlore.devices.certificate import LONGEST_DAYS, make_certificate
from printlore.errors import StudioUnavailable
from printlore.faces.cli.desk import Desk, with_desk


@click.command()
@click.option("--name", "names", multiple=True, help="Another name or address of this machine.")
@click.option("--days", type=int, default=LONGEST_DAYS, show_default=True)
@with_desk
def command(desk: Desk, names: tuple[str, ...], days: int) -> None:
    """Make a self-signed certificate in the studio's folder; `printlore serve --https` uses it.

    Over plain HTTP a browser on another device cannot keep the screen on. Each device warns once about
    a certificate that nobody else has signed; compare its fingerprint, then accept it.
    """
    if not desk.folder.is_dir():
        raise StudioUnavailable(f"There is no studio in {desk.folder}. Check the folder, or make a studio there.")
    host = socket.gethostname()
    known = dict.fromkeys((host, f"{host}.local", *_addresses(host), *names))
    made = make_certificate(desk.folder, list(known), days=days)
    desk.say(
        {"certificate": str(made.certificate), "names": list(known)},
        f"The certificate is in {made.certificate}, for {', '.join(known)}.",
        "Serve with: printlore serve --https --host 0.0.0.0",
    )


def _addresses(host: str) -> list[str]:
    try:
        return sorted({str(found[4][0]) for found in socket.getaddrinfo(host, None, family=socket.AF_INET)})
    except OSError:
        return []
