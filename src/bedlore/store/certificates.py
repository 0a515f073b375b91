"""A certificate of one's own for the home network, so that phones keep pages for no signal.

Browsers keep pages offline over TLS alone, and no public authority vouches for a name in a home
network. A root made on this machine does; whoever trusts it on a phone once is not asked again.
It can vouch for names and addresses of home networks only (RFC 5280, 4.2.1.10), so that even its
key in wrong hands opens no bank's page. Keys stay in the folder, readable by their owner alone.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import (
    IPv4Address,
    IPv4Network,
    IPv6Address,
    IPv6Network,
    ip_address,
    ip_network,
)
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from bedlore.errors import KeeperError
from bedlore.store.durable import replace_file

ROOT_LIFE = dt.timedelta(days=3650)
# Apple's systems refuse a server's certificate of more than 825 days, whoever signed it
# (support.apple.com/103769).
SERVER_LIFE = dt.timedelta(days=800)
RENEW_BEFORE = dt.timedelta(days=400)
_CLOCKS_APART = dt.timedelta(days=1)
# Names for home networks: RFC 6762 (local), RFC 8375 (home.arpa), ICANN 2024 (internal), and
# what common routers hand out.
_HOME_DOMAINS = ("localhost", "local", "home.arpa", "internal", "lan", "home")
# RFC 1918, RFC 3927, RFC 4193, RFC 4291 and this machine itself.
_HOME_NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16",
                  "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128")  # fmt: skip
Key = ec.EllipticCurvePrivateKey
Address = IPv4Address | IPv6Address


@dataclass(frozen=True)
class Papers:
    """Files a server needs for TLS; ``root`` is what phones are asked to trust, ``fingerprint``
    its SHA-256 in pairs. ``is_other_root`` when it was made just now in place of another."""

    cert: Path
    key: Path
    root: Path
    fingerprint: str
    is_other_root: bool


def root_file(folder: Path) -> Path:
    """Where the root's certificate lies, made or not yet."""
    return folder / "tls" / "root.crt"


def papers_for(folder: Path, names: Sequence[str], now: dt.datetime) -> Papers:
    """Papers for a server that is reached by ``names`` (host names and addresses), made when
    missing, when they end within ``RENEW_BEFORE`` or when a name is new.

    ``folder`` is the data folder. Raises :class:`KeeperError` when it cannot be written to.
    """
    place = folder / "tls"
    try:
        place.mkdir(mode=0o700, exist_ok=True)
        had_root = root_file(folder).exists()
        root, root_key, is_new = _root(place, names, now)
        if is_new or not _is_good(place / "server.crt", place / "server.key", root, names, now):
            _write_server(place, root, root_key, names, now)
    except OSError as problem:
        raise KeeperError(f"The certificate cannot be made ({problem.strerror}).", str(place),
                          "Check who may write there.") from None  # fmt: skip
    return Papers(place / "server.crt", place / "server.key", root_file(folder),
                  fingerprint_of(root_file(folder)), is_new and had_root)  # fmt: skip


def fingerprint_of(path: Path) -> str:
    """SHA-256 of a certificate (PEM) in pairs, as phones show it."""
    return x509.load_pem_x509_certificate(path.read_bytes()).fingerprint(hashes.SHA256()).hex(
        ":"
    ).upper()  # fmt: skip


def _root(place: Path, names: Sequence[str],
          now: dt.datetime) -> tuple[x509.Certificate, Key, bool]:  # fmt: skip
    """The root and its key, and whether they were made just now."""
    with contextlib.suppress(FileNotFoundError, ValueError):
        root = x509.load_pem_x509_certificate((place / "root.crt").read_bytes())
        key = _load_key(place / "root.key")
        lasts = root.not_valid_after_utc > now + SERVER_LIFE
        if lasts and root.public_key() == key.public_key() and _may_name(root, names):
            return root, key, False
    key = ec.generate_private_key(ec.SECP256R1())
    root = _make_root(key, names, now)
    _write_key(place / "root.key", key)
    replace_file(place / "root.crt", [_pem(root)])
    return root, key, True


