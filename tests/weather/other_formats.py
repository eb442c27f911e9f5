"""Writers of the formats that are read, by the layout each producer describes; for tests only."""

from __future__ import annotations

import numpy as np


def days_of(dataset):
    return np.asarray(dataset.time).astype("datetime64[D]")


def tenths(value):
    return -9999 if np.isnan(value) else round(value * 10)


def dly(dataset, station="XX000000001", flags=None):
    """Fixed width: ID 1-11, year, month, element, then 31 times value (5), M, Q, S flag."""
    flags = flags or {}
    days = days_of(dataset)
    at = {str(d): i for i, d in enumerate(days)}
    months = np.unique(days.astype("datetime64[M]"))
    lines = []
    for month in months:
        for element, name in (("TMAX", "tasmax"), ("TMIN", "tasmin"), ("PRCP", "pr")):
            line = f"{station}{str(month).replace('-', '')}{element}"
            for day in range(1, 32):
                i = at.get(f"{month}-{day:02d}")
                value = -9999 if i is None else tenths(dataset[name][i])
                line += f"{value:5d} {flags.get((element, f'{month}-{day:02d}'), ' ')}S"
            lines.append(line)
    return "\n".join(lines) + "\n"


def ghcn_wide(dataset, station="XX000000001", flags=None):
    flags = flags or {}
    rows = [
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES",'
        '"TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"'
    ]
    for i, day in enumerate(days_of(dataset)):
        cells = [station, str(day), "40.41", "-3.68", "667.0", "INVENTED NESS, XX"]
        for element, name in (("PRCP", "pr"), ("TMAX", "tasmax"), ("TMIN", "tasmin")):
            value = dataset[name][i]
            flag = flags.get((element, str(day)), "")
            cells += ["", ""] if np.isnan(value) else [f"{tenths(value):5d}", f",{flag},S"]
        rows.append(",".join(f'"{c}"' for c in cells))
    return "\n".join(rows) + "\n"


def ghcn_long(dataset, station="XX000000001", header=False, flags=None):
    flags = flags or {}
    rows = ["ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"] if header else []
    for i, day in enumerate(days_of(dataset)):
        for element, name in (("TMAX", "tasmax"), ("TMIN", "tasmin"), ("PRCP", "pr")):
            value = dataset[name][i]
            if not np.isnan(value):
                flag = flags.get((element, str(day)), "")
                rows.append(f"{station},{str(day).replace('-', '')},{element},{tenths(value)},,{flag},S,0700")
    return "\n".join(rows) + "\n"


def ecad(dataset, element, staid=239, marks=None):
    name = {"TX": "tasmax", "TN": "tasmin", "RR": "pr", "TG": "tas"}[element]
    marks = marks or {}
    lines = [
        "EUROPEAN CLIMATE ASSESSMENT & DATASET (ECA&D), file created on 22-04-2021",
        "THESE DATA CAN BE USED FREELY PROVIDED THAT THE FOLLOWING SOURCE IS ACKNOWLEDGED:",
        "",
        "FILE FORMAT (MISSING VALUE CODE IS -9999):",
        "",
        "01-06 STAID: Station identifier",
        "15-22 DATE : YYYYMMDD",
        f"24-28 {element}   : in 0.1 units",
        f"30-34 Q_{element} : Quality code for {element} (0='valid'; 1='suspect'; 9='missing')",
        "",
        f"This is the blended series of station NOWHERE, INVENTED NESS (STAID: {staid}).",
        "See file sources.txt and stations.txt for more info.",
        "",
        f"STAID, SOUID,    DATE,   {element}, Q_{element}",
    ]
    for day, value in zip(days_of(dataset), dataset[name], strict=True):
        mark = 9 if np.isnan(value) else marks.get(str(day), 0)
        lines.append(f"{staid:6d},100239,{str(day).replace('-', '')},{tenths(value):5d},{mark:5d}")
    return "\n".join(lines) + "\n"


def epw(dry, rain=None, *, first_year=1995, leap=False):
    """An EPW file of hourly dry-bulb temperatures, shape (days, 24)."""
    head = [
        "LOCATION,Invented Ness,-,XXX,TMYx,123456,38.20,-15.40,0.0,12.0",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        f"HOLIDAYS/DAYLIGHT SAVINGS,{'Yes' if leap else 'No'},0,0,0",
        "COMMENTS 1,invented",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]
    year = 2004 if leap else 2001
    rows = []
    for k in range(len(dry)):
        day = np.datetime64(f"{year}-01-01") + k
        _, month, dom = (int(x) for x in str(day).split("-"))
        for hour in range(24):
            cells = ["9999"] * 35
            cells[:6] = [str(first_year + month % 5), str(month), str(dom), str(hour + 1), "0", "?9?9?9?9E0"]
            cells[6], cells[7], cells[8], cells[9] = f"{dry[k][hour]:.1f}", "5.0", "60", "101325"
            cells[13] = "500" if 8 <= hour < 18 else "0"
            cells[20], cells[21] = "180", "3.0"
            cells[33] = "0.0" if rain is None else f"{rain[k] / 24:.4f}"
            rows.append(",".join(cells))
    return "\n".join([*head, *rows]) + "\n"


def fao(dataset, names=("tasmin", "tasmax"), *, kind=1, title="Invented Ness", header=None):
    """Climate text of the FAO, head and tabs as in Ottawa.Tnx of KUL-RSDA/AquaCrop (testcase/DATA)."""
    year, month, day = str(days_of(dataset)[0]).split("-")
    columns = header or ("  Tmin (C)   TMax (C)" if len(names) == 2 else "  Total Rain (mm)")
    lines = [
        title,
        f"     {kind}  : Daily records (1=daily, 2=10-daily and 3=monthly data)",
        f"     {int(day)}  : First day of record (1, 11 or 21 for 10-day or 1 for months)",
        f"     {int(month)}  : First month of record",
        f"  {year}  : First year of record (1901 if not linked to a specific year)",
        "",
        columns,
        "========================",
    ]
    rows = np.column_stack([dataset[n] for n in names])
    lines += ["\t".join("-9999" if np.isnan(v) else f"{v:.1f}" for v in row) for row in rows]
    return "\n".join(lines) + "\n"
