from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class WeatherReading(Base):
    """The weather of one line as a file, a program or a person gave it; the newest counts."""

    __tablename__ = "weather_reading"
    __table_args__ = (Index("ix_weather_reading_line", "line_key", "read_at", "id"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120))
    read_at: Mapped[datetime] = mapped_column(UtcDateTime)
    # Its age counts from here: what is typed over a forecast makes the forecast no younger.
    given_at: Mapped[datetime] = mapped_column(UtcDateTime)
    read_by: Mapped[str] = mapped_column(String(120))
    source: Mapped[str] = mapped_column(String(200))
    station: Mapped[str] = mapped_column(String(120))
    # Kilometres from the nearest place of the line; nobody may know.
    away_km: Mapped[float | None]
    # One row an hour: time, air, humidity, dew point, rain, wind, cloud, word; our own units.
    hours: Mapped[list[list[Any]]] = mapped_column(JSON)


class WeatherChange(Base):
    """A worse state that a person set for some hours of a line, and who took it back."""

    __tablename__ = "weather_change"
    __table_args__ = (Index("ix_weather_change_line", "line_key", "until_at", "id"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120))
    state: Mapped[str] = mapped_column(String(120))
    from_at: Mapped[datetime] = mapped_column(UtcDateTime)
    until_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reason: Mapped[str] = mapped_column(String(200))
    set_at: Mapped[datetime] = mapped_column(UtcDateTime)
    set_by: Mapped[str] = mapped_column(String(120))
    back_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    back_by: Mapped[str] = mapped_column(String(120), default="")
    back_why: Mapped[str] = mapped_column(String(200), default="")


class WeatherColumns(Base):
    """Which column of a line's files is which, as a person said it last."""

    __tablename__ = "weather_columns"

    line_key: Mapped[str] = mapped_column(String(120), primary_key=True)
    columns: Mapped[dict[str, Any]] = mapped_column(JSON)
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    changed_by: Mapped[str] = mapped_column(String(120))
