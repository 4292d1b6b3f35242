"""Wire drops against the published tables, in sums of their own."""

import math

import pytest
from power_answers import calc, run

# NEC Chapter 9 Table 8, copper, stranded, uncoated, ohms per 1000 ft at 75 °C (seen in two reprints).
AWG = {"18 AWG": 7.95, "16 AWG": 4.99, "14 AWG": 3.14, "12 AWG": 1.98, "10 AWG": 1.24}
# IEC 60228 Table 2 (class 2) and Table 3 (class 5), plain copper, ohms per kilometre at 20 °C (seen in two reprints).
CLASS_2 = {"0.5 mm2": 36.0, "0.75 mm2": 24.5, "1 mm2": 18.1, "1.5 mm2": 12.1, "2.5 mm2": 7.41, "4 mm2": 4.61}
CLASS_5 = {"0.5 mm2": 39.0, "0.75 mm2": 26.0, "1 mm2": 19.5, "1.5 mm2": 13.3, "2.5 mm2": 7.98, "4 mm2": 4.95}
FOOT_M = 0.3048  # exact by definition (international yard and pound agreement, 1959)
TABLES = {
    "awg": {size: ohms / (1000 * FOOT_M) for size, ohms in AWG.items()},
    "mm2-class-2": {size: ohms / 1000 for size, ohms in CLASS_2.items()},
    "mm2-class-5": {size: ohms / 1000 for size, ohms in CLASS_5.items()},
}

# What a size carries: NEC 240.4(D); flexible cords such as H05VV-F, in public tables; above 1 mm2 stranded, IEC 60364-5-52
# method A1 (1.5 mm2 seen, 2.5 from memory), and 4 mm2 from memory.
CARRIES = {
    "awg": {"18 AWG": 7, "16 AWG": 10, "14 AWG": 15, "12 AWG": 20, "10 AWG": 30},
    "mm2-class-2": {"0.5 mm2": 3, "0.75 mm2": 6, "1 mm2": 10, "1.5 mm2": 14.5, "2.5 mm2": 19.5, "4 mm2": 25},
    "mm2-class-5": {"0.5 mm2": 3, "0.75 mm2": 6, "1 mm2": 10, "1.5 mm2": 15, "2.5 mm2": 20, "4 mm2": 25},
}


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize(("volts", "amps", "length_m", "limit_pct"), [(24, 4, 10, 3), (12, 6.25, 3, 3), (24, 0.4, 60, 5), (24, 9, 40, 2)])
def test_every_size_by_the_table(table, volts, amps, length_m, limit_pct):
    answer = calc(
        "wire", "--volts", volts, "--amps", amps, "--length-m", length_m, "--max-drop-pct", limit_pct, "--table", table
    )
    assert [row["size"] for row in answer["sizes"]] == list(TABLES[table])
    fitting = []
    for row in answer["sizes"]:
        per_m = TABLES[table][row["size"]]
        drop_v = 2 * per_m * length_m * amps  # there and back: Ohm's law
        assert row["drop_v"] == pytest.approx(drop_v, rel=1e-9)
        assert row["drop_pct"] == pytest.approx(100 * drop_v / volts, rel=1e-9)
        assert row["longest_m"] == pytest.approx(volts * limit_pct / 100 / (2 * per_m * amps), rel=1e-9)
        assert row["within_limit"] == (drop_v <= volts * limit_pct / 100)
        assert row["carries"] == (amps <= CARRIES[table][row["size"]]) and row["ampacity_a"] == CARRIES[table][row["size"]]
        fitting += [row["size"]] if row["within_limit"] and row["carries"] else []
    assert answer["use"] == (fitting[0] if fitting else None)


def test_mm2_is_short_for_class_2():
    plain = ("wire", "--volts", 24, "--amps", 2, "--length-m", 8)
    assert calc(*plain, "--table", "mm2") == calc(*plain, "--table", "mm2-class-2")


def test_temperature_by_the_published_coefficients():
    ask = ("wire", "--volts", 24, "--amps", 1, "--length-m", 100)
    # IEC 60028: 0.00393 per kelvin at 20 °C for annealed copper.
    warm = calc(*ask, "--table", "mm2-class-5", "--conductor-c", 70)["sizes"][3]
    assert warm["drop_v"] == pytest.approx(2 * 0.0133 * 100 * (1 + 0.00393 * 50), rel=1e-9)
    # NEC Chapter 9 Table 8 note 2: 0.00323 per kelvin at 75 °C.
    cool = calc(*ask, "--conductor-c", 25)["sizes"][0]
    assert cool["drop_v"] == pytest.approx(2 * 7.95 / 304.8 * 100 * (1 - 0.00323 * 50), rel=1e-9)


def test_the_textbook_run_of_fifty_feet():
    # Worked example (source not kept): 10 A over 50 ft one way at 1.588 ohms per 1000 ft drops 1.588 V. A hundred
    # feet there and back at 10 A is a thousand ampere-feet, so in every size volts equal ohms per 1000 ft.
    assert 2 * 50 * 10 / 1000 * 1.588 == pytest.approx(1.588)
    for row in calc("wire", "--volts", 24, "--amps", 10, "--length-m", 50 * FOOT_M)["sizes"]:
        assert row["drop_v"] == pytest.approx(AWG[row["size"]], rel=1e-9)


def test_resistance_is_near_that_of_copper():
    # Annealed copper, IEC 60028: 1/58 ohm·mm² per metre at 20 °C. A stranded conductor's largest resistance lies
    # above that of its nominal area by lay and tolerance, at most some percent.
    for row in calc("wire", "--volts", 24, "--amps", 1, "--length-m", 1000, "--table", "mm2")["sizes"]:
        area = float(row["size"].split()[0])
        assert 1.0 < row["drop_v"] / 2 / (1000 / 58 / area) < 1.09, row["size"]
    # ASTM B258: a diameter of 0.005 in × 92^((36 − n)/39); 10 and 18 AWG, brought from 75 °C to 20 °C.
    for row in calc("wire", "--volts", 24, "--amps", 1, "--length-m", 1000, "--conductor-c", 20)["sizes"]:
        gauge = int(row["size"].split()[0])
        diameter_mm = 0.127 * 92 ** ((36 - gauge) / 39)
        area = math.pi / 4 * diameter_mm**2
        assert 0.97 < row["drop_v"] / 2 / (1000 / 58 / area) < 1.09, row["size"]


@pytest.mark.parametrize("amps", ["0", "-4", "nan", "inf"])
def test_numbers_without_sense_are_refused(amps):
    done = run("calc", "wire", "--volts", 24, f"--amps={amps}", "--length-m", 10)
    assert done.returncode == 2  # wrong use
    assert '"wire-not-positive"' in done.stdout and "above 0" in done.stdout
