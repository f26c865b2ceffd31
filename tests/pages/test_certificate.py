"""The office's own certificate against Python's own TLS and the rules of RFC 5280: who signed, for which names, how long, and when it is made again."""

from __future__ import annotations

import datetime as dt
import socket
import ssl
import threading

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID

from overwood.faces.served import certificate

HOSTS = ("desk.example", "localhost", "127.0.0.1")
NOW = dt.datetime.now(dt.UTC)


def _read(path):
    return x509.load_pem_x509_certificate(path.read_bytes())


def _shake_hands(folder, name):
    """A TLS handshake over a socket pair; the name the client asked for must be one of the certificate's."""
    here, there = socket.socketpair()
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(folder / "server.pem", folder / "server.key")

    def answer():
        try:
            server.wrap_socket(there, server_side=True).close()
        except (ssl.SSLError, OSError):
            there.close()

    thread = threading.Thread(target=answer)
    thread.start()
    client = ssl.create_default_context(cafile=str(folder / certificate.AUTHORITY))
    try:
        client.wrap_socket(here, server_hostname=name).close()
    finally:
        here.close()
        thread.join(10)


@pytest.mark.parametrize("name", HOSTS)
def test_a_client_that_trusts_the_authority_takes_it_for_its_names(tmp_path, name):
    certificate.own(tmp_path / "office", HOSTS, NOW)
    _shake_hands(tmp_path / "office", name)


def test_another_name_is_not_taken(tmp_path):
    certificate.own(tmp_path, HOSTS, NOW)
    with pytest.raises(ssl.SSLCertVerificationError, match="Hostname mismatch"):
        _shake_hands(tmp_path, "other.example")


def test_it_is_signed_by_the_authority_and_signs_nothing_itself(tmp_path):
    made, key = certificate.own(tmp_path, HOSTS, NOW)
    authority, server = _read(tmp_path / certificate.AUTHORITY), _read(made)
    server.verify_directly_issued_by(authority)
    assert authority.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert not server.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    usage = server.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert key.stat().st_mode & 0o077 == 0
    assert (tmp_path / "authority.key").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(("hosts", "later_days", "renewed"), [(HOSTS, 100, False), (HOSTS, 340, True), (("new.example",), 0, True)])
def test_it_is_made_again_when_names_change_or_it_nearly_ends(tmp_path, hosts, later_days, renewed):
    made, _ = certificate.own(tmp_path, HOSTS, NOW)
    before, authority = made.read_bytes(), (tmp_path / certificate.AUTHORITY).read_bytes()
    certificate.own(tmp_path, hosts, NOW + dt.timedelta(days=later_days))
    assert (made.read_bytes() != before) == renewed
    assert (tmp_path / certificate.AUTHORITY).read_bytes() == authority
