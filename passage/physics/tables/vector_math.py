"""Elementary functions that a compiler can compute for several lanes at once.

Those of the mathematics library are called once for each number; these are sums and products
only, inlined into the loops over lanes, some seven times as fast.

Source of the error function: M. Abramowitz, I. A. Stegun (eds.), Handbook of Mathematical
Functions, National Bureau of Standards, 1964, 7.1.26.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_part

_LN2 = math.log(2.0)
_PER_LN2 = 1.0 / _LN2
#: Bits of a number: those of its fraction, those of the root of a half, exponent of one.
_FRACTION = 52
_ROOT_HALF = int(np.float64(math.sqrt(0.5)).view(np.int64))
_ONE = 1023
#: Exponentials beyond are cut off, as they would be infinite or zero.
_MOST = 700.0
_ROOT_2_PI = math.sqrt(2.0 / math.pi)
_QUARTER = 0.5 * math.pi
_PER_QUARTER = 1.0 / _QUARTER
_ERF_SCALE = 0.3275911 / math.sqrt(2.0)
_ERF = (0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429)


@compile_part
def log_of(x):  # type: ignore[no-untyped-def]
    """Natural logarithm of a positive number, within 1e-9. [dimensionless]"""
    bits = np.float64(x).view(np.int64)
    power = (bits - _ROOT_HALF) >> _FRACTION
    near_one = np.int64(bits - (power << _FRACTION)).view(np.float64)
    s = (near_one - 1.0) / (near_one + 1.0)
    t = s * s
    series = 1.0 / 7.0 + t * (1.0 / 9.0 + t * (1.0 / 11.0 + t * (1.0 / 13.0)))
    series = 1.0 + t * (1.0 / 3.0 + t * (1.0 / 5.0 + t * series))
    return float(power) * _LN2 + 2.0 * s * series


@compile_part
def exp_of(x):  # type: ignore[no-untyped-def]
    """Exponential, to a relative 1e-9. [dimensionless]"""
    x = min(max(x, -_MOST), _MOST)
    power = int(x * _PER_LN2 + (_ONE + 0.5)) - _ONE
    r = x - float(power) * _LN2
    series = 1.0 / 120.0 + r * (1.0 / 720.0 + r * (1.0 / 5040.0 + r * (1.0 / 40320.0)))
    series = 1.0 + r * (0.5 + r * (1.0 / 6.0 + r * (1.0 / 24.0 + r * series)))
    return (1.0 + r * series) * np.int64((power + _ONE) << _FRACTION).view(np.float64)


@compile_part
def inside_of(x):  # type: ignore[no-untyped-def]
    """Share of time that a Gaussian is inside a limit of ``x`` rms, and its slope; x from 0 up.

    The share is within 2e-7, the slope within a relative 1e-9. [dimensionless]
    """
    bell = exp_of(-0.5 * x * x)
    t = 1.0 / (1.0 + _ERF_SCALE * x)
    series = t * (_ERF[0] + t * (_ERF[1] + t * (_ERF[2] + t * (_ERF[3] + t * _ERF[4]))))
    return 1.0 - series * bell, _ROOT_2_PI * bell


@compile_part
def cos_sin_of(x):  # type: ignore[no-untyped-def]
    """Cosine and sine of an angle from 0 to 16, within 2e-9. [x in rad]"""
    quarter = int(x * _PER_QUARTER + 0.5)
    r = x - float(quarter) * _QUARTER
    t = r * r
    sin = r * (1.0 - t * (1 / 6 - t * (1 / 120 - t * (1 / 5040 - t * (1 / 362880)))))
    cos = 1 / 24 - t * (1 / 720 - t * (1 / 40320 - t * (1 / 3628800)))
    cos = 1.0 - t * (0.5 - t * cos)
    odd = quarter & 1 == 1
    c, s = sin if odd else cos, cos if odd else sin
    return -c if (quarter + 1) & 2 == 2 else c, -s if quarter & 2 == 2 else s
