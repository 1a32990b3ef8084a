"""A seeded car to practise on: recordings whose answers are known.

>>> from vibdiag.recording.car_model import Drive, Wheel, practice_recording
>>> drive = practice_recording(1, drive=Drive(seconds=10), wheels=(Wheel(place=0, imbalance_g=60),))
>>> sorted(drive.recording.channels)
['ax', 'ay', 'az']
"""

from vibdiag.recording.car_model.body import Car
from vibdiag.recording.car_model.driving import Drive
from vibdiag.recording.car_model.instruments import Instruments
from vibdiag.recording.car_model.practice import Practice, practice_recording
from vibdiag.recording.car_model.road import Road, make_road
from vibdiag.recording.car_model.sources import Body, Shaft, Wheel

__all__ = [
    "Body",
    "Car",
    "Drive",
    "Instruments",
    "Practice",
    "Road",
    "Shaft",
    "Wheel",
    "make_road",
    "practice_recording",
]
