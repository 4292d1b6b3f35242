"""Books with shops of several makes, and jobs for them: exact and equal cases first, then random ones.

Everything in them is invented.
"""

import hashlib
import json
import os
import subprocess

SHOPS = ["starter", "metric", "plain"]


def starter_of(run, book):
    lists = ("lights", "drivers", "controls", "wire")
    return {name: json.loads((book / f"shop/{name}.json").read_text()) for name in lists}


def metric(lists):
    """Metric cable, a warm room, outputs that are limited, dear fuses."""
    wire = lists["wire"]
    note = wire["cables"][0]["note"]
    table = {"0.75 mm2": 6, "1.5 mm2": 14, "2.5 mm2": 20, "4 mm2": 26}
    wire["cables"] = [
        {"id": f"m{size.split()[0].replace('.', '-')}-{n}", "name": f"{size}, {n} conductors", "table": "mm2-class-5",
         "size": size, "conductors": n, "conductor_a": amps, "insulation_c": 70, "note": note}
        for size, amps in table.items() for n in (2, 3, 4, 5, 6)
    ]
    wire["conductor_c"] = 50
    wire["largest_drop_pct"] = 4
    wire["fuses"] = [f for f in wire["fuses"] if f["fuse_a"] in (5, 10)]
    wire["largest_fuse_share"] = 0.75
    for driver in lists["drivers"]["drivers"]:
        driver["listed_class2"] = False
        if driver["output_rating_w"] <= 96:
            driver["output_limit_a"] = driver["output_rating_w"] / driver["output_v"] * 1.4
    return lists


def plain(lists):
    """Few things: one size of cable for Class 2 and one for all, no fuse above 5 A, no list of connectors."""
    wire = lists["wire"]
    wire["cables"] = [c for c in wire["cables"] if c["id"].startswith(("18-", "power-14-"))]
    wire["fuses"] = [f for f in wire["fuses"] if f["fuse_a"] <= 5]
    del wire["connectors"]
    keep = ("plain-24-60", "plain-24-192-twin", "plain-24-300", "plain-12-60", "phase-24-96")
    lists["drivers"]["drivers"] = [d for d in lists["drivers"]["drivers"] if d["id"] in keep]
    return lists


# What is chosen of the white of a light, where it is more or less than 3000 K.
WHITES = {"rgb": {}, "warm-dim": {"cct_k": 3000, "cct_range_k": {"warmest": 1800, "coolest": 3000}}}


