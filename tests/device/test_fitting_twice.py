"""Fitting a device that is fitted already changes nothing, whatever ids its entries share."""

from lastscrew.device.fitting import fit
from tests.oracle.devices import case_from_seed


def test_fitting_twice_is_fitting_once() -> None:
    lacking = 0
    for seed in range(4_000, 4_400):
        device, request = case_from_seed(seed)
        once = fit(device, request.not_fitted, request.fitted)
        assert fit(once, request.not_fitted, request.fitted) == once
        lacking += bool(once.lacks)
    assert lacking > 20
