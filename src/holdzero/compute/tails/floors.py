"""Floors: how much has to be read before anything may be called proved."""

FEWEST_POWER_UPS = 4
FEWEST_HOMINGS = 12  # of one series


def enough(*, power_ups: int, homings: int) -> bool:
    """Tell whether a series was read often enough for a verdict that holds."""
    return power_ups >= FEWEST_POWER_UPS and homings >= FEWEST_HOMINGS
