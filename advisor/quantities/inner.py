"""What only physics needs: columns that no rule tests and no timeline shows."""

from __future__ import annotations

from advisor.quantities.kinds import (
    ALL,
    ANY,
    BY_CLOUD,
    BY_WIND,
    EACH_DOOR,
    EACH_TIME,
    HIGHER,
    SET,
    Quantity,
    flag_row,
    number_row,
)

_ROWS = (
    # what only physics needs
    number_row(
        "skin_wind_kt",
        "kt",
        0,
        (0, 200),
        "mean wind at the skin, a bound where it is not known",
        worse=BY_WIND,
        part="wind",
    ),
    number_row(
        "sky_divisor",
        "",
        1,
        (1, 1000),
        "how much of the light of a clear sky the cloud takes away, as a divisor",
        worse=BY_CLOUD,
        part="cloud",
    ),
    number_row(
        "seen_gust_kt",
        "kt",
        0,
        (0, 250),
        "gust as observed, an unreported one included",
        worse=BY_WIND,
        missing="history",
        settled_by=("wind_kt",),
    ),
    number_row("peak_wind_kt", "kt", 0, (0, 250), "strongest peak wind of the remarks so far", shape=EACH_TIME),
    number_row(
        "snow_intensity_code",
        "",
        0,
        (0, 4),
        "snow by the sign of its code: 2 light, 3 moderate, 4 heavy",
        worse=HIGHER,
        part="weather",
    ),
    Quantity(
        name="treatment_classes",
        kind=SET,
        meaning="what may be falling as treatment tables class it, a bit each",
        worse=ALL,
        not_told=25,
        part="weather",
        missing="precipitation",
    ),
    flag_row(
        "storm_said",
        "thunderstorm in the weather groups",
        worse=ANY,
        part="weather",
        passes=True,
        missing="precipitation",
    ),
    flag_row(
        "storm_remark",
        "lightning or storm cloud in the remarks, not said to be far",
        worse=ANY,
        passes=True,
        missing="precipitation",
    ),
    flag_row(
        "sky_undescribed",
        "nobody described the sky",
        worse=ANY,
        part="cloud",
        unbounding=True,
        missing="cloud_fraction",
    ),
    flag_row("snow_depth", "snow on the ground or frozen deposits on the runways in a report", shape=EACH_TIME),
    number_row(
        "assumed_fuel_temperature_c",
        "°C",
        0,
        (-60, 70),
        "fuel where it was not stated: the air of now",
        missing="air_temperature_c",
    ),
    number_row(
        "skin_fuel_temperature_c",
        "°C",
        0,
        (-60, 70),
        "fuel that the skin over the tanks is worked out with",
    ),
    flag_row(
        "storm_near",
        "thunderstorm, storm cloud or squall that gusts may come from",
        unbounding=True,
        missing="storm",
    ),
    flag_row("frostbite_absent", "so mild that no time to frostbite is published"),
    flag_row("wind_chill_absent", "so calm or so warm that there is no wind chill"),
    flag_row("aircraft_snow", "snow lies on the aircraft"),
    flag_row("ended_lies", "what ended within two hours, or was seen to build up, may still lie there"),
    flag_row("aircraft_wet_or_ice", "water or what froze of it lies on the aircraft"),
    flag_row("aircraft_anything", "anything lies on the aircraft"),
    flag_row("aircraft_lies", "snow, ice or frost that is felt lies on the aircraft"),
    flag_row("apron_lies", "snow, ice or frost that is felt lies on the apron"),
    flag_row("apron_wet_or_ice", "water or what froze of it lies on the apron"),
    flag_row("apron_snow", "snow lies on the apron"),
)
_DOORS = tuple(
    number_row(name, "kt", 0, (-250, 250), meaning, shape=EACH_DOOR)
    for name, meaning in (
        ("operate_margins_kt", "each door's operating limit less the gust"),
        ("stay_open_margins_kt", "each door's stay-open limit less the gust"),
    )
)
_SEEN = tuple(
    flag_row(f"seen_{kind}", f"{meaning} at the time, as observed", shape=EACH_TIME, missing="history")
    for kind, meaning in (
        ("freezing", "freezing precipitation"),
        ("frozen", "anything frozen or freezing"),
        ("precipitation", "anything falling"),
        ("rain", "rain or drizzle"),
        ("hail", "hail"),
        ("thunderstorm", "thunderstorm"),
        ("squall", "squall"),
        ("funnel", "funnel cloud, tornado or waterspout"),
        ("storm", "thunderstorm at the station or near it"),
        ("snow", "snow"),
        ("pellets", "ice pellets"),
    )
)
_LATELY = tuple(
    flag_row(f"recent_{kind}", f"{meaning} within the last two hours", missing="precipitation")
    for kind, meaning in (
        ("squall", "squall"),
        ("funnel", "funnel cloud, tornado or waterspout"),
        ("storm", "thunderstorm at the station or near it"),
        ("snow", "snow"),
        ("pellets", "ice pellets"),
    )
)

ROWS: tuple[Quantity, ...] = (*_ROWS, *_LATELY, *_SEEN, *_DOORS)
