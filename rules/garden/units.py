"""Conversions between the grower's units and ours (°C and SI), and physical constants with their sources."""

from typing import Final

STEFAN_BOLTZMANN_W_M2_K4: Final = 5.670374e-8  # CODATA 2018, 5.670374419e-8
ABSOLUTE_ZERO_C: Final = -273.15  # definition of the Celsius scale
M_S_PER_KM_H: Final = 1 / 3.6  # exact
M_S_PER_MPH: Final = 0.44704  # exact: the international mile is 1609.344 m
M_S_PER_KNOT: Final = 1852 / 3600  # exact: the nautical mile is 1852 m
CM_PER_INCH: Final = 2.54  # exact
M_PER_FOOT: Final = 0.3048  # exact
KG_PER_POUND: Final = 0.45359237  # exact: the international pound


def c_from_f(fahrenheit: float) -> float:
    """Degrees Celsius of a temperature in degrees Fahrenheit (exact by definition).

    >>> c_from_f(28.0)
    -2.2222222222222223
    """
    return (fahrenheit - 32.0) / 1.8


def f_from_c(celsius: float) -> float:
    """Degrees Fahrenheit of a temperature in degrees Celsius (exact by definition).

    >>> f_from_c(-40.0)
    -40.0
    """
    return celsius * 1.8 + 32.0