def _make_root(key: Key, names: Sequence[str], now: dt.datetime) -> x509.Certificate:
    hosts, addresses = split(names)
    domains = dict.fromkeys((*_HOME_DOMAINS, *(h for h in hosts if not _is_at_home(h))))
    networks = [ip_network(text) for text in _HOME_NETWORKS]
    networks += [ip_network(one) for one in addresses if not _is_within(one, networks)]
    permitted = [x509.DNSName(name) for name in domains] + [x509.IPAddress(n) for n in networks]
    name = _name(f"bedlore at {hosts[0] if hosts else 'home'}")
    return (
        _builder(name, name, key, now, ROOT_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(key, hashes.SHA256())
    )


def _write_server(place: Path, root: x509.Certificate, root_key: Key, names: Sequence[str],
                  now: dt.datetime) -> None:  # fmt: skip
    key = ec.generate_private_key(ec.SECP256R1())
    hosts, addresses = split(names)
    alternatives = [x509.DNSName(host) for host in hosts]
    cert = (
        _builder(_name("bedlore"), root.subject, key, now, SERVER_LIFE)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(
            [*alternatives, *(x509.IPAddress(one) for one in addresses)]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key()),
                       critical=False)
        .sign(root_key, hashes.SHA256())
    )  # fmt: skip
    _write_key(place / "server.key", key)
    replace_file(place / "server.crt", [_pem(cert), _pem(root)])


def _builder(subject: x509.Name, issuer: x509.Name, key: Key, now: dt.datetime,
             life: dt.timedelta) -> x509.CertificateBuilder:  # fmt: skip
    return (
        x509.CertificateBuilder()
        .subject_name(subject).issuer_name(issuer).public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _CLOCKS_APART).not_valid_after(now - _CLOCKS_APART + life)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()),
                       critical=False)
    )  # fmt: skip


def _usage(*, signs: bool) -> x509.KeyUsage:
    """What a key may be used for: the root's for signing certificates, a server's for TLS."""
    return x509.KeyUsage(
        digital_signature=not signs, key_cert_sign=signs, crl_sign=signs, key_agreement=False,
        content_commitment=False, key_encipherment=False, data_encipherment=False,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _is_good(cert_file: Path, key_file: Path, root: x509.Certificate, names: Sequence[str],
             now: dt.datetime) -> bool:  # fmt: skip
    """Whether the server's certificate lasts, belongs to its key and the root, and names all."""
    try:
        cert = x509.load_pem_x509_certificate(cert_file.read_bytes())
        cert.verify_directly_issued_by(root)
        fits = _load_key(key_file).public_key() == cert.public_key()
    except (OSError, ValueError, TypeError, InvalidSignature):
        return False
    told = cert.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = {str(one) for kind in (x509.DNSName, x509.IPAddress)
             for one in told.get_values_for_type(kind)}  # fmt: skip
    hosts, addresses = split(names)
    needed = {*hosts, *map(str, addresses)}
    return fits and needed <= known and cert.not_valid_after_utc > now + RENEW_BEFORE


def _may_name(root: x509.Certificate, names: Sequence[str]) -> bool:
    """Whether the root may vouch for all of ``names``."""
    limits = root.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = limits.permitted_subtrees or []
    domains = tuple(one.value for one in permitted if isinstance(one, x509.DNSName))
    networks = [ip_network(str(one.value)) for one in permitted if isinstance(one, x509.IPAddress)]
    hosts, addresses = split(names)
    return all(_is_below(host, domains) for host in hosts) and all(
        _is_within(one, networks) for one in addresses
    )


def _is_at_home(host: str) -> bool:
    return _is_below(host, _HOME_DOMAINS)


def _is_within(address: Address, networks: Sequence[IPv4Network | IPv6Network]) -> bool:
    return any(address in network for network in networks)  # never in one of the other version


def _is_below(host: str, domains: Sequence[str]) -> bool:
    return any(host == domain or host.endswith(f".{domain}") for domain in domains)


def split(names: Sequence[str]) -> tuple[list[str], list[Address]]:
    """``names`` as host names and as addresses, each once."""
    hosts: dict[str, None] = {}
    addresses: dict[Address, None] = {}
    for name in names:
        try:
            addresses[ip_address(name.strip("[]"))] = None
        except ValueError:
            hosts[name.lower()] = None
    return list(hosts), list(addresses)


def _name(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text[:64])])


def _pem(cert: x509.Certificate) -> bytes:
    return cert.public_bytes(serialization.Encoding.PEM)


def _write_key(path: Path, key: Key) -> None:
    text = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8,
                             serialization.NoEncryption())  # fmt: skip
    replace_file(path, [text], mode=0o600)


def _load_key(path: Path) -> Key:
    key = serialization.load_pem_private_key(path.read_bytes(), None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise ValueError("another kind of key")
    return key
