"""Serve the studio's page on this machine."""

import gc
import ipaddress
import socket

import click
import uvicorn

from printlore.devices.certificate import certificate_in
from printlore.errors import Refused
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.web.app import create_app


@click.command()
@click.option("--port", type=click.IntRange(0, 65535), default=8321, show_default=True, help="0 takes any free one.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--name", "names", multiple=True, help="Another host name to answer to.")
@click.option("--https", is_flag=True, help="With the certificate that `printlore certificate` made.")
@with_desk
def command(desk: Desk, port: int, host: str, names: tuple[str, ...], https: bool) -> None:
    """Serve the studio's page and HTTP interface.

    Only this machine can reach it unless --host says otherwise; there is no password, so whoever can
    reach it can read and write the studio.
    """
    serve(desk, port=port, host=host, names=names, https=https)


def serve(desk: Desk, *, port: int, host: str, names: tuple[str, ...] = (), https: bool = False) -> None:
    """Listen until stopped; prints the address first."""
    own = certificate_in(desk.folder)
    if https and not own.there:
        raise Refused(f"There is no certificate in {own.certificate.parent}. Make one with: printlore certificate.")
    gc.disable()
    app = create_app(desk.db, names=(*names, socket.gethostname(), f"{socket.gethostname()}.local"))
    gc.freeze()
    gc.enable()
    listening = listen(host, port)
    port = listening.getsockname()[1]
    shown = f"[{host}]" if ":" in host else host
    url = f"{'https' if https else 'http'}://{shown}:{port}/"
    desk.say({"url": url}, f"The studio is at {url}  (stop with Ctrl-C)")
    if not _loopback(host):
        click.echo("Anyone who can reach this address can read and write the studio.", err=True)
    # Pages keep a stream open, so a stop must not wait for them.
    config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=1)
    if https:
        config.ssl_certfile, config.ssl_keyfile = str(own.certificate), str(own.key)
    server = uvicorn.Server(config)
    server.run(sockets=[listening])


def listen(host: str, port: int) -> socket.socket:
    """A socket bound to an address, or a usage error that says why not."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OSError as error:
        listening.close()
        raise click.UsageError(
            f"Nothing can listen on {host} port {port}: {error.strerror}. "
            "Choose another with --port (0 takes any free one)."
        ) from error
    return listening


def _loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
