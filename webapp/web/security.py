"""Headers on every answer, errors included."""

from __future__ import annotations

from flask import Flask, Response, request

from webapp.web.problem import Problem

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data:",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "geolocation=(self), screen-wake-lock=(self), microphone=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
ONE_YEAR = 31_536_000


def attach(app: Flask) -> None:
    @app.before_request
    def refuse_nul() -> None:
        # No name, number or time holds one, and PostgreSQL can compare none.
        if any("\0" in text for values in request.args.listvalues() for text in values):
            raise Problem(
                422, "bad_address", "This address holds a NUL character. Take it out of it."
            )

    @app.after_request
    def add_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers[name] = value
        if request.is_secure:
            response.headers["Strict-Transport-Security"] = f"max-age={ONE_YEAR}"
        response.headers.setdefault("Cache-Control", "no-store")
        return response
