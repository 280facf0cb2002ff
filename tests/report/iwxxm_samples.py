"""IWXXM documents for tests, put together from the element names of the schema (WMO-No. 306, Volume I.3, FM 205).

The weather is that of the test: the ICAO examples where a test says so, else invented (stations beginning with ZZ).
"""

from __future__ import annotations

SPACES = (
    'xmlns:iwxxm="http://icao.int/iwxxm/{version}" xmlns:gml="http://www.opengis.net/gml/3.2" '
    'xmlns:aixm="http://www.aixm.aero/schema/5.1.1" xmlns:xlink="http://www.w3.org/1999/xlink"'
)
NIL = "http://codes.wmo.int/common/nil/"


def instant(name, time):
    return f"<iwxxm:{name}>{moment(time)}</iwxxm:{name}>" if time else ""


def moment(time):
    return f"<gml:TimeInstant><gml:timePosition>{time}</gml:timePosition></gml:TimeInstant>"


def period(name, begin, end, key=""):
    return (
        f'<iwxxm:{name}><gml:TimePeriod gml:id="{key or name}"><gml:beginPosition>{begin}</gml:beginPosition>'
        f"<gml:endPosition>{end}</gml:endPosition></gml:TimePeriod></iwxxm:{name}>"
    )


def aerodrome(station):
    return (
        "<iwxxm:aerodrome><aixm:AirportHeliport><aixm:timeSlice><aixm:AirportHeliportTimeSlice>"
        f"<aixm:designator>{station}</aixm:designator><aixm:locationIndicatorICAO>{station}</aixm:locationIndicatorICAO>"
        "</aixm:AirportHeliportTimeSlice></aixm:timeSlice></aixm:AirportHeliport></iwxxm:aerodrome>"
    )


def report(kind, station, time, inside, *, version="2025-2", attributes='reportStatus="NORMAL"'):
    """One METAR, SPECI or TAF element; inside: what follows the aerodrome."""
    observed = "" if kind == "TAF" else instant("observationTime", time)
    return (
        f"<iwxxm:{kind} {SPACES.format(version=version)} {attributes}>{instant('issueTime', time)}{aerodrome(station)}"
        f"{observed}{inside}</iwxxm:{kind}>"
    )


def observation(inside, attributes='cloudAndVisibilityOK="false"'):
    return (
        f"<iwxxm:observation><iwxxm:MeteorologicalAerodromeObservation {attributes}>{inside}"
        "</iwxxm:MeteorologicalAerodromeObservation></iwxxm:observation>"
    )


def metar(inside, *, attributes='reportStatus="NORMAL"', observed='cloudAndVisibilityOK="false"', after="", **more):
    """An invented METAR with an observation."""
    inside = observation(inside, observed) + after
    return report("METAR", "ZZZA", "2026-01-10T05:50:00Z", inside, attributes=attributes, **more)


def value(name, number, unit):
    return f'<iwxxm:{name} uom="{unit}">{number}</iwxxm:{name}>'


def wind(direction=None, speed=None, gust=None, unit="[kn_i]", *, forecast=False, variable="false", more=""):
    name = "AerodromeSurfaceWindForecast" if forecast else "AerodromeSurfaceWind"
    parts = "" if direction is None else value("meanWindDirection", direction, "deg")
    parts += "" if speed is None else value("meanWindSpeed", speed, unit)
    parts += "" if gust is None else value("windGustSpeed", gust, unit)
    return (
        f'<iwxxm:surfaceWind><iwxxm:{name} variableWindDirection="{variable}">{parts}{more}</iwxxm:{name}>'
        "</iwxxm:surfaceWind>"
    )


def visibility(metres, *, above=False, more=""):
    return (
        "<iwxxm:visibility><iwxxm:AerodromeHorizontalVisibility>"
        f"{prevailing(metres, above=above)}{more}</iwxxm:AerodromeHorizontalVisibility></iwxxm:visibility>"
    )


def prevailing(metres, *, above=False):
    more = "<iwxxm:prevailingVisibilityOperator>ABOVE</iwxxm:prevailingVisibilityOperator>" if above else ""
    return value("prevailingVisibility", metres, "m") + more


