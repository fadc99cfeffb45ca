"""Signatures, checked also by OpenSSL: a program that knows nothing of this one."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_public_key,
)

from wearcast.errors import WrongUse
from wearcast.evidence.bag import SIGNATURE, SIGNER, TAG_MANIFEST
from wearcast.evidence.signing import (
    PassphraseNeeded,
    fingerprint,
    private_key,
    public_key,
    sign,
    signature_said,
)

# RFC 8032, section 7.1, TEST 1: secret key, public key and signature of the empty message.
RFC_SECRET = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
RFC_PUBLIC = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
RFC_SIGNATURE = (
    "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
    "d25bf5f0595bbe24655141438e7a100b"
)


def pem_of(key, encryption=None):
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, encryption or NoEncryption())


def public_pem_of(key):
    return key.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


@pytest.fixture
def key():
    return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(RFC_SECRET))


@pytest.fixture
def bag(tmp_path):
    (tmp_path / TAG_MANIFEST).write_bytes(b"")
    return tmp_path


def test_the_signature_is_that_of_the_standard(bag, key):
    """RFC 8032, 7.1, TEST 1."""
    sign(bag, key)
    assert (bag / SIGNATURE).read_bytes().hex() == RFC_SIGNATURE
    raw = load_pem_public_key((bag / SIGNER).read_bytes()).public_bytes(Encoding.Raw, PublicFormat.Raw)
    assert raw.hex() == RFC_PUBLIC


@pytest.mark.skipif(shutil.which("openssl") is None, reason="needs OpenSSL")
def test_openssl_takes_our_signature_and_we_take_its_keys(tmp_path, bag):
    (bag / TAG_MANIFEST).write_bytes(b"checksum  file\n")
    made = tmp_path / "key.pem"
    subprocess.run(
        ["openssl", "genpkey", "-algorithm", "ed25519", "-out", made], check=True, capture_output=True
    )
    key = private_key(made.read_bytes(), "key.pem")
    said = sign(bag, key)
    command = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", SIGNER, "-rawin", "-in", TAG_MANIFEST]
    done = subprocess.run(
        [*command, "-sigfile", SIGNATURE], cwd=bag, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    der = subprocess.run(
        ["openssl", "pkey", "-pubin", "-in", SIGNER, "-outform", "DER"],
        cwd=bag,
        capture_output=True,
        check=True,
    )
    digest = subprocess.run(["openssl", "dgst", "-sha256"], input=der.stdout, capture_output=True, check=True)
    assert digest.stdout.decode().split()[-1] == said


def test_a_good_signature_is_said_with_whose_it_is(bag, key):
    said = sign(bag, key)
    holds, faults = signature_said(bag, None)
    assert faults == []
    assert said in holds[0]
    assert "whose it is, the pack cannot say" in holds[0]
    holds, faults = signature_said(bag, key.public_key())
    assert (holds, faults) == ([f"Signed by the key asked for, fingerprint {said}."], [])
    (bag / SIGNER).unlink()
    assert signature_said(bag, key.public_key())[1] == []


def test_what_is_not_signed_by_whom_it_should_be_is_a_fault(bag, key):
    assert signature_said(bag, None) == (["It is not signed."], [])
    assert signature_said(bag, key.public_key())[1] == ["It is not signed, and was asked to be."]
    sign(bag, Ed25519PrivateKey.generate())
    assert signature_said(bag, None)[1] == []
    assert "not of the key asked for" in signature_said(bag, key.public_key())[1][0]


@pytest.mark.parametrize("trusted", [False, True])
def test_a_change_after_signing_is_a_fault(bag, key, trusted):
    sign(bag, key)
    (bag / TAG_MANIFEST).write_bytes(b"changed")
    assert "changed after it was signed" in signature_said(bag, key.public_key() if trusted else None)[1][0]


@pytest.mark.parametrize(
    ("name", "content"), [(SIGNATURE, b"short"), (SIGNER, b"no key"), (SIGNATURE, None), (SIGNER, None)]
)
def test_a_harmed_signature_is_a_fault(bag, key, name, content):
    sign(bag, key)
    if content is None:
        (bag / name).unlink()
    else:
        (bag / name).write_bytes(content)
    assert signature_said(bag, None)[1]


def test_keys_that_cannot_be_used_are_told(key):
    locked = pem_of(key, BestAvailableEncryption(b"open"))
    assert fingerprint(private_key(locked, "k", b"open").public_key()) == fingerprint(key.public_key())
    for passphrase in (None, b"wrong"):
        with pytest.raises(PassphraseNeeded, match="k: the key is encrypted"):
            private_key(locked, "k", passphrase)
    assert private_key(pem_of(key), "k", b"not needed")
    other = ec.generate_private_key(ec.SECP256R1())
    for pem in (pem_of(other), b"nothing", public_pem_of(key)):
        with pytest.raises(WrongUse, match="openssl genpkey -algorithm ed25519"):
            private_key(pem, "k")
    for pem in (public_pem_of(other), b"nothing", pem_of(key)):
        with pytest.raises(WrongUse, match="k: "):
            public_key(pem, "k")
