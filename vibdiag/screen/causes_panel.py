"""The causes, always in sight: the first three in a strip, or more of them down a side where there is room."""

from __future__ import annotations

from textual.widgets import Static

from vibdiag.advice.assess import Assessment, RankedCause

__all__ = ["CausesPanel", "cause_line", "meter", "percent"]

_EIGHTHS = " ▏▎▍▌▋▊▉█"
# A change of less than a point is noise to a reader.
_LEAST_POINTS = 1.0


def meter(share: float, cells: int) -> str:
    """A bar for 0..1 of exactly `cells` columns."""
    eighths = round(max(0.0, min(1.0, share)) * cells * 8)
    full, rest = divmod(eighths, 8)
    return (_EIGHTHS[8] * full + (_EIGHTHS[rest] if rest else "")).ljust(cells)


def percent(probability: float) -> str:
    """`42 %`, with no false precision at the ends."""
    if probability > 0.99:
        return ">99 %"
    if probability < 0.01:
        return "<1 %"
    return f"{100 * probability:.0f} %"


def moved(now: float, before: float | None) -> str:
    """An arrow and the points since the last answer: `▲ 12`, `▼ 3`, or blank."""
    if before is None:
        return ""
    points = 100 * (now - before)
    if abs(points) < _LEAST_POINTS:
        return "="
    return f"{'▲' if points > 0 else '▼'} {abs(points):.0f}"


def axle_word(cause: RankedCause) -> str:
    """front, rear, `f/r` where it cannot be told, nothing for a cause of the whole car."""
    if cause.wheel is not None:
        return "".join(part[0] for part in cause.wheel.split("-")).upper()
    if cause.axle is None or cause.probability <= 0:
        return ""
    return cause.axle if cause.axles[cause.axle] / cause.probability >= 0.6 else "f/r"


def cause_line(place: int, cause: RankedCause, before: float | None, *, cells: int) -> str:
    """One cause in one line: place, name, axle, bar, per cent, movement."""
    chance = f"{meter(cause.probability, cells)} {percent(cause.probability):>5} {moved(cause.probability, before)}"
    return f"{place} {cause.short:27.27} {axle_word(cause):5} {chance}".rstrip()


class CausesPanel(Static):
    """Shows an assessment; `tall` is the side panel with two lines a cause, else a strip of three lines."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id, markup=False)
        self.assessment: Assessment | None = None
        self.previous: Assessment | None = None
        self.tall = False

    def show(self, assessment: Assessment, previous: Assessment | None, *, tall: bool) -> None:
        self.assessment, self.previous, self.tall = assessment, previous, tall
        self.update("\n".join(self._tall() if tall else self._strip()))

    def _before(self) -> dict[str, float]:
        return {cause.id: cause.probability for cause in self.previous.causes} if self.previous else {}

    def _strip(self) -> list[str]:
        if self.assessment is None:
            return []
        before = self._before()
        cells = max(6, min(20, self.app.size.width - 56))
        return [
            cause_line(place, cause, before.get(cause.id), cells=cells)
            for place, cause in enumerate(self.assessment.causes[:3], 1)
        ]

    def _tall(self) -> list[str]:
        if self.assessment is None:
            return []
        before = self._before()
        lines = ["CAUSES", ""]
        for place, cause in enumerate(self.assessment.causes[:9], 1):
            if cause.probability < 0.005 and place > 3:
                break
            lines.append(f"{place} {cause.short:28.28} {axle_word(cause)}".rstrip())
            lines.append(
                f"  {meter(cause.probability, 14)} {percent(cause.probability):>5} "
                f"{moved(cause.probability, before.get(cause.id))}".rstrip()
            )
        if self.assessment.undecided:
            lines += ["", "? Cannot tell yet:", "  no cause leads clearly."]
        verdict = self.assessment.surprise.verdict
        if verdict == "nothing fits":
            lines += ["", "? What is known fits none", "  of these well."]
        elif verdict == "odd":
            lines += ["", "? Odd even for the first."]
        return lines
