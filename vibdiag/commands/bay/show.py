"""What the bay's commands print alike: intervals, vectors and verdicts as data, sentences and pictures as text."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from vibdiag.commands.output import paragraph, say, width
from vibdiag.measure import HarmonicFit, Judgement, Limit, UncertainVector, polar_picture
from vibdiag.rotation import Interval, Polar

__all__ = [
    "ON_STANDS",
    "WHO_DECIDES",
    "fit_data",
    "heading",
    "interval",
    "judgement_data",
    "limit_data",
    "place",
    "polar_data",
    "say_all",
    "say_picture",
    "vector",
    "vector_text",
]

WHO_DECIDES = "The tool advises; a qualified person decides. The vehicle maker's figures, local law and practice rule."
ON_STANDS = (
    "Caution: turn it by hand, out of gear and secured, on the maker's lift points and a lift or stands, never on a "
    "jack alone; hands clear of the dial and of anything that can turn."
)


def interval(value: Interval | None, digits: int = 4) -> dict[str, float] | None:
    """low, best, high."""
    if value is None:
        return None
    return {"low": round(value.low, digits), "best": round(value.best, digits), "high": round(value.high, digits)}


def polar_data(value: Polar, digits: int = 4) -> dict[str, float]:
    """amount, deg."""
    return {"amount": round(value.amount, digits), "deg": round(value.angle_deg, 2) % 360.0}


def vector(value: UncertainVector | None) -> dict[str, Any] | None:
    """amount (interval), deg, plus_minus_deg (None when it may point anywhere), detected."""
    if value is None:
        return None
    error = value.angle_plus_minus_deg
    return {
        "amount": interval(value.amount),
        "deg": round(value.value.angle_deg, 2) % 360.0,
        "plus_minus_deg": None if error is None else round(error, 2),
        "detected": value.is_detected,
    }


def limit_data(limit: Limit) -> dict[str, Any]:
    """strict, loose, unit, source, published."""
    return {
        "strict": limit.strict,
        "loose": limit.loose,
        "unit": limit.unit,
        "source": limit.source,
        "published": limit.published,
    }


def judgement_data(judgement: Judgement) -> dict[str, str]:
    """verdict, because."""
    return {"verdict": judgement.sign, "because": judgement.because}


def fit_data(fit: HarmonicFit) -> dict[str, Any]:
    """What a round says of the shape, for every command that fits one."""
    return {
        "trusted": fit.trusted,
        "untrusted_because": fit.untrusted_because,
        "harmonics": [{"order": each.order} | (vector(each.vector) or {}) for each in fit.harmonics],
        "local": {
            "amount": round(fit.local.amount, 4),
            "deg": round(fit.local.angle_deg, 2) % 360.0,
            "is_real": fit.local.is_real,
        },
        "drift": None
        if fit.drift is None
        else {"per_round": interval(fit.drift.per_round), "is_real": fit.drift.is_real},
        "reading_error": round(fit.reading_error, 5),
    }


def place(what: str, wheel: str) -> str:
    """A heading: what was read, and where."""
    return what if wheel == "unknown" else f"{what}, {wheel}"


def heading(text: str) -> None:
    """A line above a part of the answer."""
    say(text)
    say("-" * min(len(text), width()))


def say_all(sentences: Iterable[str], *, first: str = "") -> None:
    """Each sentence as a paragraph of its own, later lines set in."""
    for sentence in sentences:
        say(paragraph(sentence, indent="  ", first=first))


def say_picture(fit: HarmonicFit, *, turning: str = "clockwise") -> None:
    """The round seen from where the person stands; no curve where it cannot be trusted."""
    coefficients = fit.coefficients if fit.trusted else ()
    lines = polar_picture(
        fit.angles_deg,
        fit.corrected,
        coefficients=coefficients,
        turning="counter-clockwise" if turning == "counter-clockwise" else "clockwise",
    )
    say("\n".join(lines))
    say()


def vector_text(value: UncertainVector, unit: str, *, digits: int = 2) -> str:
    """An amount with its interval and where it points, or that it may point anywhere."""
    error = value.angle_plus_minus_deg
    where = "at no angle that can be told"
    if error is not None:
        where = f"at {value.value.angle_deg:.0f} degrees, give or take {error:.0f}"
    return f"{value.amount:.{digits}f} {unit} {where}"