def weather(code, name="presentWeather"):
    return f'<iwxxm:{name} xlink:href="http://codes.wmo.int/306/4678/{code}"/>'


def empty(name, why):
    return f'<iwxxm:{name} nilReason="{NIL}{why}"/>'


def layer(amount, base, kind=""):
    cover = f'<iwxxm:amount xlink:href="http://codes.wmo.int/49-2/CloudAmountReportedAtAerodrome/{amount}"/>'
    type_ = f'<iwxxm:cloudType xlink:href="http://codes.wmo.int/49-2/SigConvectiveCloudType/{kind}"/>' if kind else ""
    inside = cover + value("base", base, "[ft_i]") + type_
    return f"<iwxxm:layer><iwxxm:CloudLayer>{inside}</iwxxm:CloudLayer></iwxxm:layer>"


def cloud(*layers, forecast=False):
    name = "AerodromeCloudForecast" if forecast else "AerodromeCloud"
    return f"<iwxxm:cloud><iwxxm:{name}>{''.join(layers)}</iwxxm:{name}></iwxxm:cloud>"


def air(temperature, dew_point, qnh):
    return (
        value("airTemperature", temperature, "Cel")
        + value("dewpointTemperature", dew_point, "Cel")
        + value("qnh", qnh, "hPa")
    )


def trend(indicator, when, said, inside, attributes=""):
    return (
        f'<iwxxm:trendForecast><iwxxm:MeteorologicalAerodromeTrendForecast changeIndicator="{indicator}" {attributes}>'
        f"{when}<iwxxm:timeIndicator>{said}</iwxxm:timeIndicator>{inside}"
        "</iwxxm:MeteorologicalAerodromeTrendForecast></iwxxm:trendForecast>"
    )


def forecast(name, inside, *, indicator="", attributes='cloudAndVisibilityOK="false"', when=""):
    """baseForecast or changeForecast of a TAF."""
    change = f'changeIndicator="{indicator}"' if indicator else ""
    return (
        f"<iwxxm:{name}><iwxxm:MeteorologicalAerodromeForecast {change} {attributes}>{when}{inside}"
        f"</iwxxm:MeteorologicalAerodromeForecast></iwxxm:{name}>"
    )


def taf(inside, *, valid=("2026-01-10T06:00:00Z", "2026-01-11T12:00:00Z"), **more):
    """An invented TAF."""
    return report("TAF", "ZZZA", "2026-01-10T05:00:00Z", period("validPeriod", *valid) + inside, **more)


def collected(*reports):
    inside = "".join(f"<collect:meteorologicalInformation>{one}</collect:meteorologicalInformation>" for one in reports)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<collect:MeteorologicalBulletin '
        f'xmlns:collect="http://def.wmo.int/collect/2014">{inside}<collect:bulletinIdentifier>x.xml'
        "</collect:bulletinIdentifier></collect:MeteorologicalBulletin>"
    )


_D = "2012-08-16T"

