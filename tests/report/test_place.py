"""Places: indicators by a scan of the table's bytes, coordinates, distance."""

from __future__ import annotations

import subprocess
import sys

import airportsdata
import pytest

from advisor import places as place
from advisor.errors import DepartureError
from advisor.outlook import stations


def test_the_scan_finds_what_the_packages_own_loader_says_for_a_thousand_indicators() -> None:
    table = airportsdata.load("ICAO")
    for indicator in sorted(table)[::28]:
        row, found = table[indicator], place.look_up(indicator)
        assert found is not None
        assert (found.latitude_deg, found.longitude_deg) == (row["lat"], row["lon"])
        assert found.time_zone == row["tz"]
        assert found.elevation_m == pytest.approx(row["elevation"] * 0.3048)
        assert found.name == (row["name"] or row["city"] or indicator)


def test_the_table_is_not_loaded_for_one_place() -> None:
    code = "import sys; from advisor import places; places.find('KJFK'); sys.exit('airportsdata' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("text", ["61.4,9.8", " 61.4 , 9.8 ", "+61.40,+009.8"])
def test_coordinates_are_read_north_and_east_positive(text: str) -> None:
    found = place.find(text)
    assert (found.latitude_deg, found.longitude_deg, found.indicator) == (61.4, 9.8, None)
    assert place.find("-33.9,-151.2").name == "33.90 S 151.20 W"


@pytest.mark.parametrize(
    "text",
    [
        "nan,3",
        "91,0",
        "-90.01,0",
        "0,180.5",
        "1,2,3",
        "61.4",
        ",",
        "ZZZZ",
        "K",
        "KJFKX",
        "",
        "9" * 100_000,
        "inf,0",
        "12,x",
        "KJ K",
        "١٢,٣",
    ],
)
def test_what_is_no_place_is_refused_in_one_line_with_what_would_be_right(text: str) -> None:
    with pytest.raises(DepartureError) as caught:
        place.find(text)
    said = str(caught.value)
    assert said.startswith("place: ") and ("LAT,LON" in said) and "\n" not in said and len(said) < 250


def test_distance_agrees_with_the_library_geographiclib_within_its_flattening() -> None:
    # independent: geodesics on the WGS 84 ellipsoid; a sphere is off by at most 0.6 %
    from geographiclib.geodesic import Geodesic

    first, second = place.find("KJFK"), place.find("YSSY")
    line = Geodesic.WGS84.Inverse(first.latitude_deg, first.longitude_deg, second.latitude_deg, second.longitude_deg)
    assert stations.distance_km(first, second) == pytest.approx(line["s12"] / 1000, rel=0.006)
    assert stations.distance_km(first, first) == 0.0
