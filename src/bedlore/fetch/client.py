"""A polite HTTP client for forecasts: cached on disk, retried, never waiting for ever.

Services ask for three things (terms of MET Norway and of the US National Weather Service): say
who you are in ``User-Agent``, do not ask again before ``Expires``, and ask with
``If-Modified-Since`` afterwards.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path

import httpx

from bedlore import __version__
from bedlore.errors import KeeperError
from bedlore.say import say

_LEAST_KEPT = timedelta(minutes=10)
_LONGEST_KEPT = timedelta(hours=6)
_LARGEST_BYTES = 8 * 2**20
_RETRY_STATUS = {408, 425, 429, 500, 502, 503, 504}


class ServiceError(KeeperError):
    """The service gave no usable answer; the sentence says why."""


@dataclass(frozen=True)
class HttpSettings:
    """How to talk to a service.

    ``contact`` is the keeper's e-mail or web address, sent in ``User-Agent``; ``timeout_s`` is
    for connecting and for every pause in the answer, ``total_s`` for one whole answer;
    ``backoff_s`` doubles from one retry to the next.
    """

    contact: str
    cache_dir: Path
    timeout_s: float = 10.0
    total_s: float = 30.0
    retries: int = 3
    backoff_s: float = 1.0


@dataclass(frozen=True)
class Answer:
    """A decoded JSON answer; ``stale`` tells that the service could not be asked anew."""

    payload: object
    fetched_at: datetime
    stale: bool = False
    reason: str = ""


@dataclass(frozen=True)
class _Kept:
    """One answer as kept on disk; times are ISO 8601 in UTC."""

    url: str
    fetched_at: str
    expires: str
    last_modified: str
    body: str


class ForecastClient:
    """Gets JSON over HTTP with cache, retries and back-off.

    ``now`` and ``sleep`` can be replaced, so that tests need not wait.
    """

    def __init__(
        self,
        settings: HttpSettings,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        if not settings.contact.strip():
            raise KeeperError(
                say("weather services want to know who asks."), where=say("weather contact"),
                fix=say("Write your e-mail or web address as the contact."),
            )
        self._settings = settings
        self._now = now
        self._sleep = sleep
        self._agent = f"bedlore/{__version__} {settings.contact.strip()}"

    def get_json(self, url: str, params: Mapping[str, str] | None = None) -> Answer:
        """The JSON at ``url``: from the cache while it is fresh, else from the service.

        When the service fails, the last good answer comes back marked ``stale``. Raises
        :class:`ServiceError` when there is none.
        """
        full = str(httpx.URL(url, params=dict(params or {})))
        kept = self._load(full)
        now = self._now()
        if kept is not None and datetime.fromisoformat(kept.expires) > now:
            return _answer(kept)
        try:
            fresh = self._ask(full, kept)
            answer = _answer(fresh)
        except ServiceError as error:
            if kept is None:
                raise
            return replace(_answer(kept), stale=True, reason=error.message)
        self._save(fresh)
        return answer

    def _ask(self, url: str, kept: _Kept | None) -> _Kept:
        headers = {"User-Agent": self._agent, "Accept": "application/json"}
        if kept is not None and kept.last_modified:
            headers["If-Modified-Since"] = kept.last_modified
        problem, wait = "", 0.0
        for attempt in range(self._settings.retries + 1):
            if attempt:
                self._sleep(max(self._settings.backoff_s * 2 ** (attempt - 1), wait))
                wait = 0.0
            try:
                response, body = self._send(url, headers)
            except httpx.HTTPError as error:
                problem = _plain(error)
                continue
            if response.status_code in _RETRY_STATUS:
                problem = say("it answered with error {code}", code=response.status_code)
                wait = _retry_after_s(response)
                continue
            return self._accept(url, response, body, kept)
        host = httpx.URL(url).host
        raise ServiceError(say("The weather service at {host} gave no answer: {problem}.",
                               host=host, problem=problem))

    def _send(self, url: str, headers: dict[str, str]) -> tuple[httpx.Response, bytes]:
        settings = self._settings
        begin = time.monotonic()
        with (
            httpx.Client(timeout=settings.timeout_s, follow_redirects=True, max_redirects=4,
                         headers=headers) as client,
            client.stream("GET", url) as response,
        ):
            chunks, size = [], 0
            for chunk in response.iter_bytes():
                size += len(chunk)
                chunks.append(chunk)
                if size > _LARGEST_BYTES:
                    raise httpx.ReadError("the answer is too large")
                # A trickle would pass every single time-out.
                if time.monotonic() - begin > settings.total_s:
                    raise httpx.ReadTimeout("the answer trickles")
            return response, b"".join(chunks)

    def _accept(
        self, url: str, response: httpx.Response, body: bytes, kept: _Kept | None
    ) -> _Kept:
        host = httpx.URL(url).host
        now = self._now()
        if response.status_code == 304 and kept is not None:
            return replace(kept, expires=_expires(response, now), fetched_at=now.isoformat())
        if response.status_code == 404:
            raise ServiceError(say("The weather service at {host} does not know this place.",
                                   host=host))
        if response.status_code != 200:
            raise ServiceError(
                say("The weather service at {host} refused with status {status_code}.",
                    host=host, status_code=response.status_code)
            )
        try:
            text = body.decode("utf-8")
            json.loads(text)
        except (ValueError, RecursionError):
            raise ServiceError(
                say("The weather service at {host} sent an answer that cannot be read.",
                    host=host)
            ) from None
        return _Kept(
            url=url,
            fetched_at=now.isoformat(),
            expires=_expires(response, now),
            last_modified=response.headers.get("Last-Modified", ""),
            body=text,
        )

    def _path(self, url: str) -> Path:
        return self._settings.cache_dir / f"{hashlib.sha256(url.encode()).hexdigest()[:32]}.json"

    def _load(self, url: str) -> _Kept | None:
        """The kept answer, or None when there is none or the file is damaged."""
        try:
            raw = json.loads(self._path(url).read_text("utf-8"))
            kept = _Kept(**raw)
            datetime.fromisoformat(kept.expires)
            datetime.fromisoformat(kept.fetched_at)
            json.loads(kept.body)
        except (OSError, ValueError, TypeError, RecursionError):
            return None
        return kept if kept.url == url else None

    def _save(self, kept: _Kept) -> None:
        """Keep an answer; a full or read-only disk only means that it is asked for again."""
        target = self._path(kept.url)
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=target.parent, suffix=".part")
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(asdict(kept), file)
            Path(name).replace(target)
        except OSError:
            return


def _answer(kept: _Kept) -> Answer:
    return Answer(json.loads(kept.body), datetime.fromisoformat(kept.fetched_at))


def _expires(response: httpx.Response, now: datetime) -> str:
    """When to ask again: what the service says, between ten minutes and six hours from now."""
    try:
        said = parsedate_to_datetime(response.headers.get("Expires", ""))
        said = said if said.tzinfo else said.replace(tzinfo=UTC)
    except ValueError:
        said = now + _LEAST_KEPT
    return min(max(said, now + _LEAST_KEPT), now + _LONGEST_KEPT).astimezone(UTC).isoformat()


def _retry_after_s(response: httpx.Response) -> float:
    """Seconds the service asks to wait, at most a minute; 0 when it does not say."""
    try:
        return min(max(float(response.headers.get("Retry-After", "0")), 0.0), 60.0)
    except ValueError:
        return 0.0


def _plain(error: httpx.HTTPError) -> str:
    if isinstance(error, httpx.TimeoutException):
        return say("it took too long")
    if isinstance(error, httpx.ConnectError):
        return say("it cannot be reached from here")
    if isinstance(error, httpx.TooManyRedirects):
        return say("it sends us round in circles")
    return say("the answer broke off")
