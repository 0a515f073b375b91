"""Certificates for the home network, judged by OpenSSL (Python's ``ssl``) and by file rights."""

from __future__ import annotations

import datetime as dt
import socket
import ssl
import stat
import threading
from pathlib import Path

import pytest
from cryptography import x509

from bedlore.errors import KeeperError
from bedlore.store.certificates import (
    RENEW_BEFORE,
    ROOT_LIFE,
    SERVER_LIFE,
    Papers,
    fingerprint_of,
    papers_for,
    root_file,
)

NOW = dt.datetime.now(dt.UTC)
NAMES = ("larder.local", "larder", "192.168.1.20", "203.0.113.7", "localhost", "[::1]")


def shake_hands(papers: Papers, name: str, trusted: Path) -> str:
    """What a TLS client that trusts ``trusted`` alone says of a server with ``papers``."""
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(papers.cert, papers.key)
    asking = ssl.create_default_context(cafile=str(trusted))
    asking.verify_flags |= ssl.VERIFY_X509_STRICT
    one, other = socket.socketpair()
    with one, other:

        def serve() -> None:
            try:
                serving.wrap_socket(other, server_side=True).close()
            except (ssl.SSLError, OSError):
                other.close()

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            asking.wrap_socket(one, server_hostname=name).close()
            return "trusted"
        except ssl.SSLCertVerificationError as problem:
            one.close()
            return problem.verify_message
        finally:
            thread.join(10)


@pytest.mark.parametrize("name", ["larder.local", "larder", "192.168.1.20", "203.0.113.7", "::1"])
def test_whoever_trusts_the_root_trusts_the_server(name: str, tmp_path: Path) -> None:
    papers = papers_for(tmp_path, NAMES, NOW)
    assert shake_hands(papers, name, papers.root) == "trusted"


def test_other_names_and_other_roots_are_not_trusted(tmp_path: Path) -> None:
    papers = papers_for(tmp_path, NAMES, NOW)
    other = tmp_path / "other"
    other.mkdir()
    stranger = papers_for(other, NAMES, NOW)
    assert shake_hands(papers, "bank.example", papers.root) != "trusted"
    assert shake_hands(papers, "larder", stranger.root) != "trusted"


def test_the_root_cannot_vouch_for_the_world(tmp_path: Path) -> None:
    """With its key in wrong hands a certificate for a bank is still refused."""
    from bedlore.store import certificates as made

    papers = papers_for(tmp_path, NAMES, NOW)
    place = tmp_path / "tls"
    root = x509.load_pem_x509_certificate(papers.root.read_bytes())
    made._write_server(place, root, made._load_key(place / "root.key"), ["bank.example"], NOW)
    assert "subtree" in shake_hands(papers, "bank.example", papers.root)


def test_keys_are_closed_to_others(tmp_path: Path) -> None:
    papers_for(tmp_path, NAMES, NOW)
    assert stat.S_IMODE((tmp_path / "tls").stat().st_mode) == 0o700
    for name in ("root.key", "server.key"):
        assert stat.S_IMODE((tmp_path / "tls" / name).stat().st_mode) == 0o600, name


def test_papers_are_made_once_and_renewed_in_time(tmp_path: Path) -> None:
    first = papers_for(tmp_path, NAMES, NOW)
    cert, root = first.cert.read_bytes(), first.root.read_bytes()
    assert not first.is_other_root
    again = papers_for(tmp_path, NAMES[:2], NOW + dt.timedelta(days=30))
    assert again.cert.read_bytes() == cert
    late = NOW + SERVER_LIFE - RENEW_BEFORE + dt.timedelta(days=1)
    renewed = papers_for(tmp_path, NAMES, late)
    assert renewed.cert.read_bytes() != cert
    assert renewed.root.read_bytes() == root
    assert not renewed.is_other_root  # phones go on trusting it
    moved = papers_for(tmp_path, (*NAMES, "10.0.0.9"), NOW)
    assert moved.root.read_bytes() == root
    assert shake_hands(moved, "10.0.0.9", root_file(tmp_path)) == "trusted"


def test_a_root_that_may_not_name_the_machine_or_ends_is_made_anew(tmp_path: Path) -> None:
    first = papers_for(tmp_path, NAMES, NOW)
    public = papers_for(tmp_path, (*NAMES, "beds.example.org"), NOW)
    assert public.is_other_root
    assert public.fingerprint != first.fingerprint
    assert shake_hands(public, "beds.example.org", public.root) == "trusted"
    assert papers_for(tmp_path, NAMES, NOW + ROOT_LIFE - SERVER_LIFE).is_other_root


def test_spoilt_papers_are_made_anew(tmp_path: Path) -> None:
    first = papers_for(tmp_path, NAMES, NOW)
    first.key.write_text("nothing")
    assert shake_hands(papers_for(tmp_path, NAMES, NOW), "larder", first.root) == "trusted"
    (tmp_path / "tls" / "root.key").write_text("nothing")
    assert papers_for(tmp_path, NAMES, NOW).is_other_root


def test_no_certificate_lasts_longer_than_phones_allow(tmp_path: Path) -> None:
    """Apple: at most 825 days (support.apple.com/103769)."""
    cert = x509.load_pem_x509_certificate(papers_for(tmp_path, NAMES, NOW).cert.read_bytes())
    assert cert.not_valid_after_utc - cert.not_valid_before_utc <= dt.timedelta(days=825)


def test_the_fingerprint_is_the_one_that_openssl_tells(tmp_path: Path) -> None:
    import hashlib

    root = papers_for(tmp_path, NAMES, NOW).root
    der = ssl.PEM_cert_to_DER_cert(root.read_text())
    assert fingerprint_of(root).replace(":", "").lower() == hashlib.sha256(der).hexdigest()


def test_a_folder_that_cannot_be_written_to_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "tls").write_text("in the way")
    with pytest.raises(KeeperError, match="certificate cannot be made"):
        papers_for(tmp_path, NAMES, NOW)
