from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class Depot(Base):
    """One row: which depot this database belongs to, and since when its history is this one.

    `epoch` is random and changes whenever an older copy was put back: what tablets were
    told under another one may not be here any more.
    """

    __tablename__ = "depot"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[uuid.UUID]
    epoch: Mapped[str] = mapped_column(String(16))
    epoch_at: Mapped[datetime] = mapped_column(UtcDateTime)
    # Whether that was a restore; the first epoch of a depot is none.
    restored: Mapped[bool]
