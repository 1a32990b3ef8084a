"""The ways of taking a reading that the bay offers. A new family of readings gets its form by one line here."""

from __future__ import annotations

from vibdiag.screen.overlays.reading_form import ReadingForm
from vibdiag.screen.overlays.round_reading import RoundReading
from vibdiag.screen.overlays.single_reading import SingleReading

__all__ = ["READING_FORMS"]

# Family of quantities -> its form. The bay shows a choice between them as soon as there are two.
READING_FORMS: dict[str, type[ReadingForm]] = {"one-value": SingleReading, "round": RoundReading}
