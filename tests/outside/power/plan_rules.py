"""What a wiring plan has to hold, written from the standards' tables and Ohm's and Kirchhoff's laws: nothing of underlit's own.

Sources: NEC Chapter 9 Table 8, 240.4(D) and Table 11(B); IEC 60228 Tables 2 and 3; IEC 60028. Each value says whether it
was seen in a public reprint or is from memory. Trade limits (what a cable's supplier allows, how far a driver is loaded)
are the shop's own, read from its lists.
"""

# NEC Chapter 9 Table 8, copper, stranded, uncoated, ohms per 1000 ft at 75 °C (seen in two reprints); note 2: 0.00323 per kelvin.
AWG = {"18 AWG": 7.95, "16 AWG": 4.99, "14 AWG": 3.14, "12 AWG": 1.98, "10 AWG": 1.24}
# IEC 60228 Table 2 (class 2) and Table 3 (class 5), plain copper, ohms per kilometre at 20 °C (seen in two reprints);
# IEC 60028: 0.00393 per kelvin at 20 °C.
CLASS_2 = {"0.5 mm2": 36.0, "0.75 mm2": 24.5, "1 mm2": 18.1, "1.5 mm2": 12.1, "2.5 mm2": 7.41, "4 mm2": 4.61}
CLASS_5 = {"0.5 mm2": 39.0, "0.75 mm2": 26.0, "1 mm2": 19.5, "1.5 mm2": 13.3, "2.5 mm2": 7.98, "4 mm2": 4.95}
# NEC 240.4(D), overcurrent protection of small copper conductors, amperes (seen in a public table).
SMALL_CONDUCTORS = {"18 AWG": 7, "16 AWG": 10, "14 AWG": 15, "12 AWG": 20, "10 AWG": 30}
# A common and one conductor for each channel: common practice, no source.
CHANNELS = {"static-white": 1, "tunable-white": 2, "rgb": 3, "rgbw": 4, "warm-dim": 1, "rgb-tunable-white": 5}
# What suits a wet place suits a damp and a dry one. IEC 60529 counts the same way within splash and jet (digits 4 to 6);
# which digit a place takes is common practice, no source.
PLACES = ["dry", "damp", "wet"]
# Cable left loose behind a panel, metres, by its mount: room for a hand and a plug, and the way of a tray that comes out
# sideways. Common practice, no source.
HAND_M = 0.3


def ohm_per_m(cable, conductor_c):
    size = cable["size"]
    if cable["table"] == "awg":
        return AWG[size] / 304.8 * (1 + 0.00323 * (conductor_c - 75))
    table = CLASS_2 if cable["table"] == "mm2-class-2" else CLASS_5
    return table[size] / 1000 * (1 + 0.00393 * (conductor_c - 20))


def class_2_limit_a(highest_v):
    """NEC Chapter 9 Table 11(B), not inherently limited, from memory: 5 A up to 20 V, 100/V A up to 30 V."""
    if highest_v <= 20:
        return 5.0
    return 100 / highest_v if highest_v <= 30 else 0.0


def along_tape(amps, ohms, far_ohms=None, steps=400):
    """The largest drop along a tape that gives its current away evenly, by adding up short pieces; with a conductor to its far
    end, as much current goes that way as makes both ways drop the same (Kirchhoff)."""

    def run(near):
        drop = worst = 0.0
        left = near
        for _ in range(steps):
            drop += (left - amps / steps / 2) * ohms / steps
            left -= amps / steps
            worst = max(worst, drop)
        return worst, drop

    if far_ohms is None or ohms == 0:
        return run(amps)[0]
    low, high = 0.0, amps
    for _ in range(50):
        near = (low + high) / 2
        if run(near)[1] > (amps - near) * far_ohms:
            high = near
        else:
            low = near
    return run(low)[0]


def slack_m(mount, long_mm):
    return {"tray": long_mm / 1000 + HAND_M, "fixed": 0.0}.get(mount, HAND_M)


def by_id(items):
    return {item["id"]: item for item in items}


class Shop:
    def __init__(self, lists):
        self.lights = by_id(lists["lights"]["lights"])
        self.drivers = by_id(lists["drivers"]["drivers"])
        self.share = lists["drivers"]["largest_load_share"]
        self.controllers = by_id(lists["controls"]["controllers"])
        self.dimmers = by_id(lists["controls"]["dimmers"])
        self.wire = lists["wire"]
        self.cables = by_id(self.wire["cables"])
        self.connectors = by_id(self.wire.get("connectors", []))
        self.fuses = by_id(self.wire.get("fuses", []))
        self.fuse_share = self.wire.get("largest_fuse_share", 0.8)


