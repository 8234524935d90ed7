"""Run the application under waitress: where it may listen, how it stops."""

from __future__ import annotations

import signal
from collections.abc import Callable
from typing import Any

from flask import Flask

from webapp.commands import connections
from webapp.plain import config, ondisk
from webapp.web import limits

THREADS = 8
# A little above the application's own limit, so that our 413 is the one the client sees.
WAITRESS_BODY_BYTES = config.LARGEST_BODY_BYTES + 64 * 1024


def run(app: Flask, host: str, port: int, ready: Callable[[str], None]) -> None:
    """Serve until SIGTERM or Ctrl-C, finishing what is in flight; tell `ready` the address."""
    with ondisk.used(app.config["DATA"]) as free:
        if not free:
            raise config.SettingsError(
                f"{app.config['DATA']}: is being restored. Start again when that is done."
            )
        _run(app, host, port, ready)


def _run(app: Flask, host: str, port: int, ready: Callable[[str], None]) -> None:
    proxy = app.config.get("TRUSTED_PROXY")
    refuse_open_bind(host, proxy)
    if not app.config["DEMO"]:
        limits.attach(app)
    meter = app.extensions["meter"]
    try:
        server = connections.Server(
            app,
            host=host,
            port=port,
            threads=THREADS,
            asyncore_use_poll=True,  # select() takes no descriptor above 1023
            max_request_body_size=WAITRESS_BODY_BYTES,
            ident="",
            only_from=proxy,
            most=connections.room_for_connections(),
            closed=lambda why: meter.closed.labels(why).inc(),
            **_proxy_options(proxy),
        )
    except OSError as error:
        raise config.SettingsError(
            f"cannot listen on {host}:{port}: {error.strerror or error}. "
            "Give another number with --port, or --port 0 for any free one."
        ) from error
    # waitress would drop the request in flight; leaving its loop lets it finish.
    signal.signal(signal.SIGTERM, _leave)
    ready(f"http://{host}:{server.effective_port}")
    server.run()


def refuse_open_bind(host: str, proxy: str | None) -> None:
    """Plain http may only be heard on this machine, unless a front server is named."""
    if proxy or host in config.LOOPBACK_NAMES:
        return
    raise config.SettingsError(
        f"will not listen on {host} without https. Keep --host 127.0.0.1 and put a front "
        f"server with https before it; name its address in {config.PREFIX}TRUSTED_PROXY."
    )


def _proxy_options(proxy: str | None) -> dict[str, Any]:
    if not proxy:
        return {}
    return {
        "trusted_proxy": proxy,
        "trusted_proxy_count": 1,
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"},
        "clear_untrusted_proxy_headers": True,
    }


def _leave(*_signal: object) -> None:
    raise SystemExit(0)
