"""Kinds of mistakes that people make in a checklist folder: each is named where it stands, none passes in silence."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.checklist import revision
from advisor.checklist.desk.check import Checked, check
from advisor.feeds.file import files_of

HEAD = """\
[checklist]
name = "Invented line"
revision = "7"
effective = 2027-01-10
approver = "Head of line stations"
default_aircraft = "zz-600"
call_lead_min = 60
call_lead_by_class = { wide-body-jet = 75 }
call_lead_by_station = { ZZZA = 90 }
[windows.turnround]
walk_round = [-35, -20]
doors_open = [-40, -5]
take_off = 15
take_off_treated = 40
[[source]]
key = "our-manual"
title = "Invented manual"
locator = "4.2"
standing = "published"
"""
RULES = """\
remove = ["no-umbrella"]
[reason]
no-umbrella = "Invented."
[[advice]]
id = "grip-soles"
kind = "gear"
when = "slippery_surface and air_temperature_c <= 1"
during = ["walk_round"]
weight = "should"
text = "Put on the soles with spikes at {air_temperature_c}."
more = "They hang behind the door."
source = "our-manual"
zone = "apron"
classes = ["single-aisle-jet", "glider"]
must_when = "slippery_surface and air_temperature_c <= 1 and freezing_precipitation"
must_text = "The apron may be glazed: put on the soles with spikes."
[advice.class.glider]
text = "Boots with spikes."
[[advice]]
id = "heater"
kind = "request"
when = "air_temperature_c <= -10"
during = "parked"
weight = "must"
text = "Ask for a heater."
source = "our-manual"
lead_min = 90
lead_by_station = { ZZZA = 120 }
stations = ["ZZZA"]
months = [11, 12, 1]
aircraft = ["zz-600"]
[[advice]]
id = "hold-doors"
kind = "door"
when = "door_margin_kt < 5"
during = "doors_open"
weight = "should"
text = "Two people to a door."
source = "common-practice"
zone = "doors"
classes = ["single-aisle-jet"]
"""
PAGES = """\
[page.grip-soles]
does = "Names the soles."
why = "Ice."
limits = "It sees no ice."
references = ["our-manual", "common-practice"]
[page.grip-soles.fires]
report = "METAR ZZZA 100520Z 00000KT 9999 -FZDZ OVC008 M02/M03 Q1010"
now = "2027-01-10T05:25:00Z"
off_block = "2027-01-10T06:40:00Z"
place = "61.4,9.8"
"""
AIRCRAFT = """\
id = "zz-600"
name = "Invented 600"
class = "single-aisle-jet"
size = "medium"
windows = "turnround"
limits_note = "Invented."
walk = ["flight-deck", "nose", "left-forward-fuselage", "left-wing"]
[surfaces]
wing_height_m = 2.9
emissivity = 0.9
tank_skin = true
fuel_stays_cold = true
[[door]]
name = "front"
bearing_deg = -90
operate = 40
stay_open = "31 m/s"
[[door.sector]]
from_deg = -120
to_deg = -60
operate = 30
stay_open = 45
"""
FEEDS = """\
[[feed]]
name = "ours"
url = "https://reports.invented.example/{station}.txt"
format = "text"
timeout_s = 20
"""
FILES = {
    "own.toml": HEAD,
    "rules.toml": RULES,
    "pages.toml": PAGES,
    "aircraft/ours.toml": AIRCRAFT,
    "feeds.toml": FEEDS,
}
SPECIAL = '"' + "x" * 401 + '"'

# file, line, what stands there instead, the code, words of the message; the line of the fault where it is another
MISTAKES: list[tuple[str, int, str, str, str] | tuple[str, int, str, str, str, int]] = [
    # the head
    ("own.toml", 1, "[cheklist]", "unknown-field", "unknown field"),
    ("own.toml", 1, "[[checklist]]", "value", "needs a table"),
    ("own.toml", 1, "[checklist", "toml", "not TOML"),
    ("own.toml", 2, "", "identity", "no name of its own", 1),
    ("own.toml", 2, 'name = "Walk-round, shipped"', "identity", "no name of its own"),
    ("own.toml", 2, "name = 7", "value", "7 cannot stand here"),
    ("own.toml", 2, 'name = ""', "value", "cannot stand here"),
    ("own.toml", 2, 'nmae = "Ours"', "unknown-field", "unknown field"),
    ("own.toml", 2, f"name = {SPECIAL}", "value", "a text of 401 characters"),
    ("own.toml", 2, 'name = "Ours\\u202e"', "value", "cannot stand here"),
    ("own.toml", 3, "", "identity", "no revision of its own", 1),
    ("own.toml", 3, "revision = 7", "value", "7 cannot stand here"),
    ("own.toml", 4, "", "effective", "no date", 1),
    ("own.toml", 4, 'effective = "10.1.2027"', "value", "a date such as 2027-01-10"),
    ("own.toml", 4, "effective = 2027-13-10", "toml", "not TOML"),
    ("own.toml", 5, "", "approver", "nobody approved it", 1),
    ("own.toml", 5, "approver = true", "value", "true cannot stand here"),
    ("own.toml", 6, 'default_aircraft = "zz-60"', "unknown-aircraft", "no aircraft 'zz-60'"),
    ("own.toml", 6, 'default_aircraft = "ZZ 600"', "value", "small letters"),
    ("own.toml", 7, "call_lead_min = -60", "value", "whole minutes"),
    ("own.toml", 7, "call_lead_min = 1441", "value", "whole minutes"),
    ("own.toml", 7, 'call_lead_min = "1 h"', "value", "whole minutes"),
    ("own.toml", 7, "call_lead_min = 60.5", "value", "whole minutes"),
    ("own.toml", 7, "call_lead_min = 30", "reason", "nobody says why", 1),
    ("own.toml", 8, "call_lead_by_class = { jumbo = 75 }", "value", "'jumbo' cannot stand here"),
    ("own.toml", 8, "call_lead_by_class = 75", "value", "needs a table"),
    ("own.toml", 8, "call_lead_by_class = { wide-body-jet = 20 }", "reason", "nobody says why", 1),
    ("own.toml", 9, "call_lead_by_station = { zzza = 90 }", "value", "four capital letters"),
    ("own.toml", 9, "call_lead_by_station = { ZZZA = -1 }", "value", "whole minutes"),
    # windows
    ("own.toml", 10, "[windows.Turn_round]", "value", "small letters"),
    ("own.toml", 10, "[window.turnround]", "unknown-field", "unknown field"),
    ("own.toml", 11, "walk_round = [-20, -35]", "window-order", "ends before it starts"),
    ("own.toml", 11, "walk_round = [-35]", "value", "a list of 2"),
    ("own.toml", 11, "walk_round = -35", "value", "a list of 2"),
    ("own.toml", 11, "walk_round = [35, 20]", "value", "-1440 to 0"),
    ("own.toml", 11, "walkround = [-35, -20]", "unknown-field", "did you mean"),
    ("own.toml", 12, "", "missing-field", "missing", 10),
    ("own.toml", 12, 'doors_open = ["-40", "-5"]', "value", "cannot stand here"),
    ("own.toml", 13, "take_off = -15", "value", "whole minutes"),
    ("own.toml", 14, "take_off_treated = 10", "window-order", "earlier than take_off"),
    (
        "own.toml",
        14,
        "take_off_treated = 40\n[windows.spare]\nwalk_round = [-35, -20]\ndoors_open = [-40, -5]\n"
        "take_off = 15\ntake_off_treated = 40",
        "unused",
        "no profile names these windows",
        15,
    ),
    (
        "own.toml",
        14,
        "take_off_treated = 40\n[windows.jet]\nwalk_round = [-35, -20]\ndoors_open = [-50, -5]\n"
        "take_off = 15\ntake_off_treated = 40",
        "reason",
        "nobody says why",
        15,
    ),
    # sources
    ("own.toml", 15, "[source]", "value", "[[source]]"),
    ("own.toml", 16, 'key = "common-practice"', "twice", "is taken"),
    ("own.toml", 16, 'key = "Our Manual"', "value", "small letters"),
    ("own.toml", 16, "", "missing-field", "missing", 15),
    ("own.toml", 17, "", "missing-field", "missing", 15),
    ("own.toml", 19, 'standing = "official"', "value", "one of the operator's, published"),
    (
        "own.toml",
        19,
        'standing = "published"\n[[source]]\nkey = "spare"\ntitle = "Spare"',
        "unused",
        "nothing refers",
        21,
    ),
    # removing
    ("rules.toml", 1, 'remove = ["no-umbrela"]', "unknown-rule", "did you mean 'no-umbrella'"),
    ("rules.toml", 1, 'remove = "no-umbrella"', "value", "a list"),
    ("rules.toml", 1, 'remove = ["no-umbrella", "de-icing-request"]', "reason", "nobody says why"),
    ("rules.toml", 1, 'remove = ["no-umbrella", "heater"]', "twice", "both removed and written"),
    ("rules.toml", 1, 'removed = ["no-umbrella"]', "unknown-field", "did you mean 'remove'"),
    ("rules.toml", 3, 'umbrella = "Invented."', "unknown-rule", "neither removed nor written"),
    ("rules.toml", 3, "no-umbrella = 3", "value", "3 cannot stand here"),
    # a rule's names
    ("rules.toml", 4, "[advice]", "toml", "not TOML", 19),
    ("rules.toml", 19, "[[advise]]", "unknown-field", "did you mean 'advice'"),
    ("rules.toml", 5, 'id = "Grip Soles"', "value", "small letters"),
    ("rules.toml", 5, 'id = "heater"', "twice", "a second rule 'heater'", 20),
    ("rules.toml", 5, "", "missing-field", "missing", 4),
    ("rules.toml", 6, 'kind = "tool"', "value", "one of gear"),
    ("rules.toml", 6, "", "missing-field", "missing", 4),
    ("rules.toml", 9, 'weight = "shall"', "value", "one of must, should"),
    ("rules.toml", 9, 'weight = ["must"]', "value", "a list cannot stand here"),
    ("rules.toml", 8, 'during = "walk-round"', "value", "one of parked"),
    ("rules.toml", 8, "during = []", "empty", "name a phase"),
    ("rules.toml", 8, 'during = ["walk_round", "boarding"]', "value", "'boarding' cannot stand here"),
    ("rules.toml", 12, 'source = "our-manuel"', "unknown-source", "did you mean 'our-manual'"),
    ("rules.toml", 12, 'source = "Our manual"', "value", "small letters"),
    ("rules.toml", 13, 'zone = "aprom"', "zone", "no profile has a zone 'aprom'"),
    ("rules.toml", 13, 'zone = "rotor"', "zone", "none of its aircraft"),
    ("rules.toml", 13, "zone = 3", "value", "cannot stand here"),
    ("rules.toml", 14, "classes = []", "empty", "an empty list"),
    ("rules.toml", 14, 'classes = ["single-aisle", "glider"]', "value", "one of light-aircraft"),
    ("rules.toml", 14, 'classes = ["single-aisle-jet"]', "unknown-class", "does not hold for glider", 17),
    ("rules.toml", 17, "[advice.class.glidr]", "value", "'glidr' cannot stand here"),
    ("rules.toml", 17, "[advice.classes.glider]", "toml", "not TOML"),
    ("rules.toml", 18, 'test = "Boots."', "unknown-field", "did you mean 'text'"),
    ("rules.toml", 18, "lead_min = 30", "lead", "a gear has no latest time"),
    # what a rule says
    ("rules.toml", 10, 'text = ""', "value", "1 to 400"),
    ("rules.toml", 10, 'text = " "', "empty", "an empty text"),
    ("rules.toml", 10, 'text = """Two\nlines."""', "value", "one line"),
    ("rules.toml", 10, 'text = "At {air_temp}."', "placeholder", "unknown quantity 'air_temp'"),
    ("rules.toml", 10, 'text = "At {air_temperature_c."', "placeholder", "'{' alone"),
    ("rules.toml", 10, 'text = "At air_temperature_c}."', "placeholder", "'}' alone"),
    ("rules.toml", 10, 'text = "At {gust_kt} kt."', "unit-twice", "brings its unit"),
    ("rules.toml", 10, 'text = "At {}."', "placeholder", "unknown quantity ''"),
    ("rules.toml", 10, 'text = "The wing is clean."', "promise", "promises what only an inspection can tell"),
    ("rules.toml", 11, 'more = "No treatment needed."', "promise", "promises what only an inspection can tell"),
    ("rules.toml", 16, 'must_text = "De-icing is not required."', "promise", "promises"),
    ("rules.toml", 11, 'likely_text = "The wing is clean."', "promise", "promises"),
    ("rules.toml", 11, 'possible_text = "The wing is clean."', "promise", "promises"),
    ("rules.toml", 16, 'must_text = "At {gust_kt} kt."', "unit-twice", "brings its unit"),
    ("rules.toml", 11, 'likely_text = "At {gust_kt} kt."', "unit-twice", "brings its unit"),
    ("rules.toml", 11, 'possible_text = "At {gust_kt} kt."', "unit-twice", "brings its unit"),
    ("rules.toml", 11, 'more = "At {gust_kt} kt."', "unit-twice", "brings its unit"),
    ("rules.toml", 18, 'text = "All clear of ice."', "promise", "promises"),
    ("rules.toml", 11, 'more = "\\u0007"', "value", "printable"),
    ("rules.toml", 10, f"text = {SPECIAL}", "value", "a text of 401 characters"),
    # when
    ("rules.toml", 7, 'when = ""', "condition", 'write "always"'),
    ("rules.toml", 7, "when = true", "value", "true cannot stand here"),
    ("rules.toml", 7, 'when = "slipery_surface"', "condition", "did you mean 'slippery_surface'"),
    ("rules.toml", 7, 'when = "braking"', "condition", "slippery_surface"),
    ("rules.toml", 7, 'when = "rvr < 550"', "condition", "runway_visual_range_m"),
    ("rules.toml", 7, 'when = "night"', "condition", "dark"),
    ("rules.toml", 7, 'when = "OAT < 3"', "condition", "air_temperature_c"),
    ("rules.toml", 7, 'when = "qnh < 980"', "condition", "pressure decides nothing"),
    ("rules.toml", 7, 'when = "air_temperature_c"', "condition", "is a number"),
    ("rules.toml", 7, 'when = "slippery_surface == 1"', "condition", "yes or no"),
    ("rules.toml", 7, 'when = "light"', "condition", "one of several words"),
    ("rules.toml", 7, "when = \"light == 'dusk'\"", "condition", "no value of light"),
    ("rules.toml", 7, 'when = "light > 2"', "condition", "one of several words"),
    ("rules.toml", 7, 'when = "air_temperature_c < 3 degC"', "condition", "a number with a unit"),
    ("rules.toml", 7, 'when = "gust_kt >= 28kt"', "condition", "a number with a unit"),
    ("rules.toml", 7, 'when = "air_temperature_c ≤ 3"', "condition", 'write "<="'),
    ("rules.toml", 7, 'when = "air_temperature_c < 3,5"', "condition", ""),
    ("rules.toml", 7, 'when = "air_temperature_c < 300"', "condition", "outside the range"),
    ("rules.toml", 7, 'when = "gust_kt < -1"', "condition", "outside the range"),
    ("rules.toml", 7, 'when = "gust_kt > wind_kt"', "condition", "two quantities in one comparison"),
    ("rules.toml", 7, 'when = "gust_kt - 10 > 3"', "condition", "arithmetic is not allowed"),
    ("rules.toml", 7, 'when = "max(gust_kt) > 3"', "condition", "is not allowed"),
    ("rules.toml", 7, 'when = "snow and"', "condition", "not a condition"),
    ("rules.toml", 7, 'when = "snow && rain"', "condition", ""),
    ("rules.toml", 7, 'when = "snow rain"', "condition", "not a condition"),
    ("rules.toml", 7, 'when = "(snow"', "condition", "not a condition"),
    ("rules.toml", 7, 'when = "snow AND rain"', "condition", "not a condition"),
    ("rules.toml", 7, 'when = "if snow"', "condition", "not a condition"),
    ("rules.toml", 7, 'when = "always and snow"', "condition", "always stands alone"),
    ("rules.toml", 7, 'when = "gust_kt = 3"', "condition", "not a condition"),
    ("rules.toml", 7, 'when = "10 <= gust_kt <= 3"', "condition", "no number can meet this"),
    ("rules.toml", 7, 'when = "gust_kt in ()"', "condition", "an empty list"),
    ("rules.toml", 7, 'when = "gust_kt in [1, 2]"', "condition", "write round brackets"),
    ("rules.toml", 7, 'when = "gust_kt is 3"', "condition", '"is" is not allowed'),
    ("rules.toml", 7, 'when = "True"', "condition", "a value alone says nothing"),
    ("rules.toml", 7, 'when = "snow # or rain"', "condition", "has no meaning here"),
    ("rules.toml", 7, f'when = "{" or ".join(["snow"] * 300)}"', "condition", "longer than 2000"),
    ("rules.toml", 7, f'when = "{"not " * 30}snow"', "condition", "nested more than 25 deep"),
    ("rules.toml", 7, 'when = "snow and not snow"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "slippery_surface or not slippery_surface"', "always", "every weather meets"),
    # what no weather meets, given the physics, and what every weather does
    ("rules.toml", 7, 'when = "gust_kt < 20 and wind_kt > 25"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "dark and sun_elevation_deg > 10"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "illuminance_lx > 5000 and dark"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "freezing_fog and not fog"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "relative_humidity_pct > 104"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "snow and not precipitation_any"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "frost_point_c > 2 and air_temperature_c < 0"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "wind_chill_c < -10 and air_temperature_c > 12"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "frost_margin_c > 0 and wing_skin_temperature_c > 3"', "never", "no weather meets"),
    ("rules.toml", 7, 'when = "gust_kt >= 0"', "always", "every weather meets"),
    ("rules.toml", 7, 'when = "wind_kt < 30 or gust_kt >= 30"', "always", "every weather meets"),
    ("rules.toml", 7, 'when = "fog or not freezing_fog"', "always", "every weather meets"),
    ("rules.toml", 18, 'when = "dark and sun_elevation_deg > 0"', "never", "no weather meets"),
    # must_when
    ("rules.toml", 15, 'must_when = "freezing_precipitation"', "must-when", "holds also where when does not"),
    (
        "rules.toml",
        15,
        'must_when = "slippery_surface and air_temperature_c > 1"',
        "must-when",
        "only where when does not",
    ),
    ("rules.toml", 15, 'must_when = "snow and not snow"', "never", "no weather meets"),
    ("rules.toml", 15, 'must_when = "slippery_surface and air_temperature_c <= 1"', "must-when", "holds wherever"),
    ("rules.toml", 15, 'must_when = "freezing"', "condition", "did you mean"),
    ("rules.toml", 15, "", "must-when", "nothing says when", 16),
    # requests, places, seasons
    ("rules.toml", 27, 'lead_min = "90 min"', "value", "whole minutes"),
    ("rules.toml", 21, 'kind = "checkpoint"', "lead", "a checkpoint has no latest time", 27),
    ("rules.toml", 28, "lead_by_station = { zza = 120 }", "value", "four capital letters"),
    ("rules.toml", 28, "lead_by_station = 120", "value", "needs a table"),
    ("rules.toml", 29, 'stations = ["zzza"]', "value", "four capital letters"),
    ("rules.toml", 29, 'stations = "ZZZA"', "value", "a list"),
    ("rules.toml", 30, "months = [11, 12, 13]", "value", "a month from 1 to 12"),
    ("rules.toml", 30, 'months = ["november"]', "value", "a month from 1 to 12"),
    ("rules.toml", 31, 'aircraft = ["zz-60"]', "unknown-aircraft", "did you mean 'zz-600'"),
    ("rules.toml", 31, 'aircraft = ["zz-600"]\nclasses = ["glider"]', "never", "holds for none of zz-600"),
    ("rules.toml", 40, 'zone = "doors"\nstop = "yes"', "value", "true or false", 41),
    ("rules.toml", 41, "", "no-doors", "no uncrewed has a door", 34),
    ("rules.toml", 41, 'classes = ["single-aisle-jet", "uncrewed"]', "no-doors", "no uncrewed has a door"),
    # pages
    ("pages.toml", 1, "[page.grip-sole]", "unknown-rule", "did you mean 'grip-soles'"),
    ("pages.toml", 1, "[pages.grip-soles]", "unknown-field", "did you mean 'page'"),
    ("pages.toml", 2, 'dose = "x"', "unknown-field", "did you mean 'does'"),
    ("pages.toml", 5, 'references = ["our-manuel"]', "unknown-source", "did you mean"),
    ("pages.toml", 5, 'references = "our-manual"', "value", "a list"),
    ("pages.toml", 7, "", "missing-field", "missing", 6),
    ("pages.toml", 7, "report = 3", "value", "text, or a list of them"),
    ("pages.toml", 8, "now = 2027-01-10T05:25:00Z", "value", "put it in quotes"),
    ("pages.toml", 9, "offblock = '0640Z'", "unknown-field", "did you mean 'off_block'"),
    ("pages.toml", 10, 'seen = "dew"', "value", "one of nothing, frost, snow, ice"),
    # aircraft
    ("aircraft/ours.toml", 1, 'id = "ZZ600"', "value", "small letters"),
    ("aircraft/ours.toml", 3, "", "unknown-class", "no class for 'zz-600'", 1),
    ("aircraft/ours.toml", 3, 'class = "jet"', "value", "one of light-aircraft"),
    ("aircraft/ours.toml", 4, 'size = "M"', "value", "one of small, medium, large"),
    ("aircraft/ours.toml", 5, 'windows = "turn-round"', "unknown-windows", "did you mean 'turnround'"),
    ("aircraft/ours.toml", 6, "", "missing-field", "missing", 1),
    ("aircraft/ours.toml", 7, "walk = []", "empty", "an empty list"),
    ("aircraft/ours.toml", 7, 'walk = ["nose", "nose"]', "twice", "a zone twice"),
    ("aircraft/ours.toml", 9, 'wing_height_m = "9 kt"', "quantity", "not a quantity in metre"),
    ("aircraft/ours.toml", 9, "wing_height_m = 290", "quantity", "out of range"),
    ("aircraft/ours.toml", 9, 'wing_height_m = ""', "blank", "left blank"),
    ("aircraft/ours.toml", 10, "emissivity = 90", "value", "above 0, up to 1"),
    ("aircraft/ours.toml", 10, "emisivity = 0.9", "unknown-field", "did you mean 'emissivity'"),
    ("aircraft/ours.toml", 11, 'tank_skin = "yes"', "value", "true or false"),
    ("aircraft/ours.toml", 13, "[door]", "value", "[[door]]"),
    ("aircraft/ours.toml", 15, "bearing_deg = 270", "value", "-180 to 180"),
    ("aircraft/ours.toml", 16, 'operate = ""', "blank", "left blank"),
    ("aircraft/ours.toml", 16, 'operate = "fast"', "quantity", "not a number with a unit"),
    ("aircraft/ours.toml", 16, "operate = 400", "quantity", "out of range"),
    ("aircraft/ours.toml", 16, "operate = 65", "door-limit", "below the limit to operate it", 17),
    ("aircraft/ours.toml", 17, "stay_open = 39", "door-limit", "below the limit to operate it"),
    ("aircraft/ours.toml", 17, "", "missing-field", "missing", 13),
    ("aircraft/ours.toml", 19, "from_deg = 240", "value", "-180 to 180"),
    ("aircraft/ours.toml", 21, "operate = 41", "door-limit", "above the door's own operate limit"),
    ("aircraft/ours.toml", 22, "stay_open = 61", "door-limit", "above the door's own stay-open limit"),
    ("aircraft/ours.toml", 22, "stay_open = 29", "door-limit", "below the limit to operate it"),
    # feeds
    ("feeds.toml", 1, "[feed]", "value", "[[feed]]"),
    ("feeds.toml", 2, "", "missing-field", "missing", 1),
    ("feeds.toml", 3, 'url = "https://reports.invented.example/all.txt"', "value", "{station} is missing"),
    ("feeds.toml", 4, 'format = "xml"', "value", "one of"),
    ("feeds.toml", 4, 'format = "json"', "value", "missing", 1),
    ("feeds.toml", 5, "time_out = 20", "unknown-field", "unknown field"),
]


def write(folder: Path, **other: str) -> Path:
    for name, text in {**FILES, **other}.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def found(folder: Path) -> Checked:
    return check(folder, strict=True, feeds=files_of)


def said(checked: Checked, folder: Path) -> list[str]:
    return [str(one).removeprefix(f"{folder}{os.sep}") for one in (*checked.faults, *checked.notes)]


def test_the_folder_without_a_mistake_has_none(tmp_path: Path) -> None:
    assert said(found(write(tmp_path / "ours")), tmp_path / "ours") == []


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda one: f"{one[0].split('.')[0]}:{one[1]}:{one[2][:40]}")
def test_each_mistake_is_named_where_it_stands(tmp_path: Path, mistake: tuple) -> None:
    name, line, instead, code, words = mistake[:5]
    at = mistake[5] if len(mistake) > 5 else line
    lines = FILES[name].split("\n")
    assert lines[line - 1] != instead
    lines[line - 1] = instead
    folder = write(tmp_path / "ours", **{name: "\n".join(lines)})
    checked = found(folder)
    rows = [*checked.faults, *checked.notes]
    met = [one for one in rows if one.code == code and f"{one.message}; {one.hint}".count(words)]
    assert [(Path(one.file).relative_to(folder).as_posix(), one.line) for one in met][:1] == [(name, at)], said(
        checked, folder
    )
    assert all(one.column >= 1 and one.message and one.field for one in rows)


def hidden(folder: Path) -> str:
    (folder / ".old.toml").write_text(RULES, encoding="utf-8")
    return ".old.toml"


def swap(folder: Path) -> str:
    (folder / ".rules.toml.swp").write_bytes(b"\x00")
    return ".rules.toml.swp"


def capitals(folder: Path) -> str:
    (folder / "more.TOML").write_text(RULES, encoding="utf-8")
    return "more.TOML"


def text(folder: Path) -> str:
    (folder / "rules.txt").write_text(RULES, encoding="utf-8")
    return "rules.txt"


def backup(folder: Path) -> str:
    (folder / "rules.toml~").write_text(RULES, encoding="utf-8")
    return "rules.toml~"


def below(folder: Path) -> str:
    (folder / "winter").mkdir()
    (folder / "winter" / "more.toml").write_text(RULES, encoding="utf-8")
    return "winter"


def misspelt(folder: Path) -> str:
    (folder / "aircrafts").mkdir()
    return "aircrafts"


def below_aircraft(folder: Path) -> str:
    (folder / "aircraft" / "spare").mkdir()
    return "aircraft/spare"


def text_in_aircraft(folder: Path) -> str:
    (folder / "aircraft" / "ours.yaml").write_text("", encoding="utf-8")
    return "aircraft/ours.yaml"


def linked_file(folder: Path) -> str:
    (folder.parent / "outside.toml").write_text("", encoding="utf-8")
    (folder / "more.toml").symlink_to(folder.parent / "outside.toml")
    return "more.toml"


def linked_aircraft(folder: Path) -> str:
    (folder / "aircraft").rename(folder.parent / "elsewhere")
    (folder / "aircraft").symlink_to(folder.parent / "elsewhere")
    return "aircraft"


def gone(folder: Path) -> str:
    (folder / "more.toml").symlink_to(folder / "nowhere")
    return "more.toml"


def a_folder(folder: Path) -> str:
    (folder / "more.toml").mkdir()
    return "more.toml"


def latin(folder: Path) -> str:
    (folder / "more.toml").write_bytes(b"# caf\xe9\n")
    return "more.toml"


def twice(folder: Path) -> str:
    (folder / "spare.toml").write_text(HEAD, encoding="utf-8")
    return "spare.toml"


def two_pages(folder: Path) -> str:
    (folder / "pages-more.toml").write_text(PAGES, encoding="utf-8")
    return "pages.toml"


def two_aircraft(folder: Path) -> str:
    (folder / "aircraft" / "spare.toml").write_text(AIRCRAFT, encoding="utf-8")
    return "aircraft/spare.toml"


FOLDERS: list[Callable[[Path], str]] = [
    hidden,
    swap,
    capitals,
    text,
    backup,
    below,
    misspelt,
    below_aircraft,
    text_in_aircraft,
    linked_file,
    linked_aircraft,
    gone,
    a_folder,
    latin,
    twice,
    two_pages,
    two_aircraft,
]


@pytest.mark.parametrize("spoil", FOLDERS, ids=lambda one: one.__name__)
def test_each_file_that_is_not_what_it_should_be_is_named(tmp_path: Path, spoil: Callable[[Path], str]) -> None:
    folder = write(tmp_path / "ours")
    name = spoil(folder)
    rows = said(found(folder), folder)
    assert any(row.startswith(f"{name}:") for row in rows), rows


def test_what_people_keep_beside_the_rules_is_left_alone(tmp_path: Path) -> None:
    folder = write(tmp_path / "ours")
    (folder / "README.md").write_text("Invented.", encoding="utf-8")
    (folder / ".git").mkdir()
    assert said(found(folder), folder) == []


@pytest.mark.parametrize(
    "when",
    [
        "gust_kt < 20 and wind_kt <= 20",
        "dark and sun_elevation_deg < -7",
        "fog and not freezing_fog",
        "relative_humidity_pct >= 100",
        "frost_margin_c > 0 and air_temperature_c > 2",
        "wind_kt < 30 or gust_kt >= 35",
    ],
)
def test_what_some_weather_meets_and_some_does_not_is_no_mistake(tmp_path: Path, when: str) -> None:
    text = RULES.replace("slippery_surface and air_temperature_c <= 1 and freezing", f"{when} and freezing")
    rules = text.replace('when = "slippery_surface and air_temperature_c <= 1"', f'when = "{when}"')
    # wind and freezing precipitation go together, and so do all the others
    folder = write(tmp_path / "ours", **{"rules.toml": rules})
    assert said(found(folder), folder) == []


def test_the_shipped_rules_have_no_mistake() -> None:
    checked = check(revision.SHIPPED, strict=True)
    assert (checked.faults, checked.notes, checked.loosened) == ((), (), ())


def test_there_are_many_of_them() -> None:
    assert len(MISTAKES) + len(FOLDERS) >= 170