def is_listed(driver):
    """Listed, and nothing in its figures contradicts that."""
    amps = driver["output_rating_w"] / driver["output_v"]
    return driver["listed_class2"] and amps <= class_2_limit_a(driver["highest_output_v"]) * (1 + 1e-9)


def suits(has, asked):
    return PLACES.index(has) >= PLACES.index(asked)


def check(answer, panels, site, shop):
    """Every rule that a plan breaks, as sentences; nothing where it holds. `panels` are the records by their names."""
    wrong = []

    def hold(true, *what):
        if not true:
            wrong.append(" ".join(map(str, what)))

    plans = {plan["id"]: plan for plan in answer["panels"]}
    fed = {name: plan["power"] for name, plan in plans.items() if plan["power"]}
    driver_watts, bill = {}, {}

    def buy(what, name, amount):
        bill[what, name] = bill.get((what, name), 0.0) + amount

    for name, power in fed.items():
        light, record = shop.lights[power["tape"]], panels[name]
        hold(light["kind"] == record["light"]["kind"] and light["voltage_v"] == record["voltage_v"], name, "tape")
        hold(suits(light["place"], record["place"]), name, "tape", light["id"], "in a", record["place"], "place")
        watts_per_m = sum(channel["watts_per_m"] for channel in light["channels"])
        for tape in power["tapes"]:
            cuts = tape["length_m"] * 1000 / light["cut_interval_mm"]
            hold(abs(cuts - round(cuts)) < 1e-4, name, "tape is not cut at a mark:", tape)
            run = light["largest_run_m"]
            run = light.get("largest_run_both_ends_m", run) if tape["fed_ends"] == 2 else run
            hold(tape["length_m"] <= run + 2e-5, name, "tape beyond its run:", tape)
            hold(abs(tape["power_w"] - watts_per_m * tape["length_m"]) < 1e-6, name, "watts of tape", tape)
        buy("tape", light["id"], sum(tape["length_m"] for tape in power["tapes"]))
        hold(not power["against"], name, "against:", power["against"])

    placed, drivers, seen = {}, {}, set()
    for circuit in answer["circuits"]:
        driver = shop.drivers[circuit["driver"]]
        at = f"driver {circuit['driver_number']}.{circuit['output']}"
        hold((circuit["driver_number"], circuit["output"]) not in seen, at, "is used twice")
        seen.add((circuit["driver_number"], circuit["output"]))
        hold(circuit["output"] <= driver["outputs"], at, "has no such output")
        # Loading: the shop's largest share, of the output and of the driver.
        hold(circuit["load_w"] <= shop.share * driver["output_rating_w"] + 1e-5, at, "loaded with", circuit["load_w"])
        hold(abs(circuit["load_share"] * driver["output_rating_w"] - circuit["load_w"]) < 1e-6, at, "share")
        driver_watts[circuit["driver_number"]] = driver_watts.get(circuit["driver_number"], 0) + circuit["load_w"]
        drivers[circuit["driver_number"]] = driver
        hold(driver["mains_least_v"] <= site["mains_v"] <= driver["mains_most_v"], at, "mains", site["mains_v"])
        listed = is_listed(driver)
        circuit_a = 0.0
        for number, lead in enumerate(circuit["leads"]):
            record, light = panels[lead["panel"]], shop.lights[fed[lead["panel"]]["tape"]]
            supply = record.get("supply", {"location": "remote", "place": "dry"})
            control_place = supply.get("controller_place", supply["place"])
            where = f"{at} to {lead['panel']}.{lead['piece']}"
            hold(suits(driver["place"], supply["place"]), where, "driver's place")
            hold(supply["location"] in driver["locations"], where, "driver's location")
            hold(driver["output_v"] == light["voltage_v"], where, "voltage")
            tapes = [fed[lead["panel"]]["tapes"][tape - 1] for tape in lead["tape_numbers"]]
            for tape in tapes:
                key = lead["panel"], tape["number"]
                placed[key] = placed.get(key, 0) + 1
                hold(tape["piece"] == lead["piece"], where, "tape of another piece", tape)
            hold(abs(sum(tape["power_w"] for tape in tapes) - lead["load_w"]) < 1e-6, where, "watts")
            # Conductors: the common carries the sum.
            volts = light["voltage_v"]
            metres = sum(tape["length_m"] for tape in tapes)
            channels = [channel["watts_per_m"] * metres / volts for channel in light["channels"]]
            common = sum(channels)
            circuit_a += common
            hold(len(channels) == CHANNELS[light["kind"]], where, "channels")
            amps = [conductor["current_a"] for conductor in lead["conductors"]]
            hold(len(amps) == len(channels) + 1, where, "conductors")
            hold(all(abs(a - b) < 1e-6 for a, b in zip(amps, [common, *channels])), where, "currents", amps)
            cable = shop.cables[lead["cable"]]
            hold(cable["conductors"] >= len(amps), where, "too few conductors in", cable["id"])
            runs = [(cable, max(amps), lead["protection"], len(amps), lead["feed_m"] + lead["slack_m"])]
            apart = lead["controller_cable"] is not None
            if apart:
                first = shop.cables[lead["controller_cable"]]
                runs.insert(0, (first, None, lead["controller_protection"], 2, lead["controller_m"]))
            # Marking.
            for one, *_ in runs:
                marked, general = one.get("class2_type"), one.get("general_type")
                hold(not supply.get("class2_wiring") or (listed and marked), where, "is to be Class 2:", one["id"])
                hold(listed or not marked or general, where, "marked for Class 2 only:", one["id"])
                hold(one.get("insulation_c", 999) >= shop.wire["conductor_c"], where, "insulation of", one["id"])
            # Slack and lengths.
            long_mm = max(record["_pieces"][max(0, lead["piece"] - 1)])
            want = slack_m(record.get("mount"), long_mm)
            # Seams that no route can make leave the panel without a route, and its wiring without pieces.
            hold(plans[lead["panel"]]["route"] is None or abs(lead["slack_m"] - want) < 1e-6, where, "slack", lead["slack_m"], "not", want)
            far = sum(tape["length_m"] for tape in tapes if tape["fed_ends"] == 2)
            hold(abs(lead["far_m"] - far) < 1e-6, where, "far feed", lead["far_m"], "not", far)
            buy("cable", lead["cable"], lead["feed_m"] + far)
            lead["_runs"], lead["_where"], lead["_common"], lead["_channel"] = runs, where, common, max(channels)
            lead["_tapes"], lead["_light"], lead["_cable"] = tapes, light, cable
            lead["_places"] = (supply["place"], control_place, record["place"])
            if apart and number == 0:
                buy("cable", lead["controller_cable"], lead["controller_m"])
                if lead["controller_protection"]["fuse"]:
                    buy("fuse", lead["controller_protection"]["fuse"], 1)
            if lead["protection"]["fuse"]:
                buy("fuse", lead["protection"]["fuse"], 1)
        hold(abs(circuit_a - circuit["load_a"]) < 1e-6, at, "amperes", circuit["load_a"], "not", circuit_a)
        for lead in circuit["leads"]:
            where, (supply_place, control_place, panel_place) = lead["_where"], lead["_places"]
            apart = lead["controller_cable"] is not None
            to_panel, to_control = lead["joints"][-2:], lead["joints"][:-2]
            # One sum of drops.
            drop = 0.0
            for run, (cable, load, _, _, length) in enumerate(lead["_runs"]):
                ohms = ohm_per_m(cable, shop.wire["conductor_c"]) * length + 2 * shop.wire["joint_mohm"] / 1000
                there_and_back = 2 * circuit_a if load is None else lead["_common"] + lead["_channel"]
                drop += there_and_back * ohms
            light, tape_drop = lead["_light"], 0.0
            volts = light["voltage_v"]
            for tape in lead["_tapes"]:
                rails = [light.get("common_ohm_per_m", 0) * tape["length_m"], light.get("channel_ohm_per_m", 0) * tape["length_m"]]
                share = tape["length_m"] / volts
                currents = [sum(c["watts_per_m"] for c in light["channels"]) * share,
                            max(c["watts_per_m"] for c in light["channels"]) * share]
                far_ohms = None
                if tape["fed_ends"] == 2:
                    far_ohms = ohm_per_m(lead["_cable"], shop.wire["conductor_c"]) * tape["length_m"]
                tape_drop = max(tape_drop, sum(along_tape(a, r, far_ohms) for a, r in zip(currents, rails)))
            total = drop + tape_drop
            hold(abs(total - lead["drop_v"]) <= 0.005 * total + 1e-4, where, "drop", lead["drop_v"], "not", total)
            hold(abs(tape_drop - lead["tape_drop_v"]) <= 0.005 * tape_drop + 1e-4, where, "along the tape", lead["tape_drop_v"])
            limit = volts * shop.wire["largest_drop_pct"] / 100
            hold(total <= limit + 1e-4, where, "drops", total, "V, the limit is", limit)
            hold(abs(lead["drop_pct"] - 100 * lead["drop_v"] / volts) < 1e-6, where, "percent")
            # Current and protection of every cable, with the connectors at its ends.
            fuse_before = None
            for run, (cable, load, protection, used, _) in enumerate(lead["_runs"]):
                to_controller = apart and run == 0
                load = circuit_a if load is None else load
                ends = to_control if to_controller else to_panel
                begins = supply_place if to_controller or not apart else control_place
                ends_in = control_place if to_controller else panel_place
                hold(load <= cable["conductor_a"] + 1e-6, where, cable["id"], "carries", load)
                # The cable to a controller is one for all leads; its joints stand with the first.
                for joint, place in zip(ends, (begins, ends_in)):
                    if joint["connector"]:
                        connector = shop.connectors[joint["connector"]]
                        hold(connector["conductors"] >= used and connector["conductor_a"] >= load - 1e-6, where, "joint", connector["id"])
                        hold(suits(connector["place"], place), where, "connector", connector["id"], "in a", place, "place")
                carries = min([cable["conductor_a"], SMALL_CONDUCTORS.get(cable["size"], 1e9)]
                              + [shop.connectors[j["connector"]]["conductor_a"] for j in ends if j["connector"]])
                by, limit_a = protection["by"], protection["limit_a"]
                if by == "listed-output":
                    hold(listed, where, "the output is not listed")
                elif by == "limited-output":
                    hold(not listed and limit_a == driver.get("output_limit_a") and limit_a <= carries + 1e-6, where, protection, carries)
                elif by == "fuse":
                    fuse = shop.fuses[protection["fuse"]]
                    hold(not listed and limit_a == fuse["fuse_a"] <= carries + 1e-6, where, "fuse above", carries, protection)
                    hold(load <= shop.fuse_share * fuse["fuse_a"] + 1e-6, where, "fuse too small for", load, protection)
                    hold(fuse["highest_v"] >= driver["highest_output_v"], where, "fuse breaks", fuse["highest_v"])
                    hold(suits(fuse["place"], begins), where, "fuse in a", begins, "place")
                    fuse_before = fuse["fuse_a"]
                elif by == "fuse-before":
                    hold(fuse_before is not None and limit_a == fuse_before <= carries + 1e-6, where, protection)
                else:
                    hold(False, where, "is not protected")
        # Controls.
        if circuit["controller"]:
            controller = shop.controllers[circuit["controller"]]
            sums = [sum(lead["conductors"][1 + n]["current_a"] for lead in circuit["leads"])
                    for n in range(len(circuit["leads"][0]["conductors"]) - 1)]
            hold(max(sums) <= controller["channel_a"] + 1e-6 and sum(sums) <= controller["total_a"] + 1e-6, at, "controller", sums)
            hold(suits(controller["place"], circuit["leads"][0]["_places"][1]), at, "controller's place")
            buy("controller", controller["id"], 1)
    for number, watts in driver_watts.items():
        driver = drivers[number]
        hold(watts <= shop.share * driver["rating_w"] + 1e-5, "driver", number, "carries", watts)
        hold(watts >= driver["least_load_w"] - 1e-6, "driver", number, "below its least load:", watts)
        buy("driver", driver["id"], 1)
    hold(sorted(driver_watts) == list(range(1, len(driver_watts) + 1)), "drivers are numbered", sorted(driver_watts))
    for name, power in fed.items():
        for tape in power["tapes"]:
            hold(placed.get((name, tape["number"])) == 1, name, "tape", tape["number"], "is on", placed.get((name, tape["number"])), "outputs")
    # The bill is what the circuits take.
    for line in answer["bill"]:
        key = line["what"], line["id"]
        if line["what"] in ("tape", "cable", "driver", "controller", "fuse"):
            hold(abs(bill.pop(key, 0) - line["quantity"]) < 1e-6, "bill", line)
    hold(not bill, "not on the bill:", bill)
    return wrong
