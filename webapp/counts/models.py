from __future__ import annotations

import uuid
from datetime import date

from sqlalchemy import Date, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base


class ApproachCount(Base):
    """Sum over all tablets. No row says which tablet, train or day it came from."""

    __tablename__ = "approach_count"

    month: Mapped[str] = mapped_column(String(7), primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120), primary_key=True)
    target: Mapped[str] = mapped_column(String(120), primary_key=True)
    hour: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    rail_state: Mapped[str] = mapped_column(String(120), primary_key=True)
    train_type: Mapped[str] = mapped_column(String(120), primary_key=True)
    # False only of sums of before 0.3: what a tablet counts waits there until it is enrolled.
    enrolled: Mapped[bool] = mapped_column(primary_key=True)
    n: Mapped[int]


class CountItem(Base):
    """An item that was taken in, so that a repeat is not added again; not what was in it."""

    __tablename__ = "count_item"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    payload_sha: Mapped[str] = mapped_column(String(64))
    received_on: Mapped[date] = mapped_column(Date)
