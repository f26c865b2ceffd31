"""A device that holds passkeys, in software: what a telephone answers to the open standard (Web Authentication, W3C, level 2, 2021)."""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
import struct

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from fido2 import cbor
from fido2.cose import ES256

# Section 6.1: user present, user verified, credential data included.
PRESENT, VERIFIED, WITH_DATA = 0x01, 0x04, 0x40


def text(content):
    return base64.urlsafe_b64encode(content).decode().rstrip("=")


class Device:
    """One passkey."""

    def __init__(self, origin, *, counts=True, verifies=True):
        self.origin, self.counts, self.flags = origin, counts, PRESENT | (VERIFIED if verifies else 0)
        self.key, self.name, self.count = ec.generate_private_key(ec.SECP256R1()), secrets.token_bytes(32), 0

    def _client(self, kind, options):
        return json.dumps({"type": kind, "challenge": options["challenge"], "origin": self.origin, "crossOrigin": False}).encode()

    def _about(self, rp, more=b"", flags=0):
        self.count += self.counts
        return hashlib.sha256(rp.encode()).digest() + bytes([self.flags | flags]) + struct.pack(">I", self.count) + more

    def _answer(self, **response):
        plain = {name: text(content) for name, content in response.items()}
        return {"id": text(self.name), "rawId": text(self.name), "type": "public-key", "response": plain, "clientExtensionResults": {}}

    def make(self, options):
        """The answer to a request for a new passkey."""
        public = cbor.encode(dict(ES256.from_cryptography_key(self.key.public_key())))
        data = bytes(16) + struct.pack(">H", len(self.name)) + self.name + public
        about = self._about(options["rp"]["id"], data, WITH_DATA)
        attested = cbor.encode({"fmt": "none", "attStmt": {}, "authData": about})
        return self._answer(clientDataJSON=self._client("webauthn.create", options), attestationObject=attested)

    def open(self, options):
        """The answer to a request to log in."""
        about, client = self._about(options["rpId"]), self._client("webauthn.get", options)
        signature = self.key.sign(about + hashlib.sha256(client).digest(), ec.ECDSA(SHA256()))
        return self._answer(clientDataJSON=client, authenticatorData=about, signature=signature)
