"""Encryption without anybody's help: a certificate that this machine signs for its own address, and its fingerprint to compare by eye."""

import hashlib
import ipaddress
import os
import ssl
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

__all__ = ["fingerprint", "make_pair", "tls_context"]

DAYS = 365
NAME = "The pressure-loop workbook's class"


def make_pair(folder, address):
    """Write certificate.pem and key.pem for this address (or name) of the machine; returns both paths. Raises ValueError where they cannot
    be written, or are there already: whoever compared the fingerprint once need not do so again."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    folder = Path(folder)
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    pair, now = ec.generate_private_key(ec.SECP256R1()), datetime.now(UTC)
    called = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, NAME)])
    try:
        other = x509.IPAddress(ipaddress.ip_address(address))
    except ValueError:
        other = x509.DNSName(address)
    made = (
        x509.CertificateBuilder()
        .subject_name(called)
        .issuer_name(called)
        .public_key(pair.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName([other]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .sign(pair, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    secret = pair.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
    for path, content, mode in ((key, secret, 0o600), (certificate, made.public_bytes(serialization.Encoding.PEM), 0o644)):
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
                file.write(content)
        except OSError as trouble:
            if path == certificate:
                with suppress(OSError):
                    key.unlink()
            raise ValueError(f"{path.name} cannot be written: {trouble.strerror}") from None
    return certificate, key


def fingerprint(certificate):
    """SHA-256 of a certificate as browsers show it: pairs of digits in capitals. Raises ValueError for a file that holds none."""
    try:
        text = Path(certificate).read_text(encoding="ascii")
        first = text[text.index("-----BEGIN CERTIFICATE-----") :].partition("-----END CERTIFICATE-----")
        digest = hashlib.sha256(ssl.PEM_cert_to_DER_cert(first[0] + first[1])).hexdigest().upper()
    except OSError as trouble:
        raise ValueError(f"certificate {Path(certificate).name} cannot be read: {trouble.strerror}") from None
    except ValueError:
        raise ValueError(f"certificate {Path(certificate).name} must be a file in PEM that holds a certificate") from None
    return ":".join(digest[place : place + 2] for place in range(0, len(digest), 2))


def tls_context(certificate, key):
    """What a server needs to speak TLS with this pair, 1.2 at the least. Raises ValueError where the two do not belong together."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(str(certificate), str(key))
    except (OSError, ssl.SSLError) as trouble:
        raise ValueError(f"certificate and key must be files in PEM that belong together: {trouble.strerror or trouble}") from None
    return context
