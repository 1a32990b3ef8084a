"""One recording to attach: where the file lies, where the sensor sat, before or after the repair."""

from __future__ import annotations

from typing import ClassVar, get_args

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Grid, VerticalScroll
from textual.widgets import Input, Label, Select, Static

from vibdiag.case.model import Case
from vibdiag.screen.overlays.base import Overlay
from vibdiag.work.attachments import SensorPlace, Taken, with_recording
from vibdiag.work.shelf import CaseInHand

__all__ = ["AttachOverlay"]


class AttachOverlay(Overlay[Case]):
    """Returns the case with the recording; a file that is not there is said in one sentence and nothing is lost."""

    heading = "RECORDING    of a road test, before or after the repair"
    help_topic = "road"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "keep", "Keep")]

    def __init__(self, case: Case, hand: CaseInHand, taken: Taken) -> None:
        super().__init__()
        self.case, self.hand, self.taken = case, hand, taken

    def body(self) -> ComposeResult:
        with VerticalScroll():
            yield Label("Path of the recording")
            yield Input(placeholder="/media/stick/drive.csv", id="path", max_length=500)
            with Grid(classes="fields"):
                yield Label("sensor on")
                places = [(place.replace("-", " "), place) for place in get_args(SensorPlace)]
                yield Select(places, value="unknown", id="place", allow_blank=False)
                yield Label("the repair")
                sides = [(f"{side} the repair" if side != "unknown" else side, side) for side in get_args(Taken)]
                yield Select(sides, value=self.taken, id="taken", allow_blank=False)
            yield Static("", id="fault", markup=False)
            yield Static(f"Ctrl+S keeps it: {self.hand.recordings}.", markup=False)

    def on_mount(self) -> None:
        self.query_one("#path", Input).focus()

    def on_input_submitted(self) -> None:
        self.action_keep()

    def action_keep(self) -> None:
        place: SensorPlace = self.query_one("#place", Select).value  # type: ignore[assignment]
        taken: Taken = self.query_one("#taken", Select).value  # type: ignore[assignment]
        typed = self.query_one("#path", Input).value
        try:
            kept = self.hand.bring(typed)
            case = with_recording(self.case, kept, sensor_place=place, taken=taken)
        except ValueError as error:
            self.query_one("#fault", Static).update(f"! {error}")
            return
        except OSError as error:
            self.query_one("#fault", Static).update(f"! not kept: {error.strerror}")
            return
        self.hand_over(case)
