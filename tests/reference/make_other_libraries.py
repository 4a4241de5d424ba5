#!/usr/bin/env python3
"""Makes metpy-heat-index.csv and wbgt-iso.csv again, beside this file.

    python3 -m venv venv && venv/bin/pip install metpy==1.7.1 pythermalcomfort==4.8.1
    venv/bin/python make_other_libraries.py
"""

import pathlib
import warnings

from metpy.calc import heat_index
from metpy.units import units
from pythermalcomfort.models import wbgt

warnings.filterwarnings("ignore")
folder = pathlib.Path(__file__).parent

with open(folder / "metpy-heat-index.csv", "w") as out:
    print("# metpy 1.7.1 (BSD-3-Clause): heat_index with mask_undefined=False, degrees Fahrenheit", file=out)
    print("t_f,rh_pct,heat_index_f", file=out)
    for t in range(44, 121, 4):
        for rh in range(5, 101, 5):
            felt = heat_index(t * units.degF, rh * units.percent, mask_undefined=False).to("degF").magnitude
            print(f"{t},{rh},{float(felt.item()):.4f}", file=out)

with open(folder / "wbgt-iso.csv", "w") as out:
    print("# pythermalcomfort 4.8.1 (MIT): wbgt, ISO 7243, unrounded, degrees Celsius. t_c is empty without sun", file=out)
    print("natural_wet_bulb_c,globe_c,t_c,wbgt_c", file=out)
    for wet in range(10, 35, 6):
        for globe in range(wet, 70, 9):
            if globe < 20:
                continue
            shade = wbgt(wet, globe, round_output=False).wbgt
            print(f"{wet},{globe},,{float(shade):.6f}", file=out)
            sun = wbgt(wet, globe, tdb=wet + 3, with_solar_load=True, round_output=False).wbgt
            print(f"{wet},{globe},{wet + 3},{float(sun):.6f}", file=out)
