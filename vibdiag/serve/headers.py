"""What every answer says to the browser: nothing from outside, no framing, no guessing of types, no keeping."""

from __future__ import annotations

__all__ = ["DOWNLOAD_POLICY", "content_policy", "security_headers"]

# A delivered report may be shown, but runs nothing and belongs to no origin.
DOWNLOAD_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox"


def content_policy(host: str | None) -> str:
    """The Content-Security-Policy of our pages. `host` is the checked Host header, or None for a refusal.

    Inline styles are allowed since the terminal widget sets its cell sizes by style elements; scripts only as files of
    ours. Some browsers do not take the websocket of the own host for 'self', so it is named.
    """
    sockets = f" ws://{host} wss://{host}" if host else ""
    return (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; "
        f"img-src 'self' data:; connect-src 'self'{sockets}; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    )


def security_headers(host: str | None) -> dict[str, str]:
    """Headers by name. The referrer is kept within the origin: without any, browsers send `Origin: null` with forms."""
    return {
        "Content-Security-Policy": content_policy(host),
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
        "Cache-Control": "no-store",
    }
