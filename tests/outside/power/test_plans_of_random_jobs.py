"""The plans of random jobs held to the standards' tables: conductor, marking, protection, drop, loading, ingress, temperature.

`UNDERLIT_PLANS=1000` tries so many (`UNDERLIT_PLANS_FROM=5` another draw); exact and equal cases come first in every run.
"""

import json
import os
import random
import re

import pytest
from plan_rules import CHANNELS, Shop, check
from random_jobs import EXACT, Book, metric, plain, random_job

MANY = int(os.environ.get("UNDERLIT_PLANS", "40"))
SEED = int(os.environ.get("UNDERLIT_PLANS_FROM", "1"))
MAKES = {"starter": None, "metric": metric, "plain": plain}


@pytest.mark.parametrize("make", MAKES)
def test_every_plan_holds_by_the_tables(make, tmp_path):
    book = Book(tmp_path, os.environ["UNDERLIT"], MAKES[make])
    shop = Shop(book.lists)
    dice = random.Random(f"{make}-{SEED}")
    jobs = EXACT + [random_job(dice) for _ in range(max(0, MANY // len(MAKES) - len(EXACT)))]
    counts = {"jobs": 0, "panels": 0, "fed": 0, "leads": 0, "fused": 0, "unlisted": 0, "refused": 0, "fixed": 0}
    broken, kinds = [], set()
    for number, job in enumerate(jobs):
        panels = book.write(job)
        done = book.run("plan", "job", "--json")
        assert done.returncode in (0, 1), f"job {number}: {done.stdout}{done.stderr}"
        answer = json.loads(done.stdout)
        counts["jobs"] += 1
        counts["panels"] += len(panels)
        leads = [lead for circuit in answer["circuits"] for lead in circuit["leads"]]
        counts["leads"] += len(leads)
        counts["fused"] += sum(lead["protection"]["by"] == "fuse" for lead in leads)
        counts["unlisted"] += sum(lead["protection"]["by"] != "listed-output" for lead in leads)
        broken += [f"{make} job {number}: {what}" for what in check(answer, panels, job, shop)]
        for plan in answer["panels"]:
            if plan["power"]:
                counts["fed"] += 1
                kinds.add(panels[plan["id"]]["light"]["kind"])
                continue
            counts["refused"] += 1
            reasons = " ".join(plan["power_reasons"])
            if not reasons:
                broken.append(f"{make} job {number}: {plan['id']} is refused without a word")
            broken += refused(book, job, number, plan["id"], reasons, shop, counts)
    print(make, counts, sorted(kinds))
    assert kinds == set(CHANNELS), "every kind of light is fed somewhere"
    assert not broken, f"{len(broken)} broken: " + "\n".join(broken[:20])


def refused(book, job, number, panel, reasons, shop, counts):
    """What is said to work does, and no driver of the list that is not named would have done as well."""
    broken = []
    wish = job["panels"][int(panel[1:])]
    said = re.search(r"it works with at most ([0-9.]+) m of wire", reasons)
    if said:
        shorter = {**job, "panels": [{**wish, "feed_m": float(said[1])}]}
        book.write(shorter)
        answer = json.loads(book.run("plan", "job", "--json").stdout)
        if not answer["panels"][0]["power"]:
            broken.append(f"job {number}: {panel} does not work with {said[1]} m as is said: {answer['panels'][0]}")
        counts["fixed"] += 1
    if number % 5 == 0 and "cable" in reasons:
        book.write({**job, "panels": [wish]})
        for driver in shop.drivers:
            answer = json.loads(book.run("plan", "job", "p0", "--show", "--driver", driver, "--json").stdout)
            if answer["panels"][0]["power"]:
                broken.append(f"job {number}: {panel} is refused, and {driver} feeds it")
    return broken
