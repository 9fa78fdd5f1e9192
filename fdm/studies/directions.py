"""Which of two values of an answer a builder calls better: the one table, by family, and by role where that decides.

What is missing here has no better: a reading, a surface's temperature or a current is right or wrong only beside what
it is wanted to be, so no design is called best by it.
"""

from fdm.answers.quantity import Quantity

LOWER, HIGHER, SMALLER = "lower", "higher", "smaller in size"

BETTER = {
    # of sections
    ("temperature", "heated"): LOWER,
    ("temperature", "cooled"): HIGHER,  # a face that takes heat from air is better the nearer it stays to that air
    ("misreading", ""): SMALLER,  # too cold is no better than too warm
    ("stem", ""): SMALLER,
    ("self_heating", ""): LOWER,
    ("spreading", ""): LOWER,
    ("bridge", ""): LOWER,
    ("loss", ""): SMALLER,  # its sign only says which way the heat goes
    ("coupling", ""): LOWER,  # between two airs: a leak
    ("resistance", ""): LOWER,
    ("resistance_max", ""): LOWER,
    ("margin", ""): HIGHER,  # to sweating
    ("sweats_from", ""): HIGHER,
    ("temperature_factor", ""): HIGHER,
    # of cabinets, with the modules always on
    ("temperature", "air"): LOWER,
    ("temperature", "load"): LOWER,
    ("temperature", "air at the cold sink"): LOWER,
    ("temperature", "hot face"): LOWER,
    ("temperature", "air at the hot sink"): LOWER,
    ("above_setpoint", ""): LOWER,
    ("power", ""): LOWER,
    ("power_with_fans", ""): LOWER,
    ("lead_loss", ""): LOWER,
    ("cop", ""): HIGHER,
    ("budget", ""): LOWER,
    ("lowest", ""): LOWER,
    ("water_a_day", ""): LOWER,
    ("frozen_a_day", ""): LOWER,
    ("latent", ""): LOWER,
    # of cabinets, as the thermostat runs them
    ("time_to_setpoint", ""): LOWER,
    ("load_time", ""): LOWER,
    ("load_setpoint_time", ""): LOWER,
    ("duty", ""): LOWER,
    ("mean_power", ""): LOWER,
    ("energy_a_day", ""): LOWER,
}


def better(quantity: Quantity) -> str | None:
    """LOWER, HIGHER, SMALLER, or None where no value is better by itself.

    >>> better(Quantity(("sensors", "bead", "reading"), "reading of bead", "degC", "reading")) is None
    True
    """
    return BETTER.get((quantity.family, quantity.role))


def of_size(quantity: Quantity) -> bool:
    """Whether its size is what counts, not its sign."""
    return better(quantity) == SMALLER
