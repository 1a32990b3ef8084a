"""Where the store is: `VIBDIAG_STORE`, or one file in the user's own data folder."""

from __future__ import annotations

import os
from pathlib import Path

from vibdiag.store.face import StoreError

__all__ = ["VARIABLE", "default_file", "file_of", "shown_place", "store_url"]

VARIABLE = "VIBDIAG_STORE"
_EXAMPLE = "such as postgresql+psycopg://user@host/vibdiag"


def default_file() -> Path:
    """The store of this user on this machine."""
    from platformdirs import user_data_path

    return user_data_path("vibdiag", appauthor=False) / "cases.db"


def store_url(given: str | None = None) -> str:
    """The SQLAlchemy URL of `given`, or of `VIBDIAG_STORE`, or of the default file; a bare path is a file.

    Raises StoreError when it is neither a file nor PostgreSQL.
    """
    text = (given or os.environ.get(VARIABLE) or "").strip() or str(default_file())
    if "://" not in text:
        return f"sqlite:///{Path(text).expanduser().absolute()}"
    scheme, _, rest = text.partition("://")
    if scheme in ("postgresql", "postgres"):
        return f"postgresql+psycopg://{rest}"
    if scheme == "postgresql+psycopg":
        return text
    if scheme == "sqlite" and rest.startswith("/") and rest.strip("/") and rest != "/:memory:":
        return text
    raise StoreError(f"'{scheme}://' is no store; give a file, or PostgreSQL {_EXAMPLE}", field=VARIABLE)


def file_of(url: str) -> Path | None:
    """The file of an SQLite URL; None for a server."""
    return Path(url.removeprefix("sqlite:///")) if url.startswith("sqlite:///") else None


def shown_place(url: str) -> str:
    """The URL as it may be shown: a file by its path, a server without its password."""
    file = file_of(url)
    if file is not None:
        return str(file)
    scheme, _, rest = url.partition("://")
    login, at, host = rest.rpartition("@")
    return f"{scheme}://{login.partition(':')[0]}{at}{host.partition('?')[0]}"
