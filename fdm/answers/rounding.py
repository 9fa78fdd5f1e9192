"""Numbers as text: rounded to the digits that their bands allow in tables, and to three in sentences."""

import math

from fdm.surroundings.film import Film

EXACT = 7  # significant digits: more tell nobody anything, and an answer that has them all is as good as exact


def with_band(value: float, band: float, unit: str = "") -> str:
    """The value rounded to two significant digits of its band, but to no more than EXACT of its own; without a
    band, to five.

    >>> with_band(0.214317, 0.00031, "K/W")
    '0.21432 ± 0.00031 K/W'
    >>> with_band(28534.2, 127.0, "W")
    '28530 ± 130 W'
    >>> with_band(2.1432e-7, 3e-10, "W/K")
    '(2.1432 ± 0.0030)e-07 W/K'
    >>> with_band(20.811897512, 2.1e-8, "degC")
    '20.81190 degC'
    >>> with_band(7.0, 0.0, "degC")
    '7 degC'
    """
    tail = f" {unit}" if unit else ""
    if not math.isfinite(value):
        return "-"
    if not math.isfinite(band):
        return f"{value:.5g} ± ?{tail}"
    if band <= 1e-12 * abs(value) or band < 1e-300:
        return f"{value:.5g}{tail}"
    size = max(abs(value), band)
    power = math.floor(math.log10(size)) if size >= 1e6 or size < 1e-3 else 0
    value, band = value / 10.0**power, band / 10.0**power
    digits = 1 - math.floor(math.log10(float(f"{band:.1e}")))
    most = EXACT - 1 - math.floor(math.log10(max(abs(value), band)))
    if digits > most + 1:  # less than one of the last digit
        digits, both = most, ""
    else:
        both = f" ± {fixed(band, digits)}"
    number = fixed(value, digits) + both
    if power == 0:
        return number + tail
    return (f"({number})" if both else number) + f"e{power:+03d}{tail}"


def brief(value: float, band: float, unit: str = "") -> str:
    """Three significant digits; and ±, rounded up to one, where the band reaches the last of them. For sentences.

    >>> brief(49.8984, 0.015, "degC"), brief(0.0772, 0.0031, "K/W"), brief(-1.2233, 0.0062, "degC")
    ('49.9 degC', '0.077 ± 0.004 K/W', '-1.22 ± 0.01 degC')
    >>> brief(28534.2, 127.0, "W"), brief(2.14e-7, 3e-10, "W/K"), brief(7.1, math.inf, "degC")
    ('28500 ± 200 W', '2.14e-07 W/K', '7.1 ± ? degC')
    >>> brief(60.0, 0.0, "W"), brief(60.0, 0.01, "W")
    ('60 W', '60.0 W')
    """
    tail = f" {unit}" if unit else ""
    if not math.isfinite(value):
        return "not known"
    if not math.isfinite(band):
        return f"{value:.3g} ± ?{tail}"
    power = math.floor(math.log10(abs(value))) if value else 0
    digits = 2 - power
    if not 1e-4 <= abs(value) < 1e6:
        return f"{value:.3g}{tail}" if 10.0**digits * band < 0.5 else f"{value:.3g} ± {band:.1g}{tail}"
    if not band:
        return f"{float(fixed(value, digits)):.6g}{tail}"  # exact: no zeros at its end
    if 10.0**digits * band < 0.5:
        return f"{fixed(value, digits)}{tail}"
    shown = min(digits, -math.floor(math.log10(band)))
    return f"{fixed(value, shown)} ± {fixed(math.ceil(band * 10.0**shown - 1e-9) / 10.0**shown, shown)}{tail}"


def rough(value: float) -> str:
    """Two significant digits, without an exponent from 0.0001 to a million.

    >>> rough(634.2), rough(0.97), rough(3.04), rough(0.00017), rough(0.0)
    ('630', '0.97', '3', '0.00017', '0')
    """
    plain = 1e-4 <= abs(value) < 1e6
    return f"{float(f'{value:.2g}'):.6g}" if plain else f"{value:.2g}"


def fixed(value: float, digits: int) -> str:
    """The value to so many decimals; to tens and hundreds where `digits` are below 0.

    >>> fixed(28534.2, -1), fixed(-0.0001, 2)
    ('28530', '0.00')
    """
    rounded = round(value, digits)
    return f"{rounded + 0.0:.{max(digits, 0)}f}"  # + 0.0: no minus before a zero


def film_in_words(found: Film) -> str:
    """A film with its relation's uncertainty, and the area that it belongs to."""
    return f"{with_band(found.film, found.uncertainty * found.film, 'W/(m2 K)')} of {found.of}"
