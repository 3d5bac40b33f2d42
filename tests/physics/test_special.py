"""Special functions against those of scipy, over all that is asked of them."""

from __future__ import annotations

import math

import numpy as np
import scipy.special

from passage.physics.special import erfc, gammaln, normal_share_below


def test_as_scipy_has_them() -> None:
    x = np.concatenate([np.linspace(-8.0, 26.0, 341).reshape(11, 31).ravel(), [np.nan, np.inf]])
    np.testing.assert_allclose(erfc(x), scipy.special.erfc(x), rtol=1e-13)
    # Far out the rounding of z / sqrt(2) counts z^2 times.
    np.testing.assert_allclose(
        normal_share_below(-x[:341]), scipy.special.ndtr(-x[:341]), rtol=1e-12, atol=1e-300
    )
    high = np.linspace(0.02, 200.0, 900).reshape(30, 30)
    np.testing.assert_allclose(gammaln(high), scipy.special.gammaln(high), rtol=1e-13, atol=1e-14)


def test_scalars_and_empty_arrays_keep_their_shape() -> None:
    assert erfc(0.0).shape == ()
    assert float(normal_share_below(0.0)) == 0.5
    assert gammaln(np.zeros((0, 2))).shape == (0, 2)
    assert math.isnan(float(normal_share_below(np.nan)))