class Book:
    """A book of one shop with one project, whose panels are written anew for each job."""

    def __init__(self, room, binary, make):
        self.room, self.binary, self.folder = room, binary, room / "book"
        self.environment = {
            "PATH": os.environ["PATH"], "HOME": str(room), "UNDERLIT_CLOCK": "2026-11-02T09:00:00Z", "LC_ALL": "C.UTF-8",
        }
        for person in ("mara", "imke"):
            subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", person, "-f", str(room / person)], check=True)
        self.done("init", "book", "--shop", "Tern Point Lightworks", "--owner", "mara", "--owner-name", "Mara Quill",
                  "--roles", "rep,engineer", "--key", str(room / "mara"), inside=False)
        self.done("roster", "add", "imke", "--name", "Imke Voss", "--role", "client", "--public-key", str(room / "imke.pub"))
        self.lists = starter_of(None, self.folder)
        if make is not None:
            self.lists = make(self.lists)
            for name, record in self.lists.items():
                (self.folder / f"shop/{name}.json").write_text(json.dumps(record, indent=2, ensure_ascii=False) + "\n")
            self.done("roster", "seal")
        self.done("open", "job", "--title", "Job", "--client", "imke", "--site", "Quay", "--mains", "230", "--code-region", "iec")
        self.done("swatch", "add", "job", "honey", "--stone", "Honey onyx", "--material", "onyx", "--tone", "honey",
                  "--texture", "banded", "--thickness", "20mm", "--slab-thickness", "20mm")

    def run(self, *arguments, inside=True):
        command = [self.binary, *(["--book", str(self.folder)] if inside else []), *arguments]
        return subprocess.run(command, cwd=self.room, capture_output=True, text=True, env=self.environment, check=False)

    def done(self, *arguments, inside=True):
        made = self.run(*arguments, inside=inside)
        assert made.returncode == 0, made.stdout + made.stderr
        return made.stdout

    def write(self, job):
        """The records of a job; its panels by name, with what the checker has to know of their pieces."""
        project = self.folder / "projects/job"
        record = json.loads((project / "project.json").read_text())
        record["site"] |= {"mains_v": job["mains_v"], "code_region": job["code_region"]}
        (project / "project.json").write_text(json.dumps(record, indent=2) + "\n")
        folder = project / "panels"
        folder.mkdir(exist_ok=True)
        for old in folder.iterdir():
            old.unlink()
        panels = {}
        for number, wish in enumerate(job["panels"]):
            name = f"p{number}"
            width, height, pieces = wish["width"], wish["height"], wish["pieces"]
            corners = [[width, 0], [width, height], [0, height], [0, 0]]
            outline = json.dumps({"outer": {"start_mm": [0, 0], "segments": [{"kind": "line", "to_mm": c} for c in corners]}})
            (folder / f"{name}.outline.json").write_text(outline)
            panel = {
                "$schema": "../../../schema/panel.schema.json", "id": name, "title": f"Panel {number}", "swatch": "honey",
                "outline": {"file": f"{name}.outline.json", "sha256": hashlib.sha256(outline.encode()).hexdigest()},
                "place": wish["place"], "faces_considered": ["diffused"],
                "light": {"kind": wish["light"]} | WHITES.get(wish["light"], {"cct_k": 3000}),
                "face": "diffused", "lit_edges": wish["edges"], "voltage_v": wish["volts"], "mount": wish["mount"],
            }
            if wish["control"]:
                panel["control"] = wish["control"]
            panel["feed_length_m"] = wish["feed_m"]
            if wish["supply"]:
                panel["supply"] = wish["supply"]
            if pieces > 1:
                seams = [width * k / pieces for k in range(1, pieces)]
                panel["seams"] = [{"from_mm": [x, 0], "to_mm": [x, height]} for x in seams]
            (folder / f"{name}.json").write_text(json.dumps(panel, indent=2) + "\n")
            panels[name] = panel | {"_pieces": [(width / pieces, height)] * pieces}
        return panels


def wish(**changed):
    plain_wish = {
        "width": 1000, "height": 900, "pieces": 1, "light": "static-white", "control": None, "edges": [1, 3], "volts": 24,
        "mount": "tray", "place": "dry", "feed_m": 5, "supply": None,
    }
    return plain_wish | changed


def job(*panels, mains_v=230, code_region="iec"):
    return {"panels": list(panels), "mains_v": mains_v, "code_region": code_region}


