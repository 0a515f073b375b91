"""The HTTP client against a server on this machine that misbehaves in every known way."""

from __future__ import annotations

import gzip
import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from bedlore.errors import KeeperError
from bedlore.fetch.client import ForecastClient, HttpSettings, ServiceError
from bedlore.fetch.forecast import fetch_forecast
from tests.weather_files import Spot

SAMPLES = Path(__file__).parents[2] / "formats" / "samples"
NOW = datetime(2026, 1, 10, 6, 30, tzinfo=UTC)
MILL = Spot(46.01234567, 8.12345678, 780.4)
BODY = json.dumps({"said": "hello"}).encode()


@dataclass
class Server:
    """A local server; ``answers`` are used up one a request, the last one stays."""

    answers: list[Callable[[BaseHTTPRequestHandler], None]] = field(default_factory=list)
    requests: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    base: str = ""


def reply(body: bytes, status: int = 200, **headers: str):
    def send(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(status)
        for name, value in headers.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.send_header("Content-Length", str(len(body)))
        handler.end_headers()
        handler.wfile.write(body)

    return send


def truncated(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", "500")
    handler.end_headers()
    handler.wfile.write(BODY)


def slow(handler: BaseHTTPRequestHandler) -> None:
    time.sleep(0.6)
    reply(BODY)(handler)


def trickle(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", "50")
    handler.end_headers()
    for _ in range(50):
        handler.wfile.write(b" ")
        handler.wfile.flush()
        time.sleep(0.05)


@pytest.fixture
def server() -> Iterator[Server]:
    state = Server()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            state.requests.append((self.path, {k.lower(): v for k, v in self.headers.items()}))
            answer = state.answers.pop(0) if len(state.answers) > 1 else state.answers[0]
            try:
                answer(self)
            except OSError:
                return

        def log_message(self, *args: object) -> None:
            return

    httpd = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    httpd.daemon_threads = True
    thread = threading.Thread(target=httpd.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    state.base = f"http://127.0.0.1:{httpd.server_address[1]}"
    yield state
    httpd.shutdown()
    thread.join()
    httpd.server_close()


class Clock:
    """A clock that only moves when told, and the pauses that were asked for."""

    def __init__(self) -> None:
        self.now = NOW
        self.pauses: list[float] = []

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def client(tmp_path, clock) -> ForecastClient:
    settings = HttpSettings("keeper@example.org", tmp_path / "cache", timeout_s=0.3, total_s=0.8)
    return ForecastClient(settings, now=clock, sleep=clock.pauses.append)


def test_user_agent_names_the_keeper(server, client):
    server.answers = [reply(BODY)]
    answer = client.get_json(server.base + "/x", {"lat": "1.5"})
    assert answer.payload == {"said": "hello"}
    path, headers = server.requests[0]
    assert path == "/x?lat=1.5"
    assert headers["user-agent"].startswith("bedlore/")
    assert headers["user-agent"].endswith(" keeper@example.org")


def test_a_contact_is_asked_for(tmp_path):
    with pytest.raises(KeeperError, match="who asks"):
        ForecastClient(HttpSettings(" ", tmp_path))


def test_nothing_is_asked_before_expires(server, client, clock):
    expires = format_datetime(NOW + timedelta(hours=1), usegmt=True)
    server.answers = [reply(BODY, Expires=expires)]
    for minutes in (0, 30, 59):
        clock.now = NOW + timedelta(minutes=minutes)
        assert client.get_json(server.base + "/x").payload == {"said": "hello"}
    assert len(server.requests) == 1
    clock.now = NOW + timedelta(minutes=61)
    client.get_json(server.base + "/x")
    assert len(server.requests) == 2


def test_304_renews_what_is_kept(server, client, clock):
    modified = format_datetime(NOW - timedelta(hours=1), usegmt=True)
    server.answers = [
        reply(BODY, Last_Modified=modified, Expires=format_datetime(NOW, usegmt=True)),
        reply(b"", 304, Expires=format_datetime(NOW + timedelta(hours=3), usegmt=True)),
    ]
    client.get_json(server.base + "/x")
    clock.now = NOW + timedelta(hours=1)
    answer = client.get_json(server.base + "/x")
    assert server.requests[1][1]["if-modified-since"] == modified
    assert answer.payload == {"said": "hello"}
    assert not answer.stale
    assert answer.fetched_at == clock.now
    clock.now = NOW + timedelta(hours=2)
    client.get_json(server.base + "/x")
    assert len(server.requests) == 2


def test_gzip_and_redirects_are_understood(server, client):
    server.answers = [
        reply(b"", 301, Location="/moved"),
        reply(gzip.compress(BODY), Content_Encoding="gzip"),
    ]
    assert client.get_json(server.base + "/x").payload == {"said": "hello"}
    assert [path for path, _ in server.requests] == ["/x", "/moved"]


def test_errors_are_retried_with_growing_pauses(server, client, clock):
    server.answers = [reply(b"", 500), reply(b"", 503, Retry_After="7"), truncated, reply(BODY)]
    assert client.get_json(server.base + "/x").payload == {"said": "hello"}
    assert clock.pauses == [1.0, 7.0, 4.0]


@pytest.mark.parametrize(
    ("answer", "sentence", "asked"),
    [
        (reply(b"", 500), "error 500", 4),
        (slow, "took too long", 4),
        (trickle, "took too long", 4),
        (truncated, "broke off", 4),
        (reply(b"{ this is no json"), "cannot be read", 1),
        (reply(b"\xff\xfe"), "cannot be read", 1),
        (reply(b"[" * 100_000), "cannot be read", 1),
        (reply(b"broken", Content_Encoding="gzip"), "broke off", 4),
        (reply(b"", 403), "refused with status 403", 1),
        (reply(b"", 404), "does not know this place", 1),
        (reply(b"", 304), "refused with status 304", 1),
        (reply(b"", 302, Location="/again"), "round in circles", 20),
        (reply(b" " * 9_000_000), "broke off", 4),
    ],
    ids=["500", "slow", "trickle", "truncated", "malformed", "not-utf8", "nested", "bad-gzip",
         "403", "404", "304-unasked", "loop", "huge"],
)
def test_trouble_becomes_a_sentence(server, client, answer, sentence, asked):
    server.answers = [answer]
    with pytest.raises(ServiceError, match=sentence):
        client.get_json(server.base + "/x")
    assert len(server.requests) == asked


def test_nobody_there(client):
    with pytest.raises(ServiceError, match="cannot be reached"):
        client.get_json("http://127.0.0.1:9/x")


def test_the_last_good_answer_is_used_and_marked(server, client, clock):
    server.answers = [reply(BODY), reply(b"", 500)]
    client.get_json(server.base + "/x")
    clock.now = NOW + timedelta(hours=5)
    answer = client.get_json(server.base + "/x")
    assert answer.stale
    assert answer.fetched_at == NOW
    assert "error 500" in answer.reason


def test_damaged_cache_is_asked_for_again(server, client, tmp_path):
    server.answers = [reply(BODY)]
    client.get_json(server.base + "/x")
    for damage in ("", "{", '{"url": 1}', "[]"):
        for path in (tmp_path / "cache").iterdir():
            path.write_text(damage)
        assert client.get_json(server.base + "/x").payload == {"said": "hello"}
    assert len(server.requests) == 5


def test_a_cache_that_cannot_be_written_does_no_harm(server, tmp_path, clock):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    settings = HttpSettings("keeper@example.org", blocked / "cache")
    server.answers = [reply(BODY)]
    client = ForecastClient(settings, now=clock)
    assert client.get_json(server.base + "/x").payload == {"said": "hello"}


def long_forecast() -> bytes:
    """A compact answer of four days in hours, made from the sample."""
    payload = json.loads((SAMPLES / "met_norway_compact.json").read_text("utf-8"))
    first = payload["properties"]["timeseries"][0]
    payload["properties"]["timeseries"] = [
        {**first, "time": (NOW.replace(minute=0) + timedelta(hours=n)).isoformat()}
        for n in range(96)
    ]
    return json.dumps(payload).encode()


def test_met_norway_is_asked_with_four_decimals(server, client, clock):
    server.answers = [reply(long_forecast())]
    result = fetch_forecast(client, "met-norway", MILL, server.base, clock)
    assert server.requests[0][0] == "/compact?lat=46.0123&lon=8.1235&altitude=780"
    assert result.series is not None
    assert len(result.series) == 96
    assert "4 days ahead" in result.sentence


def test_us_service_in_two_steps_on_the_same_host(server, client, clock):
    hourly = json.loads((SAMPLES / "us_hourly.json").read_text("utf-8"))
    period = hourly["properties"]["periods"][0]
    hourly["properties"]["periods"] = [
        {**period, "startTime": (NOW + timedelta(hours=n)).isoformat()} for n in range(48)
    ]
    server.answers = [
        reply((SAMPLES / "us_points.json").read_bytes()), reply(json.dumps(hourly).encode())
    ]
    result = fetch_forecast(client, "us-nws", Spot(40.12346, -100.5), server.base, clock)
    assert [path for path, _ in server.requests] == [
        "/points/40.1235,-100.5", "/gridpoints/XXX/31,80/forecast/hourly"]
    assert result.series is not None


def test_without_a_service_there_is_a_plain_sentence(server, client, clock):
    server.answers = [reply(b"", 500)]
    result = fetch_forecast(client, "met-norway", MILL, server.base, clock)
    assert result.series is None
    assert result.sentence == (
        "No forecast: The weather service at 127.0.0.1 gave no answer: it answered with error "
        "500. The coming days are drawn from the normals of the place instead."
    )


def test_old_forecast_serves_until_it_runs_out(server, client, clock):
    server.answers = [reply(long_forecast()), reply(b"", 500)]
    fetch_forecast(client, "met-norway", MILL, server.base, clock)
    clock.now = NOW + timedelta(hours=30)
    result = fetch_forecast(client, "met-norway", MILL, server.base, clock)
    assert result.series is not None
    assert "of 30 hours ago is used" in result.sentence
    clock.now = NOW + timedelta(days=3, hours=12)
    result = fetch_forecast(client, "met-norway", MILL, server.base, clock)
    assert result.series is None
    assert "the last one ended on 14 January" in result.sentence


def test_unknown_service(client, clock):
    with pytest.raises(KeeperError, match="Choose one of met-norway, us-nws"):
        fetch_forecast(client, "oracle", MILL, None, clock)
