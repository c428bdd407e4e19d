"""Serves a class, or collects its records.

.venv/bin/python -m helpers.serving run FOLDER             on this machine alone, to try it
.venv/bin/python -m helpers.serving run FOLDER --address 192.168.0.10      on the class network
.venv/bin/python -m helpers.serving certificate FOLDER --address 192.168.0.10      a pair for encryption, signed by this machine
.venv/bin/python -m helpers.serving collect FOLDER INTO    every desk's record as a file, in a new folder

Encryption without anybody's help: a certificate that this machine signs for its own address, and its fingerprint to compare by eye.
"""

import argparse
import hashlib
import ipaddress
import os
import secrets
import ssl
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from helpers.model.files import printable, write_whole
from helpers.serving.desks import Desks, Refused
from helpers.teaching.record import LearnerRecord

SHORTEST, LONGEST = 4, 200  # letters of the word of a class
DESKS_OF_ONE = 6  # from one computer of a class network: some are shared, and nobody alone takes them all
LETTERS = "abcdefghkmnpqrstuvwxyz23456789"  # none that is taken for another one


def main(arguments=None):
    """What the command line says."""
    parser = argparse.ArgumentParser(prog="helpers.serving", description="One machine that serves a class.")
    commands = parser.add_subparsers(required=True)
    run = commands.add_parser("run", help="serve the class in this folder")
    run.add_argument("folder", type=Path)
    run.add_argument("--address", default="127.0.0.1", help="of this machine on the class network; without it, this machine alone")
    run.add_argument("--port", type=_from(1, 65_535), default=8866)
    run.add_argument("--desks", type=_from(1, 1000), default=40, help="learners at the most")
    run.add_argument("--pages", type=_from(0, 1000), default=80, help="pages open at once at the most")
    run.add_argument(
        "--desks-per-address", type=_from(1, 1000), help="taken from one computer at the most; without it 6, on this machine alone all"
    )
    run.add_argument("--name", action="append", default=[], help="what this machine is called on the class network, if it has a name there")
    run.add_argument("--certificate", type=Path, help="file in PEM: the class is served encrypted")
    run.add_argument("--key", type=Path, help="file in PEM that belongs to the certificate")
    run.add_argument("--cold", action="store_true", help="start every kernel by itself, as on systems that cannot share memory")
    run.add_argument("--idle-minutes", type=_from(1, 1440, float), default=40, help="a page that nobody touched for so long is closed")
    run.set_defaults(work=_run)
    pair = commands.add_parser("certificate", help="make certificate.pem and key.pem in this folder, signed by this machine")
    pair.add_argument("folder", type=Path)
    pair.add_argument("--address", required=True, help="of this machine on the class network")
    pair.set_defaults(work=_certificate)
    collect = commands.add_parser("collect", help="write every record of the class as a file")
    collect.add_argument("folder", type=Path)
    collect.add_argument("into", type=Path)
    collect.set_defaults(work=_collect)
    chosen = parser.parse_args(arguments)
    before = os.umask(0o077)  # what is written for a class is its owner's alone
    try:
        chosen.work(chosen)
    except (ValueError, OSError) as trouble:
        parser.exit(1, f"{getattr(trouble, 'strerror', None) or trouble}{'' if str(trouble).endswith('.') else '.'}\n")
    finally:
        os.umask(before)


def _from(least, most, kind=int):
    """Reads a number of the command line, and refuses one that no class can be served with."""

    def read(text):
        value = kind(text)
        if not least <= value <= most:
            raise argparse.ArgumentTypeError(f"must be from {least} to {most}, got {text}")
        return value

    read.__name__ = "number"
    return read


def _run(chosen):
    from helpers.serving.class_server import ClassServer  # the other commands need no server

    word, held = _class_word(chosen.folder), _held(chosen.folder)
    alone = chosen.address in ("127.0.0.1", "::1", "localhost")
    of_one = chosen.desks_per_address or (chosen.desks if alone else DESKS_OF_ONE)
    server = ClassServer.instance(folder=str(chosen.folder.resolve()), ip=chosen.address, port=chosen.port, class_word=word)
    server.most_desks, server.most_pages, server.idle_s = chosen.desks, chosen.pages, chosen.idle_minutes * 60
    server.most_desks_of_one, server.names = of_one, chosen.name
    server.warm = server.warm and not chosen.cold
    if (chosen.certificate is None) != (chosen.key is None):
        raise ValueError("--certificate and --key must be given together")
    if chosen.certificate:
        server.tls = tls_context(chosen.certificate, chosen.key)
    server.initialize([])
    print(
        f"The class is at {'https' if server.tls else 'http'}://{chosen.address}:{chosen.port}/  The word of the class: {word}", flush=True
    )
    if server.tls:
        print(f"Fingerprint (SHA-256) that a browser must show: {fingerprint(chosen.certificate)}", flush=True)
    if server.most_pages < chosen.pages:
        print(f"This account may have too few files open for {chosen.pages} pages at once: {server.most_pages} at the most.", flush=True)
    print("Ctrl-C ends it; records are kept.", flush=True)
    with held:
        server.start()


def _class_word(folder):
    """The word of the class: made once, kept in its folder, where it may be changed. Raises ValueError for one that anybody guesses."""
    path = folder / "class_word.txt"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not path.exists():
        write_whole(path, "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(2)) + "\n")
        path.chmod(0o600)
    word = path.read_text(encoding="utf-8").strip()
    if not SHORTEST <= len(word) <= LONGEST:
        raise ValueError(f"{path.name} must hold a word of {SHORTEST} to {LONGEST} letters, got {len(word)}; without that file one is made")
    return word


def _held(folder):
    """Open as long as this server has the folder; its end, however it comes, gives it free. Raises ValueError where that is taken."""
    file = (folder / "in_use").open("a")
    try:
        import fcntl  # not on Windows, where no class is served
    except ImportError:
        return file
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise ValueError(f"Another server has the class in {folder.name} already; end it first, or name another folder") from None
    return file


def _certificate(chosen):
    certificate, key = make_pair(chosen.folder, chosen.address)
    print(f"Written: {certificate} and {key}, for {chosen.address}. Keep the key to yourself.")
    print(f"Fingerprint (SHA-256): {fingerprint(certificate)}")


def _collect(chosen):
    desks = Desks(chosen.folder / "desks", 0)
    if not desks.taken():
        raise ValueError(f"There is no desk in {chosen.folder.name}/desks; name the folder that the class was served from")
    chosen.into.mkdir(mode=0o700, parents=True, exist_ok=True)
    for folder in desks.taken():
        record = LearnerRecord(folder)
        try:
            written = record.export(chosen.into / f"{folder.name}.json").name
            print(f"{written}: {printable(record.name)}, {len(record.events())} entries{_other_name(desks, folder, record.name)}")
        except ValueError as refusal:
            print(f"{folder.name}: {refusal}")


def _other_name(desks, folder, name):
    """What is told of a record whose name is not that of its desk: anybody can bring in a record that says another's name."""
    try:
        taken_as = desks.of(folder.name).name
    except Refused:
        return "; who took this desk cannot be read any more"
    return "" if name == taken_as else f"; the desk was taken as {printable(taken_as)}: ask whose record this is"


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


if __name__ == "__main__":
    main()