# Loads of exactly what a driver takes at 80 %, tapes of exactly the longest run, equal panels, nothing between driver and
# panel, mains at the very ends of a driver's range, squares lit from all sides.
EXACT = [
    job(wish(width=2500, edges=[1], light="rgbw", control="colour-desk")),  # 48 W: 60 W at 80 %
    job(wish(width=4000, edges=[1], light="rgbw", control="colour-desk", pieces=2)),  # 76.8 W: 96 W at 80 %
    job(wish(width=2000, edges=[1, 3], light="rgbw", control="colour-desk")),  # 76.8 W of two tapes
    job(wish(width=5000, height=600, edges=[1], pieces=3)),
    job(wish(width=2380, height=1180, edges=[1], feed_m=0.1)),
    job(*[wish(width=800, height=800, edges=[1, 2, 3, 4])] * 4),
    job(*[wish(width=1000, height=1000, edges=[1, 3], mount="fixed")] * 5),
    job(wish(volts=12, width=1000, edges=[1]), wish(volts=12, width=1000, edges=[1])),
    job(wish(volts=12, width=2300, height=1100, edges=[1, 3], feed_m=1)),
    job(wish(mount="fixed", feed_m=0.1), mains_v=277, code_region="nec"),
    job(wish(), mains_v=100), job(wish(), mains_v=99), job(wish(), mains_v=278),
    job(wish(control="reverse-wall", width=600), mains_v=108), job(wish(control="reverse-wall", width=600), mains_v=132),
    job(wish(control="reverse-wall", width=600), mains_v=133),
    job(wish(place="wet", light="rgbw", control="colour-desk",
             supply={"location": "remote", "place": "wet", "controller_place": "damp"})),
    job(wish(place="wet")),
    job(wish(supply={"location": "remote", "place": "dry", "class2_wiring": True}, width=2000, edges=[1, 3])),
    job(wish(light="tunable-white", control="tunable-wall", supply={"location": "remote", "place": "dry", "controller_m": 6}),
        wish(light="tunable-white", control="tunable-wall", supply={"location": "remote", "place": "dry", "controller_m": 6})),
    job(wish(light="rgb", control="colour-wall", width=2380, height=1180, edges=[1, 3], feed_m=12)),
    # Warm-dim at its longest run and as much as a phase dimmer carries; five channels at what their controller carries.
    job(wish(light="warm-dim", control="reverse-wall", width=2380, edges=[1], feed_m=2), mains_v=120),
    job(*[wish(light="warm-dim", control="inline-pwm", width=1000, edges=[1, 3])] * 4),
    job(wish(light="rgb-tunable-white", control="colour-five", width=2380, edges=[1, 3])),
    job(*[wish(light="rgb-tunable-white", control="colour-five", width=1200, edges=[1], feed_m=1,
               supply={"location": "remote", "place": "dry", "controller_m": 3})] * 3),
]


def random_job(dice):
    lights = [
        ("static-white", None), ("static-white", None), ("static-white", "reverse-wall"), ("static-white", "inline-pwm"),
        ("tunable-white", "tunable-wall"), ("tunable-white", "colour-desk"), ("rgbw", "colour-desk"), ("rgbw", "colour-wall"),
        ("rgb", "colour-wall"), ("warm-dim", "reverse-wall"), ("warm-dim", "ten-volt-wall"), ("warm-dim", "inline-pwm"),
        ("rgb-tunable-white", "colour-five"), ("rgb-tunable-white", "colour-five"),
    ]

    def one():
        light, control = dice.choice(lights)
        pieces = dice.choice([1, 1, 1, 2, 3])
        supply = None
        if dice.random() < 0.6:
            supply = {"location": dice.choice(["remote", "remote", "remote", "in-wall-box"]),
                      "place": dice.choice(["dry", "dry", "damp", "wet"])}
            if dice.random() < 0.25:
                supply["class2_wiring"] = True
            if light not in ("static-white", "warm-dim") and dice.random() < 0.4:
                supply["controller_m"] = dice.choice([0.5, 3, 8])
            if dice.random() < 0.3:
                supply["controller_place"] = dice.choice(["dry", "damp"])
        return wish(
            width=dice.choice([2380, dice.randint(160, 2300)]) * pieces, height=dice.choice([600, dice.randint(160, 1180)]), pieces=pieces,
            light=light, control=control, edges=dice.choice([[1], [1, 3], [1, 3], [2, 4], [1, 2, 3, 4]]),
            volts=12 if light == "static-white" and control is None and dice.random() < 0.2 else 24,
            mount=dice.choice(["tray", "removable-stone", "framed-front", "fixed"]),
            place=dice.choice(["dry", "dry", "damp", "wet"] if light == "rgbw" else ["dry", "dry", "damp"]),
            feed_m=dice.choice([0.5, 2, 5, 40, 90, round(dice.uniform(0.3, 20), 1)]), supply=supply,
        )

    panels = [one() for _ in range(dice.choice([1, 1, 2, 3, 4]))]
    if dice.random() < 0.3:
        panels = [panels[0]] * dice.choice([2, 3])
    return job(*panels, mains_v=dice.choice([120, 230, 230, 277]), code_region=dice.choice(["nec", "iec", "other"]))
