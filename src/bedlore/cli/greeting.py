"""What ``bedlore serve`` says when it starts: where it is, how to get in, what phones need."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from io import StringIO

MOST_SHOWN = 4


@dataclass(frozen=True)
class Greeting:
    """Where the pages are. ``addresses``: the best first, each with its scheme and port.

    ``first`` is the address at which the first account is made ("" when there is one);
    ``keeps`` names the farms it will keep. ``fingerprint`` is of the root that phones may trust
    ("" when there is none of ours). ``is_open`` when the home network can reach it, ``tls`` when
    nobody on the way can read it.
    """

    addresses: tuple[str, ...]
    first: str = ""
    keeps: tuple[str, ...] = ()
    fingerprint: str = ""
    is_other_root: bool = False
    is_open: bool = False
    tls: bool = False


def greeting_text(told: Greeting) -> str:
    """All of it, as lines for a terminal."""
    return "\n".join(_lines(told))


def _lines(told: Greeting) -> Iterator[str]:
    best, *others = told.addresses
    who = "everybody in your home network" if told.is_open else "this machine alone"
    yield f"bedlore is at {best}  (open to {who}; stop with Ctrl-C)"
    if others:
        yield f"  where the network knows names, also {', '.join(others[:MOST_SHOWN])}"
    if told.first:
        yield ""
        yield "Nobody has an account yet. Make the first one here:"
        yield f"  {told.first}"
        if told.keeps:
            yield f"  It keeps {', '.join(told.keeps)}, and what you set up yourself."
    if told.is_open:
        yield ""
        yield _qr(told.first or best)
        yield from _trust(told, best) if told.tls else _plain()


def _trust(told: Greeting, best: str) -> Iterator[str]:
    if not told.fingerprint:
        return
    if told.is_other_root:
        yield "A new certificate was made: phones that trusted an older one must do so once more."
    yield "A phone warns at first, because this machine vouches for itself. To keep pages for no"
    yield f"signal it must trust the certificate once: {best}trust/ tells how. Compare there:"
    yield f"  {told.fingerprint[:47]}"
    yield f"  {told.fingerprint[48:]}"


def _plain() -> Iterator[str]:
    yield "Without TLS everybody in this network can read what passes, passwords too, and phones"
    yield "keep no page for no signal. Leave TLS=0 (or --plain) out for a certificate."


def _qr(text: str) -> str:
    """``text`` as a QR code in half blocks, light on dark or dark on light alike."""
    import segno

    drawn = StringIO()
    segno.make(text, error="l", micro=False).terminal(drawn, border=2, compact=True)
    return drawn.getvalue().rstrip("\n")
