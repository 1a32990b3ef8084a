"""A recording, its signs and its orders into the case it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from vibdiag.case.model import Case, OrderAtSpeed, RecordedOrder, RecordedSign
from vibdiag.commands.road.ask import Judged, rotation_doubt, unit_doubt
from vibdiag.files.errors import InputError
from vibdiag.recording.orders import Line
from vibdiag.recording.signal import Place
from vibdiag.work.attachments import with_recording
from vibdiag.work.shelf import CaseInHand

__all__ = ["keep"]


def keep(
    hand: CaseInHand, files: Sequence[Path], judged: Judged, *, place: Place, taken: Literal["before", "after"]
) -> Case:
    """Attach the files to the case in hand, signs and orders to the first of them that was read, and save it.

    Where the unit is in doubt that is kept, too. A file that is attached already keeps its note and gets the new signs
    and orders. Raises InputError when it cannot be kept.
    """
    case = hand.case
    signs = [
        RecordedSign(sign=each.sign, word=each.word, trust=round(float(each.trust), 4), because=each.because)
        for each in judged.analysis.signs
    ]
    orders = [_order(judged, line) for line in judged.analysis.lines]
    first = next(file for file in files if file not in judged.reading.left_out)
    try:
        for file in files:
            kept = hand.bring(str(file.resolve()))
            if not any(one.path == kept for one in case.attachments):
                case = with_recording(case, kept, sensor_place=place, taken=taken)
            read: dict[str, object] = {"signs": [], "orders": [], "unit_doubt": None, "rotation_doubt": None}
            if file == first:
                doubts = {"unit_doubt": unit_doubt(judged) or None, "rotation_doubt": rotation_doubt(judged) or None}
                read = {"signs": signs, "orders": orders, **doubts}
            case = case.model_copy(
                update={
                    "attachments": [
                        one.model_copy(update={"sensor_place": place, "taken": taken, **read})
                        if one.path == kept
                        else one
                        for one in case.attachments
                    ]
                }
            )
        hand.save(case, f"recording {files[0].name}", by=None, sound=lambda _: None)
    except InputError:
        raise
    except ValueError as error:
        raise InputError(str(error)) from error
    except OSError as error:
        raise InputError(f"cannot be written: {error.strerror}; the case is as it was", file=hand.name) from error
    return hand.case


def _order(judged: Judged, line: Line) -> RecordedOrder:
    """A found line as the case keeps it: five digits, and its amplitude over speed."""
    found, channel = judged.analysis, judged.reading.recording.channels[line.channel]
    mean_kmh = None if found.mean_speed_ms is None else round(3.6 * found.mean_speed_ms, 2)
    low, high = (round(max(0.0, float(each)), 5) for each in line.interval)
    return RecordedOrder(
        order=line.name,
        part=line.part,
        axis=line.channel,
        unit=channel.unit,
        hz=round(float(line.frequency_hz), 3),
        kmh=mean_kmh,
        amplitude=round(float(line.amplitude), 5),
        low=low,
        high=high,
        over_speed=[
            OrderAtSpeed(
                kmh=round(float(at.speed_kmh), 1),
                amplitude=round(max(0.0, float(at.amplitude)), 5),
                low=round(max(0.0, float(at.interval[0])), 5),
                high=round(max(0.0, float(at.interval[1])), 5),
            )
            for at in found.over_speed.get((line.name, line.channel), ())
        ],
    )
