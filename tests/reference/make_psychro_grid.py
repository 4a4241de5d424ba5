#!/usr/bin/env python3
"""Makes psychro-grid.csv again: what other people's libraries say of the same air.

    python3 -m venv venv && venv/bin/pip install psychrolib==2.5.0 thermofeel==2.3.0
    venv/bin/python make_psychro_grid.py > psychro-grid.csv
"""

import numpy
import psychrolib
import thermofeel

psychrolib.SetUnitSystem(psychrolib.SI)
PRESSURE_PA = 101325.0


def kelvin(celsius):
    return numpy.array([celsius + 273.15])


def thermofeel_dew_point(t, rh):
    """The dew point from which thermofeel comes back to exactly this humidity: its heat index takes no humidity."""
    low, high = t - 80.0, float(t)
    for _ in range(80):
        middle = (low + high) / 2
        if thermofeel.calculate_relative_humidity_percent(kelvin(t), kelvin(middle))[0] < rh:
            low = middle
        else:
            high = middle
    return (low + high) / 2


print("# psychrolib 2.5.0 at 101325 Pa: es_pa, dew_point_c, wet_bulb_c. thermofeel 2.3.0: heat_index_f, wbgt_open_air_c")
print("t_c,rh_pct,es_pa,dew_point_c,wet_bulb_c,heat_index_f,wbgt_open_air_c")
for t in sorted(set(range(2, 51, 2)) | {5, 15, 25, 35, 45}):
    for rh in range(5, 101, 5):
        es = psychrolib.GetSatVapPres(t)
        dew = psychrolib.GetTDewPointFromRelHum(t, rh / 100.0)
        wet = psychrolib.GetTWetBulbFromRelHum(t, rh / 100.0, PRESSURE_PA)
        felt = thermofeel.calculate_heat_index_adjusted(kelvin(t), kelvin(thermofeel_dew_point(t, rh)))[0]
        wbgt = thermofeel.calculate_wbgt_simple(kelvin(t), numpy.array([float(rh)]))[0] - 273.15
        print(f"{t},{rh},{es:.2f},{dew:.4f},{wet:.4f},{(felt - 273.15) * 1.8 + 32:.3f},{wbgt:.4f}")