# ICAO Annex 3, examples A3-1, A3-2, A5-1 and A5-2 (WMO schema repository's examples, read): traditional code and XML
ICAO = {
    "A3-1": (
        "METAR YUDO 221630Z 24004MPS 0600 R12/1000U DZ FG SCT010 OVC020 17/16 Q1018 BECMG TL1700 0800 FG "
        "BECMG AT1800 9999 NSW",
        report(
            "METAR",
            "YUDO",
            "2012-08-22T16:30:00Z",
            observation(
                air("17.0", "16.0", "1018")
                + wind("240", "4.0", unit="m/s")
                + visibility("600")
                + '<iwxxm:rvr><iwxxm:AerodromeRunwayVisualRange pastTendency="UPWARD"><iwxxm:runway>'
                "<aixm:RunwayDirection><aixm:timeSlice><aixm:RunwayDirectionTimeSlice><aixm:designator>12</aixm:designator>"
                "</aixm:RunwayDirectionTimeSlice></aixm:timeSlice></aixm:RunwayDirection></iwxxm:runway>"
                + value("meanRVR", "1000", "m")
                + "</iwxxm:AerodromeRunwayVisualRange></iwxxm:rvr>"
                + weather("DZ")
                + weather("FG")
                + cloud(layer("SCT", "1000"), layer("OVC", "2000"))
            )
            + trend(
                "BECOMING",
                period("phenomenonTime", "2012-08-22T16:30:00Z", "2012-08-22T17:00:00Z"),
                "UNTIL",
                prevailing("800") + weather("FG", "weather"),
            )
            + trend(
                "BECOMING",
                instant("phenomenonTime", "2012-08-22T18:00:00Z"),
                "AT",
                prevailing("10000", above=True) + empty("weather", "nothingOfOperationalSignificance"),
            ),
            version="3.0",
            attributes='reportStatus="NORMAL" automatedStation="false"',
        ),
    ),
    "A3-2": (
        "SPECI YUDO 151115Z 05025G37KT 3000 1200NE +TSRA BKN005CB 25/22 Q1008 TEMPO TL1200 0600 "
        "BECMG AT1200 8000 NSW NSC",
        report(
            "SPECI",
            "YUDO",
            "2012-08-15T11:15:00Z",
            observation(
                air("25.0", "22.0", "1008")
                + wind("50", "25.0", "37")
                + visibility(
                    "3000",
                    more=value("minimumVisibility", "1200", "m") + value("minimumVisibilityDirection", "45", "deg"),
                )
                + weather("+TSRA")
                + cloud(layer("BKN", "500", "CB"))
            )
            + trend(
                "TEMPORARY_FLUCTUATIONS",
                period("phenomenonTime", "2012-08-15T11:15:00Z", "2012-08-15T12:00:00Z"),
                "UNTIL",
                prevailing("600"),
            )
            + trend(
                "BECOMING",
                instant("phenomenonTime", "2012-08-15T12:00:00Z"),
                "AT",
                prevailing("8000")
                + empty("weather", "nothingOfOperationalSignificance")
                + empty("cloud", "nothingOfOperationalSignificance"),
            ),
            version="2021-2",
        ),
    ),
    "A5-1": (
        "TAF YUDO 151800Z 1600/1618 13005MPS 9000 BKN020 BECMG 1606/1608 SCT015CB BKN020 TEMPO 1608/1612 17006G12MPS "
        "1000 TSRA SCT010CB BKN020 FM161230 15004MPS 9999 BKN020",
        report(
            "TAF",
            "YUDO",
            "2012-08-15T18:00:00Z",
            period("validPeriod", f"{_D}00:00:00Z", f"{_D}18:00:00Z", "valid")
            + forecast(
                "baseForecast",
                prevailing("9000")
                + wind("130", "5.0", unit="m/s", forecast=True)
                + cloud(layer("BKN", "2000"), forecast=True),
                when='<iwxxm:phenomenonTime xlink:href="#valid"/>',
            )
            + forecast(
                "changeForecast",
                cloud(layer("SCT", "1500", "CB"), layer("BKN", "2000"), forecast=True),
                indicator="BECOMING",
                when=period("phenomenonTime", f"{_D}06:00:00Z", f"{_D}08:00:00Z"),
            )
            + forecast(
                "changeForecast",
                prevailing("1000")
                + wind("170", "6", "12", "m/s", forecast=True)
                + weather("TSRA", "weather")
                + cloud(layer("SCT", "1000", "CB"), layer("BKN", "2000"), forecast=True),
                indicator="TEMPORARY_FLUCTUATIONS",
                when=period("phenomenonTime", f"{_D}08:00:00Z", f"{_D}12:00:00Z"),
            )
            + forecast(
                "changeForecast",
                prevailing("10000", above=True)
                + wind("150", "4", unit="m/s", forecast=True)
                + cloud(layer("BKN", "2000"), forecast=True),
                indicator="FROM",
                when=period("phenomenonTime", f"{_D}12:30:00Z", f"{_D}18:00:00Z"),
            ),
            version="2023-1",
        ),
    ),
    "A5-2": (
        "TAF AMD YUDO 161500Z 1600/1618 CNL",
        report(
            "TAF",
            "YUDO",
            "2012-08-16T15:00:00Z",
            period("cancelledReportValidPeriod", f"{_D}00:00:00Z", f"{_D}18:00:00Z"),
            attributes='reportStatus="AMENDMENT" isCancelReport="true"',
        ),
    ),
}
