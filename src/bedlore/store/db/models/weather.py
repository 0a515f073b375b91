"""Weather as it came: each piece is kept, and what is known is joined from them when read."""

from __future__ import annotations

from django.db import models

from bedlore.store.db.models.farms import FarmRow


class WeatherPiece(models.Model):
    """Hours of weather from one source, or days typed by the keeper.

    ``kind``: record (measured), forecast (of a service) or typed. ``body`` is JSON: of a series
    its arrays in SI (``temp_c`` [degC], ``rh_frac``, ``wind_m_s``, ``ghi_w_m2``), of typed days
    their lines. ``start`` and ``end`` bound the hours.
    """

    farm = models.ForeignKey(FarmRow, models.CASCADE, related_name="weather")
    kind = models.CharField(max_length=8)
    source = models.CharField(max_length=200)
    start = models.DateTimeField(null=True)
    end = models.DateTimeField(null=True)
    got_at = models.DateTimeField()
    body = models.TextField()

    class Meta:
        db_table = "store_weather"
        constraints = [models.CheckConstraint(
            condition=models.Q(kind__in=["record", "forecast", "typed"]),
            name="store_known_weather")]  # fmt: skip
        indexes = [models.Index(fields=["farm", "kind", "-got_at"], name="store_weather_latest")]
