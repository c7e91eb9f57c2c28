"""A local authority and its certificate: https in a workshop, for phones that install it once.

The authority may vouch for this computer's own names and private addresses alone (critical name
constraints), so that whoever stole its key could not pass for a bank with it.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from buildlog.desk.snapshot import state_files

DAYS_AUTHORITY, DAYS_LEAF, RENEW = 3650, 397, 30  # days; browsers refuse longer leaves
_PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8",
            "fc00::/7", "fe80::/10", "::1/128")  # fmt: skip


@dataclass(frozen=True)
class Certificate:
    """The files that a server needs, and the one that phones install."""

    chain: Path
    key: Path
    authority: Path


def certificate(folder: Path, names: Sequence[str]) -> Certificate:
    """The certificate for these names and addresses; made anew where another is asked for.

    The authority stays the same as long as it lies there: phones need it once.
    """
    found = Certificate(folder / "leaf.pem", folder / "leaf.key", folder / "authority.crt")
    authority, key = _authority(folder, names)
    if not _fits(found, names, authority):
        own = ec.generate_private_key(ec.SECP256R1())
        leaf = _leaf(own, authority, key, names)
        state_files.write(found.key, _pem(own))
        state_files.write(found.chain, b"".join(map(_text, (leaf, authority))))
    return found


def _authority(
    folder: Path, names: Sequence[str]
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    place, secret = folder / "authority.crt", folder / "authority.key"
    data, key_data = state_files.read(place), state_files.read(secret)
    if data and key_data:
        held = x509.load_pem_x509_certificate(data)
        key = serialization.load_pem_private_key(key_data, None)
        if isinstance(key, ec.EllipticCurvePrivateKey) and _covers(held, names):
            return held, key
    key = ec.generate_private_key(ec.SECP256R1())
    made = _made_authority(key, names)
    state_files.write(secret, _pem(key))
    state_files.write(place, _text(made))
    return made, key


def _made_authority(key: ec.EllipticCurvePrivateKey, names: Sequence[str]) -> x509.Certificate:
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=True, crl_sign=True,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
    own = [name for name in names if not _address(name)]
    allowed: list[x509.GeneralName] = [
        x509.DNSName(name) for name in dict.fromkeys([*own, "local", "localhost"])
    ]
    allowed += [x509.IPAddress(ipaddress.ip_network(net)) for net in _PRIVATE]
    allowed += [
        x509.IPAddress(ipaddress.ip_network(name)) for name in names if _address(name)
    ]  # fmt: skip
    named = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "buildlog workshop authority")])
    return (
        _begun(named, named, key.public_key(), DAYS_AUTHORITY)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.NameConstraints(allowed, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _leaf(
    own: ec.EllipticCurvePrivateKey, authority: x509.Certificate, key: ec.EllipticCurvePrivateKey,
    names: Sequence[str],
) -> x509.Certificate:  # fmt: skip
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=False, crl_sign=False,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
    empty = x509.Name([])  # every name stands in the critical list of names
    server = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key())
    return (
        _begun(empty, authority.subject, own.public_key(), DAYS_LEAF)
        .add_extension(x509.SubjectAlternativeName(_names(names)), critical=True)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(server, critical=False)
        .add_extension(issuer, critical=False)
        .sign(key, hashes.SHA256())
    )


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, days: int
) -> x509.CertificateBuilder:
    now = dt.datetime.now(dt.UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(hours=1))
        .not_valid_after(now + dt.timedelta(days=days) - dt.timedelta(hours=1))
    )


def _fits(found: Certificate, names: Sequence[str], authority: x509.Certificate) -> bool:
    data = state_files.read(found.chain)
    if not data or not found.key.exists():
        return False
    leaf = x509.load_pem_x509_certificate(data)
    said = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    soon = dt.datetime.now(dt.UTC) + dt.timedelta(days=RENEW)
    ours = leaf.issuer == authority.subject and data.endswith(_text(authority))
    return ours and leaf.not_valid_after_utc > soon and set(_names(names)) <= set(said)


def _covers(authority: x509.Certificate, names: Sequence[str]) -> bool:
    """Whether the authority may vouch for all these names."""
    held = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    allowed = held.permitted_subtrees or []
    words = [one.value for one in allowed if isinstance(one, x509.DNSName)]
    nets = [one.value for one in allowed if isinstance(one, x509.IPAddress)]
    for name in names:
        address = _address(name)
        if address and not any(address in net for net in nets):  # type: ignore[operator]
            return False
        if not address and not any(name == w or name.endswith(f".{w}") for w in words):
            return False
    return True


def _names(names: Sequence[str]) -> list[x509.GeneralName]:
    return [x509.IPAddress(found) if (found := _address(name)) else x509.DNSName(name)
            for name in names]  # fmt: skip


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _text(made: x509.Certificate) -> bytes:
    return made.public_bytes(serialization.Encoding.PEM)
