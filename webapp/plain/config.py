"""Settings: what they are called, where they come from, and which are refused."""

from __future__ import annotations

import ipaddress
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import platformdirs

from webapp.plain.agreed import TABLET_DAYS

PREFIX = "STEP_IN_HAND_"
# Read from the environment under these names with the prefix before them.
FROM_ENVIRONMENT = (
    *("DATA", "DATABASE_URL", "SECRET_KEY", "TRUSTED_PROXY", "DESK_ZONE"),
    *("CLEARING_MINUTES", "CLEARING_TEST_STOP"),
    *("CLEARING_BUFFERS_TREATED", "KEEP_NAMES_DAYS", "KEEP_WORDS_DAYS"),
    *("PROPOSE_REPORTS", "PROPOSE_METRES", "PROPOSE_WEEKS", "TABLET_DAYS"),
    *("CODE_MINUTES", "FREE_DISK_MB", "METRICS_FROM", "PUBLIC_HOST"),
)
DEFAULT_SECRETS = frozenset({"dev", "secret", "changeme", "change-me", "default", "test"})
SHORTEST_SECRET = 16
# A name or an address; the port is not looked at.
HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?", re.ASCII)
LOOPBACK_NAMES = ("127.0.0.1", "localhost")
DATABASE_SCHEMES = ("sqlite", "postgresql+psycopg")
OUTBOX_BYTES = 256 * 1024
LARGEST_BODY_BYTES = 1024 * 1024
# The rule by which a warning counts as cleared: webapp/records/warnings/clearing.py.
CLEARING_MINUTES, MOST_CLEARING_MINUTES = 30, 24 * 60
# How long what tells of a person is kept: records/privacy.py. Common practice, no source.
# Nothing goes within 90 days: so long a batch is known by a hash of what was in it.
KEEP_DAYS = {
    "KEEP_NAMES_DAYS": (91, 120),
    "KEEP_WORDS_DAYS": (91, 400),
}
MOST_KEEP_DAYS = 3650
# How long a tablet keeps what the depot has, so that it can offer it again after a restore:
# at least as long as backups are kept. Below the least of KEEP_DAYS: what was tidied away
# here never comes back from there.
MOST_TABLET_DAYS = 90
# Below so much free disk only enrolled tablets' reports are taken. Own choice, no source.
FREE_DISK_MB, MOST_FREE_DISK_MB = 500, 10_000_000
# How long a code enrols a tablet; longer where a sheet of them goes round a depot.
CODE_MINUTES, MOST_CODE_MINUTES = 10, 30 * 24 * 60
# When repeated reports propose a listed place: what, least, most, if not given.
PROPOSE = {
    "PROPOSE_REPORTS": ("reports", 2, 100, 3),
    "PROPOSE_METRES": ("metres", 100, 5000, 800),
    "PROPOSE_WEEKS": ("weeks", 1, 52, 6),
}


class SettingsError(Exception):
    """A setting the server must not start with; the text names it and its cure."""


def collect(given: Mapping[str, Any]) -> dict[str, Any]:
    """Merge defaults, environment and the settings given in code, in rising rank."""
    found: dict[str, Any] = {"DEMO": False, "TESTING": False, "DESK_ZONE": "UTC"}
    for name in FROM_ENVIRONMENT:
        value = os.environ.get(PREFIX + name)
        if value:
            found[name] = value
    found.update(given)
    found.setdefault("TABLET_DAYS", TABLET_DAYS)
    found.setdefault("CLEARING_MINUTES", CLEARING_MINUTES)
    found.setdefault("CLEARING_TEST_STOP", "1")
    found.setdefault("CLEARING_BUFFERS_TREATED", "1")
    found.setdefault("FREE_DISK_MB", FREE_DISK_MB)
    found.setdefault("CODE_MINUTES", CODE_MINUTES)
    for name, (_, usual) in KEEP_DAYS.items():
        found.setdefault(name, usual)
    for name, (*_, usual) in PROPOSE.items():
        found.setdefault(name, usual)
    found["DEMO"] = _truth(found["DEMO"])
    found["DATA"] = Path(found.get("DATA") or platformdirs.user_data_path("step-in-hand"))
    found["SQLALCHEMY_DATABASE_URI"] = database_url(found.get("DATABASE_URL"), found["DATA"])
    found["MAX_CONTENT_LENGTH"] = LARGEST_BODY_BYTES
    # Another site's name could be pointed at this machine and its page read the desk.
    ours = [found["PUBLIC_HOST"]] if found.get("PUBLIC_HOST") else list(LOOPBACK_NAMES)
    found.setdefault("TRUSTED_HOSTS", ours)
    # Flask's test mode would let exceptions through; one error shape holds everywhere.
    found["PROPAGATE_EXCEPTIONS"] = False
    return found


