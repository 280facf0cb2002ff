"""Small checklist folders for the tests; every rule and limit in them is invented."""

from __future__ import annotations

HEAD = """\
[checklist]
name = "Invented"
revision = "1"
default_aircraft = "glider"
[windows.jet]
walk_round = [-45, -25]
doors_open = [-50, -5]
take_off = 15
take_off_treated = 35
[windows.small]
walk_round = [-40, -15]
doors_open = [-20, -5]
take_off = 15
take_off_treated = 15
"""
PROFILE = """\
id = "glider"
name = "Invented glider"
size = "small"
windows = "small"
limits_note = "Invented."
walk = ["canopy", "left-wing", "tail"]
[surfaces]
wing_height_m = 1.0
tank_skin = false
fuel_stays_cold = false
[[door]]
name = "canopy"
bearing_deg = 0
operate = 15
stay_open = 12
"""


def advice(rule_id="torch", **fields):
    """One [[advice]] in TOML. Fields replace or add; a field of None is left out."""
    given = {
        "id": f'"{rule_id}"',
        "kind": '"gear"',
        "when": '"illuminance_lx < 20"',
        "during": '"walk_round"',
        "weight": '"must"',
        "text": '"Take a torch."',
        "source": '"common-practice"',
    } | fields
    return "[[advice]]\n" + "".join(f"{key} = {value}\n" for key, value in given.items() if value is not None)


def write(folder, **files):
    """Write files, named without .toml, into a folder; bytes as they are."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        path = folder / f"{name}.toml"
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return folder
