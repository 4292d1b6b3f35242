"""Business days and chains of dates against NumPy, which shares no code with underlit's date library."""

import json
import random

import numpy as np
import pytest
from power_answers import calc, run, written

RANDOM = random.Random(20270111)


def some_day(span=900):
    return np.datetime64("2026-01-01") + RANDOM.randrange(span)


CASES = [(some_day(), RANDOM.randrange(-120, 121), sorted({some_day() for _ in range(RANDOM.randrange(40))})) for _ in range(120)]


@pytest.mark.parametrize(("start", "days", "holidays"), CASES)
def test_offsets_as_numpy_counts_them(start, days, holidays):
    # numpy.busday_offset: a start on a day off rolls forward when counting on, backward when counting back.
    expected = np.busday_offset(start, days, roll="backward" if days < 0 else "forward", holidays=holidays)
    options = [f"--holiday={day}" for day in holidays]
    assert calc("dates", "--from", start, f"--business-days={days}", *options) == {"date": str(expected)}


def test_fifteen_back_over_two_holidays():
    # numpy.busday_offset("2027-01-11", -15, holidays=[…]) → 2026-12-17.
    answer = calc("dates", "--from", "2027-01-11", "--business-days", "-15", "--holiday", "2026-12-25", "2027-01-01")
    assert answer == {"date": "2026-12-17"}


def test_other_working_weeks():
    # numpy.busday_offset with a weekmask: Sunday to Thursday.
    expected = np.busday_offset("2027-01-08", 9, roll="forward", weekmask="1111001")
    week = "sunday,monday,tuesday,wednesday,thursday"
    assert calc("dates", "--from", "2027-01-08", "--business-days", 9, "--working-day", week) == {"date": str(expected)}


@pytest.mark.parametrize("text", ["2027-02-29", "2027-13-01", "27-01-01", "2027/01/01", "20270101", "2027-01-01T00:00", "today"])
def test_what_is_no_date_is_refused(text):
    assert run("calc", "dates", "--from", text, "--business-days", 1).returncode == 2  # wrong use


def test_a_count_without_end_is_refused():
    done = run("calc", "dates", "--from", "2027-01-04", "--business-days", "9223372036854775807")
    assert done.returncode == 2
    assert json.loads(done.stdout)["error"]["code"] == "dates-too-far"


class Calendars:
    """The shop's days and the parcels' days of one job, as NumPy calendars."""

    def __init__(self, shop):
        named = {each["id"]: [day["date"] for day in each["holidays"]] for each in shop["holiday_calendars"]}
        names = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
        mask = [name in shop["working_days"] for name in names]
        self.shop = np.busdaycalendar(mask, named[shop["shop_holidays"]])
        self.parcels = np.busdaycalendar(mask, named[shop["transit_holidays"]])

    def both(self, day, step):
        while not (np.is_busday(day, busdaycal=self.shop) and np.is_busday(day, busdaycal=self.parcels)):
            day += step
        return day


def back(day, days, calendar):
    return np.busday_offset(day, -days, roll="backward", busdaycal=calendar)


def on(day, days, calendar):
    return np.busday_offset(day, days, roll="forward", busdaycal=calendar)


JOBS = json.loads(written("chains.json"))


@pytest.mark.parametrize("job", JOBS, ids=range(len(JOBS)))
def test_the_chain_back_as_numpy_counts_it(job):
    route, shop = job["route"], job["shop"]
    days, allowed = Calendars(shop), shop["allowances"]
    rounds = allowed["approval_rounds"] * allowed["approval_round_business_days"]
    arrived = back(np.datetime64(job["install"]), allowed["install_reserve_business_days"], days.shop)
    built = days.both(back(arrived, route["transit_business_days"], days.parcels), -1)
    start = back(built, route["build_business_days"], days.shop)
    approved = back(start, allowed["release_business_days"], days.shop)
    rendered = back(approved, rounds, days.shop)
    material = back(start, route["material_business_days"], days.shop)
    chosen = min(back(rendered, allowed["rendering_business_days"], days.shop), material)
    tried = back(chosen, allowed["choice_business_days"], days.shop)
    received = back(tried, allowed["trial_business_days"], days.shop)
    sent = days.both(back(received, route["test_panel_transit_business_days"], days.parcels), -1)
    asked = back(sent, route["test_panel_business_days"], days.shop)
    assert job["latest"] == {
        "test-panel-asked-for": str(asked),
        "test-panel-sent": str(sent),
        "test-panel-received": str(received),
        "stones-tried": str(tried),
        "choice-signed": str(chosen),
        "rendering-ready": str(rendered),
        "rendering-approved": str(approved),
        "released": str(start),
        "material-there": str(start),
        "built": str(built),
        "arrived": str(arrived),
    }
    assert job["order_material_by"] == str(material)


@pytest.mark.parametrize("job", JOBS, ids=range(len(JOBS)))
def test_the_chain_forward_as_numpy_counts_it(job):
    route, shop = job["route"], job["shop"]
    days, allowed = Calendars(shop), shop["allowances"]
    rounds = allowed["approval_rounds"] * allowed["approval_round_business_days"]
    asked = on(np.datetime64(job["today"]), 0, days.shop)
    sent = days.both(on(asked, route["test_panel_business_days"], days.shop), 1)
    received = on(sent, route["test_panel_transit_business_days"], days.parcels)
    tried = on(received, allowed["trial_business_days"], days.shop)
    chosen = on(tried, allowed["choice_business_days"], days.shop)
    rendered = on(chosen, allowed["rendering_business_days"], days.shop)
    approved = on(rendered, rounds, days.shop)
    released = on(approved, allowed["release_business_days"], days.shop)
    material = on(chosen, route["material_business_days"], days.shop)
    built = days.both(on(max(released, material), route["build_business_days"], days.shop), 1)
    arrived = on(built, route["transit_business_days"], days.parcels)
    assert job["earliest"] == {
        "test-panel-asked-for": str(asked),
        "test-panel-sent": str(sent),
        "test-panel-received": str(received),
        "stones-tried": str(tried),
        "choice-signed": str(chosen),
        "rendering-ready": str(rendered),
        "rendering-approved": str(approved),
        "released": str(released),
        "material-there": str(material),
        "built": str(built),
        "arrived": str(arrived),
    }
    assert job["earliest_install"] == str(on(arrived, allowed["install_reserve_business_days"], days.shop))