def database_url(url: str | None, data: Path) -> str:
    """Return the SQLAlchemy address; SQLite in the data folder when none is given."""
    if not url:
        return f"sqlite:///{data.absolute() / 'step-in-hand.sqlite3'}"
    for short in ("postgresql://", "postgres://"):
        if url.startswith(short):
            return "postgresql+psycopg://" + url.removeprefix(short)
    return url


def refuse_unsafe(config: Mapping[str, Any]) -> None:
    """Raise `SettingsError` for settings that would be unsafe or could not work."""
    try:
        ZoneInfo(config["DESK_ZONE"])
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise SettingsError(
            f"{PREFIX}DESK_ZONE: {config['DESK_ZONE']!r} is not a time zone. "
            "Give a name such as Europe/London or UTC."
        ) from error
    _refuse_number(config, "TABLET_DAYS", "days", 1, MOST_TABLET_DAYS, TABLET_DAYS)
    _refuse_number(
        config, "CLEARING_MINUTES", "minutes", 1, MOST_CLEARING_MINUTES, CLEARING_MINUTES
    )
    _refuse_number(config, "FREE_DISK_MB", "megabytes", 0, MOST_FREE_DISK_MB, FREE_DISK_MB)
    _refuse_number(config, "CODE_MINUTES", "minutes", 1, MOST_CODE_MINUTES, CODE_MINUTES)
    for name, (least, usual) in KEEP_DAYS.items():
        _refuse_number(config, name, "days", least, MOST_KEEP_DAYS, usual)
    for name, numbers in PROPOSE.items():
        _refuse_number(config, name, *numbers)
    for name in ("CLEARING_TEST_STOP", "CLEARING_BUFFERS_TREATED"):
        if str(config[name]) not in {"0", "1"}:
            raise SettingsError(
                f"{PREFIX}{name}: {str(config[name])[:20]!r} is neither 1 (asked for) nor 0."
            )
    _refuse_address(config, "METRICS_FROM", "the monitoring system")
    _refuse_address(config, "TRUSTED_PROXY", "the front server")
    _refuse_host(config)
    address = config["SQLALCHEMY_DATABASE_URI"]
    if urlsplit(address).scheme not in DATABASE_SCHEMES:
        # The address may hold a password: it is not repeated.
        raise SettingsError(
            f"{PREFIX}DATABASE_URL is not the address of a database this server knows. "
            "Give postgresql://user@host/name, or leave it out for SQLite in the data folder."
        )
    if config["DEMO"] or config["TESTING"]:
        return
    if config.get("DEBUG"):
        raise SettingsError("debug mode is on. Switch it off, or start `step-in-hand demo`.")
    secret = str(config.get("SECRET_KEY") or "")
    if len(secret) < SHORTEST_SECRET or secret.lower() in DEFAULT_SECRETS:
        raise SettingsError(
            f"{PREFIX}SECRET_KEY is missing, a default or shorter than {SHORTEST_SECRET} "
            "characters. Set it to the output of: "
            'python3 -c "import secrets; print(secrets.token_hex(32))"'
        )


def _refuse_number(
    config: Mapping[str, Any], name: str, what: str, least: int, most: int, usual: int
) -> None:
    text = str(config[name])
    if not (text.isascii() and text.isdigit() and least <= int(text) <= most):
        raise SettingsError(
            f"{PREFIX}{name}: {text[:20]!r} is not a number of {what} from {least} to "
            f"{most}. Leave it out for {usual}."
        )


def _refuse_address(config: Mapping[str, Any], name: str, whose: str) -> None:
    text = str(config.get(name) or "127.0.0.1")
    try:
        ipaddress.ip_address(text)
    except ValueError as error:
        raise SettingsError(
            f"{PREFIX}{name}: {text[:60]!r} is not one IP address. Give the address of "
            f"{whose}, such as 127.0.0.1."
        ) from error


def _refuse_host(config: Mapping[str, Any]) -> None:
    host = config.get("PUBLIC_HOST")
    if config.get("TRUSTED_PROXY") and not host:
        raise SettingsError(
            f"{PREFIX}PUBLIC_HOST is missing. With a front server, give the one name by which "
            "browsers and tablets ask for this depot, such as depot.example."
        )
    if host is not None and not HOST.fullmatch(str(host)):
        raise SettingsError(
            f"{PREFIX}PUBLIC_HOST: {str(host)[:60]!r} is not one host name. Give it without "
            "https://, port or path, such as depot.example."
        )


def _truth(value: object) -> bool:
    if isinstance(value, str):
        return value.strip().lower() in {"1", "true", "yes", "on"}
    return bool(value)
