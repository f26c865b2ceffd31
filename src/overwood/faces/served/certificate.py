"""A certificate of the office's own: an authority made once, and a server certificate it signs, made again before it
ends."""

from __future__ import annotations

import datetime as dt
import ipaddress
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY = "authority.pem"
_AUTHORITY_DAYS, _SERVER_DAYS, _RENEWED_BEFORE_DAYS = 3_650, 365, 30


def own(folder: Path, hosts: Sequence[str], now: dt.datetime) -> tuple[Path, Path]:
    """Certificate and key of the server for these host names, signed by the authority in the folder.

    The authority is made once, so that who trusts it need not trust again; its key never leaves the folder.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    authority, authority_key = _authority(folder, now)
    certificate, key = folder / "server.pem", folder / "server.key"
    if certificate.exists() and key.exists():
        held = x509.load_pem_x509_certificate(certificate.read_bytes())
        names = held.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        if list(names) == _names(hosts) and held.not_valid_after_utc - now > dt.timedelta(days=_RENEWED_BEFORE_DAYS):
            return certificate, key
    _server(authority, authority_key, hosts, now, certificate, key)
    return certificate, key


def _named(name: str) -> Any:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _names(hosts: Sequence[str]) -> list[Any]:
    rows: list[Any] = []
    for host in hosts:
        try:
            rows.append(x509.IPAddress(ipaddress.ip_address(host)))
        except ValueError:
            rows.append(x509.DNSName(host))
    return rows


def _authority(folder: Path, now: dt.datetime) -> tuple[Any, Any]:
    certificate, key = folder / AUTHORITY, folder / "authority.key"
    if certificate.exists() and key.exists():
        return x509.load_pem_x509_certificate(certificate.read_bytes()), serialization.load_pem_private_key(
            key.read_bytes(), None
        )
    made = ec.generate_private_key(ec.SECP256R1())
    name = _named("Overwood, this office's own authority")
    signed = (
        _begun(name, name, made.public_key(), now, _AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(made.public_key()), critical=False)
        .sign(made, hashes.SHA256())
    )
    _write_key(key, made)
    certificate.write_bytes(signed.public_bytes(serialization.Encoding.PEM))
    return signed, made


def _begun(subject: Any, issuer: Any, public_key: Any, now: dt.datetime, days: int) -> Any:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public_key)
        .serial_number(x509.random_serial_number())
        # A clock that runs a little behind still takes it.
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=days))
    )


def _usage(*, signs: bool) -> Any:
    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _server(
    authority: Any, authority_key: Any, hosts: Sequence[str], now: dt.datetime, certificate: Path, key: Path
) -> None:
    made = ec.generate_private_key(ec.SECP256R1())
    signed = (
        _begun(_named(hosts[0]), authority.subject, made.public_key(), now, _SERVER_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(_names(hosts)), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(made.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )
    _write_key(key, made)
    certificate.write_bytes(signed.public_bytes(serialization.Encoding.PEM))


def _write_key(path: Path, key: Any) -> None:
    """A private key that only the user of this account reads."""
    plain = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as stream:
        stream.write(plain)
