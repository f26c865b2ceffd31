"""A small sound set of records, as the text of csv sheets, that tests bend."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from pathlib import Path

from overwood.ground.records import Point, Ring, Stand, StandFile, Tree, Visit

SHEETS: dict[str, str] = {
    "properties": "property,name,objective\nP1,First Farm,oak again\n",
    "stands": "stand,property,name,area_ac,site_index_ft,site_index_species,birth_year\nA1,P1,Back Forty,20,70,837,1925\n",
    "visits": (
        "visit,stand,kind,visited_on,observer\nA1-c,A1,cruise,2025-05-01,Cruiser A\n"
        "A1-r,A1,reproduction,2025-08-20,Cruiser A\nA1-a,A1,acorn,2025-09-10,Cruiser A\n"
    ),
    "rings": (
        "visit,layer,design,baf_ft2_ac,plot_area_ac,low_dbh_in,high_dbh_in\nA1-c,overstory,prism,10,,5,\n"
        "A1-c,midstory,fixed,,0.02,1,5\nA1-r,reproduction,fixed,,0.00136054,,\n"
    ),
    "points": "visit,point,in_stand\nA1-c,1,yes\nA1-c,2,yes\nA1-c,3,yes\nA1-r,1,yes\nA1-r,2,yes\n",
    "trees": (
        "visit,point,tree,species,dbh_in,crown_class,height_ft\nA1-c,1,1,802,18.2,codominant,88\n"
        "A1-c,1,2,QURU,21.0,dominant,\nA1-c,2,1,white oak,16.4,codominant,80\nA1-c,2,2,RM,3.1,overtopped,\n"
    ),
    "seedlings": (
        "visit,point,line,species,height_class,height_ft,stems,basal_diameter_in,browsed\n"
        "A1-r,1,1,802,1-3,,4,,1\nA1-r,1,2,833,4.5-10,5.2,1,0.8,0\n"
    ),
    "acorn_trees": "visit,tree,species,bearing,acorns,method,seconds\nA1-a,1,802,yes,12,timed,30\nA1-a,2,833,no,,,\n",
    "operations": (
        "operation,stand,kind,state,started_on,ended_on,cost_usd,ba_before_ft2_ac,ba_after_ft2_ac\n"
        "A1-inj,A1,injection,done,2022-10-01,2022-10-05,900,,\n"
    ),
}


def rows_of(text: str) -> int:
    return text.count("\n") - 1


def zipped(sheets: dict[str, str | bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in sheets.items():
            archive.writestr(name if "." in name else f"{name}.csv", text)
    return packed.getvalue()


def write(folder: Path, sheets: dict[str, str | bytes], name: str = "records.zip") -> Path:
    target = folder / name
    target.write_bytes(zipped(sheets))
    return target


def bent(sheet: str, old: str, new: str) -> dict[str, str | bytes]:
    """The sound records with one text changed in one sheet."""
    assert old in SHEETS[sheet], (sheet, old)
    return {**SHEETS, sheet: SHEETS[sheet].replace(old, new, 1)}


def cruise(trees, points=("1", "2", "3", "4", "5"), rings=None, strata=(), stratum=None, **more) -> StandFile:
    """A stand file with one prism cruise: trees as (point, species, dbh, changes)."""
    rings = rings or (Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0),)
    return StandFile(
        stand=Stand(stand="A", property="P", birth_year=1925),
        visits=(Visit(visit="c", stand="A", kind="cruise", visited_on=dt.date(2025, 5, 1)),),
        rings=rings,
        points=tuple(Point(visit="c", point=p, stratum=(stratum or {}).get(p, "")) for p in points),
        trees=tuple(
            Tree(id=f"t{n}", visit="c", point=p, tree=str(n), species=s, dbh_in=d, **(x[0] if x else {}))
            for n, (p, s, d, *x) in enumerate(trees)
        ),
        strata=tuple(strata),
        **more,
    )
