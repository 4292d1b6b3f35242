"""The build pack and the dates of the example book, read with nothing of underlit's own.

Sources: RFC 5545 by the reader `icalendar`; business days by `numpy.busday_offset`; the pack's digest by Python's own
json and hashlib; lumens, watts and drops by hand from the shop's list and NEC Chapter 9 Table 8.
"""

import csv
import hashlib
import json
import os
import subprocess
from pathlib import Path

import icalendar
import numpy
import pytest

ROOT = Path(__file__).resolve().parents[3]
BOOK = ROOT / "example-repo"
JOBS = sorted(p.name for p in (BOOK / "projects").iterdir())


def run(*arguments, codes=(0,)):
    environment = {"PATH": os.environ["PATH"], "HOME": "/nonexistent", "UNDERLIT_CLOCK": "2026-11-02T09:00:00Z"}
    done = subprocess.run(
        [os.environ["UNDERLIT"], "--book", str(BOOK), *arguments], capture_output=True, text=True, env=environment
    )
    assert done.returncode in codes, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module", params=JOBS)
def pack(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    run("pack", request.param, "--into", str(folder))
    return folder


def test_the_digest_is_over_the_data_spelled_as_the_manual_says(pack):
    record = json.loads((pack / "pack.json").read_text(encoding="utf-8"))
    spelled = json.dumps(record["data"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hashlib.sha256(spelled.encode()).hexdigest() == record["sha256"]
    for file in record["files"]:
        assert hashlib.sha256((pack / file["path"]).read_bytes()).hexdigest() == file["sha256"], file["path"]


def test_every_page_says_whether_the_job_is_released(pack):
    record = json.loads((pack / "pack.json").read_text(encoding="utf-8"))
    text = subprocess.run(["pdftotext", str(pack / "pack.pdf"), "-"], capture_output=True, text=True, check=True).stdout
    pages = text.rstrip("\f").split("\f")
    assert all(("NOT RELEASED" in page) != record["released"] for page in pages)


def test_every_watt_is_on_one_output_and_the_figures_follow_from_the_lists(pack):
    record = json.loads((pack / "pack.json").read_text(encoding="utf-8"))
    data = record["data"]
    lights = {l["id"]: l for l in json.loads((BOOK / "shop/lights.json").read_text())["lights"]}
    wire = json.loads((BOOK / "shop/wire.json").read_text())
    leads = [lead for circuit in data["circuits"] for lead in circuit["leads"]]
    for panel in data["panels"]:
        power = panel["power"]
        if power is None:
            assert record["words"]["panels"][panel["id"]]["open"]
            continue
        mine = [lead for lead in leads if lead["panel"] == panel["id"]]
        tapes = sorted(number for lead in mine for number in lead["tapes"])
        assert tapes == [tape["number"] for tape in power["tapes"]]
        assert abs(sum(lead["power_mw"] for lead in mine) - power["power_mw"]) <= len(mine)
        # By hand: watts and lumens per metre of the list times the length of tape.
        light = lights[power["tape"]["id"]]
        metres = power["tape_um"] / 1e6
        watts = sum(channel["watts_per_m"] for channel in light["channels"]) * metres
        assert abs(watts * 1000 - power["power_mw"]) <= 1
        lumens = sum(channel["lumens_per_m"] for channel in light["channels"]) * metres
        exitance = lumens * light["face_share"][panel["face"]] / (panel["area_mm2"] / 1e6)
        assert abs(exitance - power["exitance_lm_m2"]) <= 1
        # Luminance of a matt surface is exitance over pi: the measured share of it is below that of the bare face.
        if power["luminance"]:
            assert power["luminance"]["low_mcd_m2"] <= power["luminance"]["high_mcd_m2"]
            assert power["luminance"]["high_mcd_m2"] / 1000 < exitance / numpy.pi
    # NEC Chapter 9 Table 8, copper, stranded, uncoated, ohms per 1000 ft at 75 °C; 1000 ft are 304.8 m.
    table = {"18 AWG": 7.95, "16 AWG": 4.99, "14 AWG": 3.14, "12 AWG": 1.98, "10 AWG": 1.24}
    if wire["conductor_c"] != 75:
        pytest.skip("the example's wire is not at the table's temperature")
    for lead in leads:
        if lead["cable"]["size"] not in table:
            continue
        # What lies loose behind the panel is cable too; what drops along the tape is counted apart.
        metres = (lead["length_um"] + lead["slack_um"]) / 1e6
        ohms = table[lead["cable"]["size"]] / 304.8 * metres + 2 * wire["joint_mohm"] / 1000
        common, *channels = (conductor["current_ma"] / 1000 for conductor in lead["conductors"])
        drop = ohms * (common + max(channels))
        assert abs(drop * 1000 - (lead["drop_mv"] - lead["tape_drop_mv"])) <= 2, lead


def test_masses_conductors_sheets_and_joints_by_hand(pack):
    data = json.loads((pack / "pack.json").read_text(encoding="utf-8"))["data"]
    stones = {stone["swatch"]: stone for stone in data["stones"]}
    routes = {r["id"]: r for r in json.loads((BOOK / "shop/routes.json").read_text())["routes"]}
    # A common and one conductor for each channel: common practice, no source.
    conductors = {"static-white": 2, "tunable-white": 3, "rgb": 4, "rgbw": 5, "warm-dim": 2, "rgb-tunable-white": 6}
    for panel in data["panels"]:
        stone = stones[panel["swatch"]]
        if panel["stone_mass_g"] is not None:
            # Area in m² times thickness in m times density in kg/m³; without a density of its own 2700 kg/m³, which is
            # common practice, no source. Calcite alone weighs 2710 kg/m³ (handbook value, from memory).
            mass = panel["area_mm2"] / 1e6 * stone["slab_thickness_um"] / 1e6 * stone["density_kg_m3"]
            assert abs(panel["stone_mass_g"] / 1000 - mass) <= 0.002
            assert 2200 <= stone["density_kg_m3"] <= 2900
        if panel["power"]:
            assert panel["power"]["conductors"] == conductors[panel["light"]]
        if panel["route"]:
            layers = routes[panel["route"]["id"]].get("layers", [])
            fitting = [l["id"] for l in layers if panel["face"] in l.get("faces", [panel["face"]])]
            assert [sheet["item"]["id"] for sheet in panel["sheets"]] == fitting
            assert all(sheet["area_mm2"] == panel["area_mm2"] for sheet in panel["sheets"])
            bought = [b for b in data["bill"] if b["panel"] == panel["id"]]
            assert [b["item"]["id"] for b in bought] == fitting
            assert all(abs(b["quantity_thousandths"] - panel["area_mm2"] / 1000) <= 1 for b in bought)
    leads = [lead for circuit in data["circuits"] for lead in circuit["leads"]]
    for lead in leads:
        ends = [(joint["at"], joint["conductors"]) for joint in lead["joints"]][-2:]
        assert ends == [("at-source", len(lead["conductors"])), ("at-panel", len(lead["conductors"]))]
    pieces = sum(b["quantity_thousandths"] for b in data["bill"] if b["what"] == "connector")
    assert pieces == 1000 * sum(len(lead["joints"]) for lead in leads)


def test_the_bill_is_the_same_in_both_forms(pack):
    rows = list(csv.DictReader((pack / "bill.csv").read_text(encoding="utf-8-sig").splitlines()))
    bill = json.loads((pack / "bill.json").read_text(encoding="utf-8"))["bill"]
    assert [(r["what"], r["id"], round(float(r["quantity"]) * 1000), r["panel"]) for r in rows] == [
        (b["what"], b["item"]["id"], b["quantity_thousandths"], b["panel"] or "") for b in bill
    ]


@pytest.mark.parametrize("job", JOBS)
def test_the_dates_are_read_by_a_calendar_program(job, tmp_path):
    file = tmp_path / "job.ics"
    answer = json.loads(run("dates", job, "--ics", str(file), "--json"))
    calendar = icalendar.Calendar.from_ical(file.read_bytes())
    events = {str(event["UID"]): event for event in calendar.walk("VEVENT")}
    install = answer["install_date"]
    named = {uid.split("@")[0].removeprefix(f"{job}."): event for uid, event in events.items()}
    assert named["install"].decoded("DTSTART").isoformat() == install
    (route,) = [r for r in answer["routes"] if r["taken"]]
    for step in route["milestones"]:
        if not step["reached"]:
            assert named[step["milestone"]].decoded("DTSTART").isoformat() == step["latest"]
    # On site by the install date less the reserve, in the shop's business days (NumPy's busday_offset).
    shop = json.loads((BOOK / "shop/calendar.json").read_text())
    (holidays,) = [c for c in shop["holiday_calendars"] if c["id"] == shop["shop_holidays"]]
    week = [day in shop["working_days"] for day in
            ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]]
    days = dict(weekmask=week, holidays=[h["date"] for h in holidays["holidays"]])
    arrived = numpy.busday_offset(install, -shop["allowances"]["install_reserve_business_days"], roll="backward", **days)
    (step,) = [m for m in route["milestones"] if m["milestone"] == "arrived"]
    assert step["latest"] == str(arrived)
