"""A local authority and its certificate, against the rules that browsers hold them to.

RFC 5280, 4.2.1.6, 4.2.1.9 and 4.2.1.10: names in a subject alternative name that is critical where
the subject is empty, path length, name constraints critical. At most 398 days for a leaf: from
memory, the rule of the browsers' forum since 2020.
"""

from __future__ import annotations

import datetime as dt
import http.client
import shutil
import ssl
import subprocess
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID

from buildlog.page.server import own_certificate
from buildlog.page.server.own_certificate import certificate
from buildlog.page.server.serving import ServeSaid
from tests.page.served import served

NAMES = ["bl-car.localhost", "localhost", "127.0.0.1", "::1", "192.168.1.20", "shop.local"]


def test_the_leaf_and_its_authority_are_what_browsers_ask_for(tmp_path: Path) -> None:
    made = certificate(tmp_path, NAMES)
    leaf, authority = x509.load_pem_x509_certificates(made.chain.read_bytes())
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName)
    assert names.critical
    assert len(list(names.value)) == len(NAMES)
    assert {str(one) for one in names.value.get_values_for_type(x509.IPAddress)} == {
        "127.0.0.1", "::1", "192.168.1.20"}  # fmt: skip
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= dt.timedelta(days=398)
    uses = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(uses) == [ExtendedKeyUsageOID.SERVER_AUTH]
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert (basic.critical, basic.value.ca, basic.value.path_length) == (True, True, 0)
    assert authority.extensions.get_extension_for_class(x509.NameConstraints).critical
    leaf.verify_directly_issued_by(authority)
    for secret in (made.key, tmp_path / "authority.key"):
        assert secret.stat().st_mode & 0o077 == 0


def test_the_authority_stays_while_it_may_vouch_for_the_names(tmp_path: Path) -> None:
    first = certificate(tmp_path, NAMES).authority.read_bytes()
    leaf = (tmp_path / "leaf.pem").read_bytes()
    assert certificate(tmp_path, NAMES).chain.read_bytes() == leaf
    other = certificate(tmp_path, [*NAMES, "10.0.0.7"])
    assert other.authority.read_bytes() == first, "a private address needs no new one"
    assert other.chain.read_bytes() != leaf
    assert certificate(tmp_path, ["bl-other.localhost"]).authority.read_bytes() == first
    assert certificate(tmp_path, ["shop.invalid"]).authority.read_bytes() != first


def test_it_cannot_vouch_for_a_name_of_the_world(tmp_path: Path) -> None:
    program = shutil.which("openssl")
    if program is None:
        pytest.skip("no openssl is on this computer")
    made = certificate(tmp_path, NAMES)
    authority = x509.load_pem_x509_certificate(made.authority.read_bytes())
    key = serialization.load_pem_private_key((tmp_path / "authority.key").read_bytes(), None)
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    own = ec.generate_private_key(ec.SECP256R1())
    verdicts = []
    for name in ("bl-car.localhost", "bank.example"):
        forged = own_certificate._leaf(own, authority, key, [name])
        (tmp_path / "forged.pem").write_bytes(own_certificate._text(forged))
        call = [program, "verify", "-CAfile", str(made.authority), str(tmp_path / "forged.pem")]
        verdicts.append(subprocess.run(call, capture_output=True, check=False).returncode)
    assert verdicts[0] == 0
    assert verdicts[1] != 0


def test_the_page_is_served_over_https_to_who_trusts_it(demo: Path) -> None:
    with served(demo, ServeSaid(port=0, https=True)) as found:
        serving = found.serving
        trusting = ssl.create_default_context(cafile=str(serving.authority))
        host = f"127.0.0.1:{serving.port}"
        for context, met in ((trusting, True), (ssl.create_default_context(), False)):
            one = http.client.HTTPSConnection("127.0.0.1", serving.port, context=context)
            if not met:
                with pytest.raises(ssl.SSLCertVerificationError):
                    one.request("GET", "/pair", headers={"Host": host})
                continue
            key = serving.devices.start_key()
            sent = {"Host": host, "Origin": f"https://{host}",
                    "Content-Type": "application/x-www-form-urlencoded"}  # fmt: skip
            one.request("POST", "/enter", f"key={key}", sent)
            answer = one.getresponse()
            answer.read()
            cookie = answer.headers["set-cookie"]
            assert answer.status == 303
            assert cookie.startswith("__Host-buildlog=")
            assert "; Secure" in cookie
            sent["Origin"] = f"http://{host}"
            one.request("POST", "/enter", "key=x", sent)
            assert one.getresponse().status == 403, "another scheme is another origin"
            one.close()
