"""When the sun rises or sets at one place: the root of astral's elevation, in whole seconds."""

from __future__ import annotations

from advisor.physics import sun

STEP_S = 600


def rise_or_set(latitude_deg: float, longitude_deg: float, from_s: int, until_s: int) -> tuple[int, bool] | None:
    """The first sunrise or sunset in a stretch of time.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Of the place, -90 to 90 and -180 to 180.
    from_s, until_s
        Whole seconds since 1970 UTC, 1900 to 2100. What rises and sets within ten minutes is not seen.

    Returns
    -------
    tuple[int, bool] | None
        The second from which the sun's upper limb stands above the horizon, or no longer does, with the refraction of
        the almanacs; whether it rises. None where there is neither, as in a polar night.

    References
    ----------
    noaa-solar
    """

    def up(at_s: int) -> bool:
        return float(sun.elevation_deg(at_s, latitude_deg, longitude_deg)) >= sun.SUNRISE_DEG

    before, was_up = from_s, up(from_s)
    while before < until_s:
        after = min(before + STEP_S, until_s)
        if up(after) != was_up:
            while after - before > 1:
                middle = (before + after) // 2
                before, after = (middle, after) if up(middle) == was_up else (before, middle)
            return after, not was_up
        before = after
    return None
