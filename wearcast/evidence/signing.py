"""A detached signature over the tag manifest: Ed25519 (RFC 8032), keys in PEM (RFC 8410).

The tag manifest holds the checksum of every other file, of the payload through its manifest, so one
signature covers the bag. It stands in the bag as raw bytes beside the signer's public key: tag files that no
manifest lists, which BagIt allows (RFC 8493, 2.2.4), and that any tool for Ed25519 can check.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from wearcast.errors import WrongUse
from wearcast.evidence.bag import SIGNATURE, SIGNER, TAG_MANIFEST

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

_HOW = "Make one with: openssl genpkey -algorithm ed25519 -aes256 -out KEY.pem"


class PassphraseNeeded(WrongUse):
    """The key is encrypted, and no passphrase or a wrong one was given."""


def private_key(pem: bytes, name: str, passphrase: bytes | None = None) -> Ed25519PrivateKey:
    """A signing key.

    Raises
    ------
    PassphraseNeeded
        If it is encrypted and the passphrase is not the right one.
    WrongUse
        If it is no Ed25519 private key in PEM.
    """
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    encrypted = b"ENCRYPTED" in pem
    try:
        key = load_pem_private_key(pem, passphrase if encrypted else None)
    except (TypeError, ValueError, UnsupportedAlgorithm) as problem:
        if encrypted:
            raise PassphraseNeeded(
                f"{name}: the key is encrypted and the passphrase does not open it."
            ) from None
        raise WrongUse(f"{name}: cannot be read as a private key in PEM ({problem}). {_HOW}") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise WrongUse(f"{name}: expected an Ed25519 key, found another kind. {_HOW}")
    return key


def public_key(pem: bytes, name: str) -> Ed25519PublicKey:
    """A public key to check with.

    Raises
    ------
    WrongUse
        If it is no Ed25519 public key in PEM.
    """
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    if b"PRIVATE KEY" in pem:
        raise WrongUse(
            f"{name}: this is a private key. Name the public one, PUBLIC.pem; keep the private key to yourself."
        )
    try:
        key = load_pem_public_key(pem)
    except (ValueError, UnsupportedAlgorithm):
        raise WrongUse(
            f"{name}: cannot be read as a public key in PEM, a text file that begins with BEGIN PUBLIC KEY."
        ) from None
    if not isinstance(key, Ed25519PublicKey):
        raise WrongUse(f"{name}: expected an Ed25519 public key, found another kind.")
    return key


def fingerprint(key: Ed25519PublicKey) -> str:
    """SHA-256 of the key as DER (SubjectPublicKeyInfo), hexadecimal: to be read out over another way."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return hashlib.sha256(key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).hexdigest()


def sign(bag: Path, key: Ed25519PrivateKey) -> str:
    """Sign a bag; returns the fingerprint of the key."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    public = key.public_key()
    (bag / SIGNATURE).write_bytes(key.sign((bag / TAG_MANIFEST).read_bytes()))
    (bag / SIGNER).write_bytes(public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    return fingerprint(public)


def signature_said(bag: Path, trusted: Ed25519PublicKey | None) -> tuple[list[str], list[str]]:
    """What holds of the signature of a bag, and what does not, in sentences.

    Parameters
    ----------
    trusted : public key, optional
        Of the person it should be signed by; without it the key in the bag is taken, which anyone can put there.
    """
    from cryptography.exceptions import InvalidSignature

    there = [(bag / name).is_file() for name in (SIGNATURE, SIGNER)]
    if not any(there):
        return ([], ["It is not signed, and was asked to be."]) if trusted else (["It is not signed."], [])
    try:
        signer = public_key((bag / SIGNER).read_bytes(), SIGNER) if there[1] else trusted
        if not there[0] or signer is None:
            return [], [f"Of the signature, {SIGNER if there[0] else SIGNATURE} is missing."]
        (trusted or signer).verify((bag / SIGNATURE).read_bytes(), (bag / TAG_MANIFEST).read_bytes())
    except InvalidSignature:
        whom = f"the key asked for ({fingerprint(trusted)})" if trusted else f"the key in {SIGNER}"
        return [], [f"The signature is not of {whom}, or the pack was changed after it was signed."]
    except (WrongUse, OSError) as problem:
        return [], [f"The signature cannot be checked: {problem}"]
    if trusted:
        return [f"Signed by the key asked for, fingerprint {fingerprint(trusted)}."], []
    return [
        f"Signed by a key with the fingerprint {fingerprint(signer)}; whose it is, the pack cannot say. "
        "Check it with --signed-by and a public key you have from the signer."
    ], []
