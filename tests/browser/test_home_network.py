"""A phone in the home network: a name that is not this machine's own, over TLS, network cut.

Without TLS through such a name: ``test_signal.py``. That a browser which trusts the root trusts
the server is judged by OpenSSL in ``tests/unit/store/test_certificates.py``; here the browser is
told to take this server's key alone.
"""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import serialization

from bedlore.demo import write_demo
from tests.browser.conftest import ARGS, CHROMIUM, PATIENCE_S, SIZES
from tests.browser.network import network_to
from tests.browser.test_signal import _WAITING, looks_right, probes_in, tap_probe, until
from tests.web.postgres import free_port
from tests.web.started import Started, started

NAME = "larder.test"
FARM = "/farms/ousel-mill-kitchen-garden"
_WORKS = """async () => {
  const found = await navigator.serviceWorker.getRegistration();
  return Boolean(found && found.active);
}"""


def key_of(server: Started) -> str:
    """The server's public key as the browser names it."""
    pem = (server.data / "tls" / "server.crt").read_bytes()
    spki = x509.load_pem_x509_certificate(pem).public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )  # fmt: skip
    return base64.b64encode(hashlib.sha256(spki).digest()).decode()


def test_a_phone_gets_in_by_the_code_and_keeps_pages_for_no_signal(
    chromium: Any, tmp_path: Path, pictures: Path
) -> None:
    write_demo(tmp_path / "mill")
    words = ("--lan", "--no-worker", "--farm", str(tmp_path / "mill"), "--port", str(free_port()))
    with started(tmp_path / "data", *words, BEDLORE_HOSTS=NAME) as server, \
            network_to("127.0.0.1", server.port) as net:  # fmt: skip
        trusted = [f"--host-resolver-rules=MAP {NAME} 127.0.0.1",
                   f"--ignore-certificate-errors-spki-list={key_of(server)}"]  # fmt: skip
        browser = chromium.browser_type.launch(executable_path=CHROMIUM, args=[*ARGS, *trusted])
        width, height = SIZES["phone"]
        context = browser.new_context(viewport={"width": width, "height": height},
                                      base_url=f"https://{NAME}:{net.port}")  # fmt: skip
        context.set_default_timeout(1000.0 * PATIENCE_S)
        tab = context.new_page()
        tab.goto("/trust/")
        looks_right(tab, pictures / "trust-phone.png")
        link = re.search(r"https://[^/\s]+(/first/\S+)", server.said)
        assert link is not None
        tab.goto(link[1])
        for label, text in (("Name to sign in with", "mara"), ("What others call you", "Mara")):
            tab.get_by_label(label).fill(text)
        for field in ("password1", "password2"):
            tab.locator(f"[name={field}]").fill("seven larch planks")
        tab.get_by_role("button", name="Make the account").click()
        tab.wait_for_url(f"**{FARM}/today/")  # the invented farm is Mara's, with no hunting
        assert tab.evaluate("isSecureContext") is True
        until(tab, _WORKS, bool)
        tab.goto(f"{FARM}/log/")
        tab.goto(f"{FARM}/write/probe/?bed=sluice")
        before = probes_in(server.data)
        net.cut()
        tab.close()
        tab = context.new_page()  # opened again, with no network
        tab.goto(f"{FARM}/log/")
        tab.locator("#carry", has_text="This page is the copy stored on").wait_for()
        tab.goto(f"{FARM}/write/probe/?bed=sluice")
        tap_probe(tab)
        tab.get_by_text("Kept on this phone.").wait_for()
        assert probes_in(server.data) == before
        net.mend()
        tab.goto(f"{FARM}/log/")
        until(tab, _WAITING, lambda left: left == [])
        assert probes_in(server.data) == before + 1
        browser.close()
