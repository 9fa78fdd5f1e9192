import math

import pytest

from fdm.answers.rounding import with_band


@pytest.mark.parametrize(
    ("value", "band", "text"),
    [
        (0.2143, 0.0003, "0.21430 ± 0.00030"),
        (0.2143, 0.0, "0.2143"),
        (-12.345, 0.99, "-12.35 ± 0.99"),
        (-12.345, 0.996, "-12.3 ± 1.0"),
        (123456.7, 890.0, "123460 ± 890"),
        (5.0, 123.0, "0 ± 120"),
        (2.5e-7, 1e-9, "(2.500 ± 0.010)e-07"),
        (-3.4567e9, 2e6, "(-3.4567 ± 0.0020)e+09"),
        (-0.0001, 0.02, "0.000 ± 0.020"),
        (0.0, 1e-9, "(0.0 ± 1.0)e-09"),
        (0.0, 0.0, "0"),
        (-7.0, 1e-12, "-7"),
        (1.0, 1e-11, "1.000000000"),
        (1.0, 3.2e-8, "1.000000000 ± 0.000000032"),
        (math.nan, 1.0, "-"),
        (3.14159, math.nan, "3.1416 ± ?"),
    ],
)
def test_number_is_rounded_to_its_band(value, band, text):
    assert with_band(value, band) == text


def test_unit_follows():
    assert with_band(0.2143, 0.0003, "K/W") == "0.21430 ± 0.00030 K/W"
