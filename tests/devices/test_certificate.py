"""An own certificate: what openssl makes is read back by the standard library's TLS."""

import shutil
import socket
import ssl
import stat
import threading

import pytest

from printlore.devices.certificate import certificate_in, make_certificate
from printlore.errors import Refused, UnreadableFile, ValueOutOfRange

needs_openssl = pytest.mark.skipif(shutil.which("openssl") is None, reason="needs the program openssl")


@needs_openssl
@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", "studio.local"])
def test_a_client_that_trusts_the_certificate_connects_under_each_name(tmp_path, name):
    made = make_certificate(tmp_path, ["studio.local"])
    assert stat.S_IMODE(made.key.stat().st_mode) == 0o600
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(made.certificate, made.key)
    client = ssl.create_default_context(cafile=str(made.certificate))
    ours, theirs = socket.socketpair()

    def serve():
        with server.wrap_socket(ours, server_side=True) as secure:
            secure.recv(1)

    thread = threading.Thread(target=serve)
    thread.start()
    with client.wrap_socket(theirs, server_hostname=name) as secure:
        assert secure.version() in ("TLSv1.2", "TLSv1.3")
        secure.send(b"x")
    thread.join(timeout=5)


@needs_openssl
def test_a_new_certificate_replaces_the_old(tmp_path):
    first = make_certificate(tmp_path, ["studio.local"]).certificate.read_bytes()
    assert make_certificate(tmp_path, ["studio.local"]).certificate.read_bytes() != first
    assert certificate_in(tmp_path).there


def test_what_cannot_be_says_what_to_write(tmp_path, monkeypatch):
    with pytest.raises(ValueOutOfRange, match="is no host name or address"):
        make_certificate(tmp_path, ["a,b"])
    with pytest.raises(ValueOutOfRange, match="browsers take 1 to 825"):
        make_certificate(tmp_path, ["studio.local"], days=5000)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(Refused, match="has no openssl"):
        make_certificate(tmp_path, ["studio.local"])


@needs_openssl
def test_the_old_certificate_stays_if_no_new_one_can_be_made(tmp_path):
    first = make_certificate(tmp_path, ["studio.local"])
    before = first.certificate.read_bytes(), first.key.read_bytes()
    with pytest.raises(ValueOutOfRange, match="is no host name or address"):
        make_certificate(tmp_path, ["a,b"])
    assert (first.certificate.read_bytes(), first.key.read_bytes()) == before
    assert sorted(path.name for path in first.key.parent.iterdir()) == ["certificate.pem", "key.pem"]
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(UnreadableFile, match="cannot be written"):
        make_certificate(tmp_path / "file", ["studio.local"])
