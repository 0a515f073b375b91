"""Tables by subject; the frozen records of ``farm`` and ``decide`` are kept as JSON in them."""

from bedlore.store.db.models.access import ApiToken, CalendarFeed, Invitation, Passcode, SignInTry
from bedlore.store.db.models.alerts import AlertSent, AlertSettings
from bedlore.store.db.models.farms import (
    BedRow,
    BedVersion,
    FarmRow,
    FarmVersion,
    StoreRow,
    ZoneRow,
)
from bedlore.store.db.models.jobs import JobRun
from bedlore.store.db.models.log import LogEntry, Photo
from bedlore.store.db.models.outlooks import AdviceGiven, BedOutlookRow, OutlookRun
from bedlore.store.db.models.people import Account, Membership
from bedlore.store.db.models.weather import WeatherPiece

__all__ = [
    "Account", "AdviceGiven", "AlertSent", "AlertSettings", "ApiToken", "BedOutlookRow", "BedRow",
    "BedVersion", "CalendarFeed", "FarmRow", "FarmVersion", "Invitation", "JobRun", "LogEntry",
    "Membership", "OutlookRun", "Passcode", "Photo", "SignInTry", "StoreRow", "WeatherPiece",
    "ZoneRow",
]  # fmt: skip
