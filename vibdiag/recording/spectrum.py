"""Power over the stretch of the angle, smoothed by just the width that the noise of the speed gives a true order.

An order seen through a walking angle is not a line but a hump, and the best detector of a weak hump is the spectrum
smoothed by the hump's own shape (the estimator-correlator of a random phase; Van Trees, Detection, Estimation and
Modulation Theory, part III). For a random walk the correlation falls as exp(-D |lag| / 2), so the smoothing is a lag
window of that form (Blackman and Tukey 1958).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vibdiag.recording.demodulate import ComplexArray, Envelope
from vibdiag.recording.signal import FloatArray

__all__ = ["StretchSpectrum", "stretch_spectrum"]

_FORGOTTEN = 1e-3  # correlation at which the lag window is cut


@dataclass(frozen=True, slots=True, eq=False)
class StretchSpectrum:
    """Power of one channel at one order over the stretch.

    stretch: (M,), relative; the wheel turns (1 + stretch) times as often as was reckoned. power: (M,). looks: number
    of independent complex looks averaged in each value. width: of the smoothing, as a stretch; values that far apart
    are independent. signal_gain: power that an amplitude of one with a phase walking as foreseen adds at its own
    stretch, on average. noise_gain: power that
    noise of unit spread has on average.
    """

    stretch: FloatArray
    power: FloatArray
    looks: float
    width: float
    signal_gain: float
    noise_gain: float


def stretch_spectrum(
    envelope: Envelope,
    channel: int,
    *,
    diffusion: float,
    reach: float,
    memory_turns: float = 0.0,
    exponent: float = 1.0,
) -> StretchSpectrum:
    """Spectrum of one channel of an envelope.

    diffusion: growth of the phase's variance, rad2 per turn (Course.diffusion). memory_turns: for how long its steps
    keep their sign. reach: largest stretch wanted, either
    way. exponent: how the amplitude is taken to grow with speed, for weighting (0 runout, 2 imbalance, 1 between).
    """
    shape = (envelope.rotation_hz / envelope.mean_rotation_hz) ** exponent
    weight = shape / envelope.spread[channel]
    step = envelope.step_turns
    count = weight.size
    decay = max(diffusion, 1e-9) / 2.0
    # a walk whose steps keep their sign for memory_turns (an Ornstein-Uhlenbeck error of speed, integrated)
    memory = max(memory_turns, 1e-6)
    lags = int(min(count - 1, (-np.log(_FORGOTTEN) / decay + memory) / step + 1))
    lag = step * np.arange(lags + 1)
    window = np.exp(-decay * (lag - memory * -np.expm1(-lag / memory)))
    size = 1 << int(count + lags).bit_length()
    correlation = _correlation(envelope.pointer[channel] * weight, size, lags)
    noise_weight = shape**2 / envelope.spread[channel]
    noise = _correlation(noise_weight.astype(np.complex128), size, lags).real
    steady = _correlation((shape * weight).astype(np.complex128), size, lags).real
    looks = float(noise_weight.sum()) ** 2 / (noise[0] + 2.0 * float(np.sum(noise[1:] * window[1:] ** 2)))
    walking_gain = float(steady[0]) + 2.0 * float(np.sum(steady[1:] * window[1:] ** 2))
    length = float(noise_weight.sum()) ** 2 / float(np.sum(noise_weight**2)) * step
    fine = 1 << int(4 * (lags + 1)).bit_length()
    one_sided = np.zeros(fine, dtype=np.complex128)
    one_sided[: lags + 1] = correlation * window
    one_sided[0] *= 0.5
    power = np.fft.fftshift(2.0 * np.fft.fft(one_sided).real)
    stretch = np.fft.fftshift(np.fft.fftfreq(fine, step)) / envelope.order
    near = np.abs(stretch) <= reach
    width = looks / length / envelope.order
    return StretchSpectrum(
        stretch[near], np.maximum(power[near], 0.0), looks, width, walking_gain, float(noise_weight.sum())
    )


def _correlation(values: ComplexArray, size: int, lags: int) -> ComplexArray:
    """sum_k conj(v_k) v_(k + lag), lag = 0 ... lags."""
    return np.asarray(np.fft.ifft(np.abs(np.fft.fft(values, size)) ** 2)[: lags + 1], dtype=np.complex128)
