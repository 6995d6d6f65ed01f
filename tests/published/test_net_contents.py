"""
Net contents: checks against the published rules.

US: NIST Handbook 133. Chapter 2 of the 2026 edition was read; Tables 2-1 and 2-5 of Appendix A are
from memory, high. Declarations: 16 CFR 500.19 (read). EU and GB: Directive 76/211/EEC, Annexes I
and II, SI 2006/659, Schedule 2, and GOV.UK's guide on packaged goods (read). The worked lots are
computed by hand from those rules, rounded as printed here. The control chart: NIST/SEMATECH
e-Handbook 6.3.2.2 (from memory, high). Boiling points: steam tables (from memory, high).
"""

from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest

from pourwright.core.contents import check_net, parse_declared, us_statement
from pourwright.core.contents.average import OutOfScope, tolerance
from pourwright.core.contents.control import individuals_chart
from pourwright.core.contents.declared import inch_pound_figure, metric_figure
from pourwright.core.contents.instruments import boiling_point_c, pressure_kpa
from pourwright.core.contents.scales import divisions, suitability, tolerance_g
from pourwright.core.contents.us import mav, plan, unused_dry_tare
from pourwright.core.rules import rule

ON = date(2026, 11, 25)


def grams(text):
    return [Fraction(word) for word in text.split()]


def us(declared, lot_size, nets):
    given = grams(nets) if isinstance(nets, str) else nets
    declared = parse_declared(declared)
    return check_net(market="us", declared=declared, nets_g=given, lot_size=lot_size, on=ON)


# --- 1. plans: Handbook 133, Table 2-1, from memory, high ----------------------------------------


@pytest.mark.parametrize(
    ("lot_size", "sample", "factor", "allowed"),
    [
        (1, 1, None, 0), (2, 2, "8.984", 0), (3, 3, "2.484", 0), (7, 7, "0.925", 0),
        (11, 11, "0.672", 0), (12, 12, "0.635", 0), (250, 12, "0.635", 0),
        (251, 24, "0.422", 0), (3200, 24, "0.422", 0), (3201, 48, "0.291", 1),
    ],
)  # fmt: skip
def test_the_sampling_plan(lot_size, sample, factor, allowed):
    found = plan(lot_size=lot_size, on=ON)
    assert (found.sample, found.allowed_beyond_mav) == (sample, allowed)
    assert found.factor == (None if factor is None else Fraction(factor))
    assert found.rule.from_memory


def test_every_factor_is_students_t_over_the_root_of_n_to_a_thousandth():
    """A property of the source: t(0.975, n - 1) / sqrt(n); a mistyped row shows here."""
    from scipy.stats import t

    table = rule("us/net_sampling", on=ON)
    rows = [(row["packages"], row["factor"]) for row in table["whole_lot_factors"]]
    rows += [(row["sample"], row["factor"]) for row in table["rows"]]
    for n, factor in rows:
        assert abs(float(factor) - t.ppf(0.975, n - 1) / n**0.5) < 0.0015, n
    for market in ("eu", "gb"):
        table = rule(f"{market}/net_reference_test", on=ON)
        tests = [*table["double"], *table.values.get("single", []), table["destructive"]]
        for row in tests:
            n = row.get("mean_sample", row.get("sample"))
            assert abs(float(row["mean_factor"]) - t.ppf(0.995, n - 1) / n**0.5) < 0.001, n


# --- 2. MAV: Table 2-5, from memory, high; 113 g and 2 lb read in chapter 2 -----------------------


@pytest.mark.parametrize(
    ("declared", "mav_lb", "mav_g"),
    [
        ("1 oz", "0.00625", "2.834950"), ("20 g", None, "2.0"), ("30 g", None, "3.0"),
        ("36 g", None, "3.6"), ("54 g", None, "3.6"), ("2 oz", "0.012", None),
        ("4 oz", "0.016", None), ("113 g", None, "7.2"), ("90 g", None, "7.2"),
        ("117 g", None, "7.2"), ("118 g", None, "9.0"), ("120 g", None, "9.0"),
        ("165 g", None, "10.8"), ("6 oz", "0.024", None), ("200 g", None, "10.8"),
        ("208 g", None, "10.8"), ("209 g", None, "12.7"), ("8 oz", "0.028", None),
        ("263 g", None, "12.7"), ("300 g", None, "14.5"), ("12 oz", "0.036", None),
        ("1 lb", "0.044", None), ("20 oz", "0.048", None), ("500 g", None, "21.7"),
        ("24 oz", "0.056", None), ("2 lb", "0.07", "31.7"),
    ],
)  # fmt: skip
def test_the_mav(declared, mav_lb, mav_g):
    found = mav(parse_declared(declared), on=ON)
    if mav_lb is not None:
        assert found.mav_lb == Fraction(mav_lb)
    if mav_g is not None:
        assert found.mav_g == Fraction(mav_g)


def test_every_gram_figure_of_the_mav_table_is_the_pound_figure_cut_off():
    """A property of the source, with 453.59237 g to the pound: mistyped rows show here."""
    pound = Fraction("453.59237")
    for row in rule("us/net_mav_weight", on=ON)["rows"]:
        for lb, g in (("to_lb", "to_g"), ("mav_lb", "mav_g")):
            exact = Fraction(row[lb]) * pound
            step = 10 if row[g] >= 1000 else Fraction(1, 10) if row[g] < 49 else 1
            assert exact // step * step == row[g], row


def test_the_scale_of_the_handbooks_example():
    """Handbook 133-2026 (read): a MAV of 7.2 g wants divisions of 1.2 g or finer."""
    declared = parse_declared("113 g")
    found = suitability(division_g=Fraction(1), declared=declared, market="us", on=ON)
    assert (found.suitable, found.coarsest_g) == (True, Fraction("1.2"))
    assert not suitability(division_g=Fraction(2), declared=declared, market="us", on=ON).suitable


def test_the_tolerance_of_a_class_ii_scale():
    """Handbook 133-2026 (read): 5 000 g by 0.1 g; 1 500 g on it is 15 000 divisions, ±1."""
    tenth = Fraction("0.1")
    assert divisions(Fraction(5000), tenth) == 50_000
    assert divisions(Fraction(1500), tenth) == 15_000
    found = tolerance_g(load_g=Fraction(1500), division_g=tenth, scale_class="II", on=ON)
    assert found == tenth


def test_the_larger_of_two_declared_figures_is_verified():
    """Handbook 133-2026 (read): 1 lb (453.592 g) and 454 g: verify 454 g."""
    assert parse_declared("1 lb (454 g)").enforced_g == 454


# --- 3. whole US tests ---------------------------------------------------------------------------

LOT_A = "226.2 227.3 225.9 226.9 227.2 226.1 226.8 225.8 226.7 227.1 226.0 226.6"
LOT_B = "231.0 229.5 230.2 228.8 230.9 229.9 231.4 230.1 229.2 230.6 228.9 "
LOT_C = """180.4 179.6 180.1 179.2 180.7 179.9 179.3 180.5 179.8 180.0 179.1 180.3
           179.7 180.2 179.5 179.0 180.6 179.4 180.0 179.9 179.6 180.1 179.3 179.8"""
LOT_D = grams("180.0 " * 44 + "180.5 179.7 180.2 169.0")


@pytest.mark.parametrize(
    ("lot_size", "declared", "nets", "verified", "average", "limit", "mav_g", "beyond", "verdict"),
    [
        (40, "8 oz (226 g)", LOT_A, 226.796, -0.2460, 0.3376, 12.7, 0, "pass"),
        (40, "8 oz (227 g)", LOT_A, 227, -0.4500, 0.3376, 12.7, 0, "fail"),
        (40, "8 oz (226 g)", LOT_B + "213.9", 226.796, 1.9040, None, 12.7, 1, "fail"),
        (40, "8 oz (227 g)", LOT_B + "214.3", 227, 1.7333, None, 12.7, 0, "pass"),
        (7, "200 g", "199.4 200.6 199.1 200.2 199.7 199.9 200.3", 200, -0.1143, 0.4878, 10.8, 0,
         "pass"),
        (7, "200 g", "199.4 199.8 199.3 199.7 199.6 199.5 199.9", 200, -0.4000, 0.1998, 10.8, 0,
         "fail"),
        (2, "12 oz", "338.9 339.5", 340.194, -0.9940, 3.8116, 16.3, 0, "pass"),
        (3, "4 oz", "112.9 113.6 113.1", 113.398, -0.1980, 0.8956, 7.2, 0, "pass"),
        (300, "180 g", LOT_C, 180, -0.1667, 0.2024, 10.8, 0, "pass"),
        (1, "200 g", "189.2", 200, -10.8, None, 10.8, 0, "pass"),
        (1, "200 g", "189.1", 200, -10.9, None, 10.8, 1, "fail"),
        (5000, "180 g", LOT_D, 180, -0.2208, 0.4631, 10.8, 1, "pass"),
        (5, "170 g", "169.2 170.4 169.6 170.1 169.5", 170, -0.2400, 0.5990, 10.8, 0, "pass"),
        (11, "120 g", "119.8 120.1 119.5 120.3 119.9 119.6 120.2 119.7 120.0 119.4 119.9", 120,
         -0.1455, 0.1933, 9.0, 0, "pass"),
        (4, "30 g", "29.1 30.6 27.0 31.2", 30, -0.5250, 2.9776, 3.0, 0, "pass"),
        (9, "100 g", "99.6 100.2 99.4 99.9 100.1 99.5 99.8 100.3 99.7", 100, -0.1667, 0.2432,
         7.2, 0, "pass"),
    ],
)  # fmt: skip
def test_a_whole_us_test(
    lot_size, declared, nets, verified, average, limit, mav_g, beyond, verdict
):
    found = us(declared, lot_size, nets)
    assert found.verdict == verdict
    assert float(found.verified_g) == pytest.approx(verified, abs=1e-9)
    assert float(found.average_error_g) == pytest.approx(average, abs=5e-5)
    if limit is not None:
        assert found.sample_error_limit_g == pytest.approx(limit, abs=5e-5)
    assert float(found.mav_g) == mav_g
    assert found.beyond_mav == beyond


def test_the_standard_deviations_of_the_worked_lots():
    assert us("8 oz", 40, LOT_A).sample.sd == pytest.approx(0.5317, abs=5e-5)
    assert us("180 g", 5000, LOT_D).sample.sd == pytest.approx(1.5915, abs=5e-5)
    assert us("180 g", 300, LOT_C).sample.sd == pytest.approx(0.4797, abs=5e-5)


@pytest.mark.parametrize(
    ("empties", "mean", "more"),
    [
        ("182.4 182.4", "182.4", 0),
        ("182.4 183.0", "182.7", 3),
        ("182.4 183.0 181.9 182.6 182.8", "182.54", 0),
        ("145.2 145.9 145.5 144.8 146.1", "145.5", 0),
    ],
)
def test_the_unused_dry_tare(empties, mean, more):
    """Handbook 133-2026, 2.3.5 (read): two that agree, or the mean of five."""
    found = unused_dry_tare(grams(empties), on=ON)
    assert (found.mean_g, found.more) == (Fraction(mean), more)


def test_the_nominal_gross_weights():
    five = unused_dry_tare(grams("182.4 183.0 181.9 182.6 182.8"), on=ON)
    assert five.mean_g + parse_declared("8 oz").enforced_g == Fraction("409.336")
    other = unused_dry_tare(grams("145.2 145.9 145.5 144.8 146.1"), on=ON)
    assert other.mean_g + 200 == Fraction("345.5")


# --- 4. declarations: 16 CFR 500.19 (read) --------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "exact", "statement"),
    [
        ("8 oz", "226.796", "8 oz (226 g)"), ("4 oz", "113.398", "4 oz (113 g)"),
        ("10 oz", "283.495", "10 oz (283 g)"), ("12 oz", "340.194", "12 oz (340 g)"),
        ("9 oz", "255.1455", "9 oz (255 g)"), ("2 lb", "907.184", "2 lb (907 g)"),
        ("7.5 oz", "212.62125", "7.5 oz (212 g)"), ("2.5 oz", "70.87375", "2.5 oz (70.8 g)"),
        ("3 oz", "85.0485", "3 oz (85 g)"), ("16 oz", "453.592", "1 lb (453 g)"),
        ("24 oz", "680.388", "1 lb 8 oz (680 g)"), ("20 oz", "566.990", "1 lb 4 oz (566 g)"),
    ],
)  # fmt: skip
def test_ounces_in_both_systems(given, exact, statement):
    declared = parse_declared(given)
    assert declared.enforced_g == Fraction(exact)
    assert us_statement(declared).text == statement


@pytest.mark.parametrize(
    ("given", "ounces"),
    [
        ("75 g", "2.64 oz"), ("150 g", "5.29 oz"), ("400 g", "14.1 oz"), ("200 g", "7.05 oz"),
        ("250 g", "8.81 oz"), ("180 g", "6.34 oz"), ("500 g", "1 lb 1.63 oz"),
        ("453 g", "15.97 oz"),
    ],
)  # fmt: skip
def test_grams_in_both_systems(given, ounces):
    assert us_statement(parse_declared(given)).text == f"{ounces} ({given})"


@pytest.mark.parametrize(
    ("label", "enforced"),
    [
        ("8 oz (227 g)", "227"), ("8 oz (226 g)", "226.796"), ("10 oz (283 g)", "283.495"),
        ("7.05 oz (200 g)", "200"), ("7.06 oz (200 g)", "200.147470"),
    ],
)  # fmt: skip
def test_what_is_enforced(label, enforced):
    assert parse_declared(label).enforced_g == Fraction(enforced)


def test_pounds_come_first_from_one_pound():
    """15 USC 1453(a)(3)(A)(i) (read): the largest whole unit first."""
    assert inch_pound_figure(Fraction(16))[0] == "1 lb"
    assert inch_pound_figure(Fraction("15.99"))[0] == "15.99 oz"
    assert metric_figure(Fraction("1133.98"))[0] == "1.13 kg"


# --- 6. TNE: Directive 76/211/EEC, Annex I, 2.4 (read) --------------------------------------------


@pytest.mark.parametrize(
    ("nominal", "tne", "t1", "t2"),
    [
        (25, "2.3", "22.7", "20.4"), (50, "4.5", "45.5", "41"), (51, "4.5", "46.5", "42"),
        (75, "4.5", "70.5", "66"), (100, "4.5", "95.5", "91"), (120, "5.4", "114.6", "109.2"),
        (123, "5.6", "117.4", "111.8"), (150, "6.8", "143.2", "136.4"),
        (165, "7.5", "157.5", "150"), (180, "8.1", "171.9", "163.8"),
        (190, "8.6", "181.4", "172.8"), (200, "9", "191", "182"), (220, "9", "211", "202"),
        (250, "9", "241", "232"), (300, "9", "291", "282"), (301, "9.1", "291.9", "282.8"),
        (320, "9.6", "310.4", "300.8"), (500, "15", "485", "470"), (1000, "15", "985", "970"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_the_tolerable_negative_error(market, nominal, tne, t1, t2):
    found = tolerance(nominal_g=Fraction(nominal), market=market, on=ON)
    assert (found.tne_g, found.t1_g, found.t2_g) == (Fraction(tne), Fraction(t1), Fraction(t2))


@pytest.mark.parametrize("market", ["eu", "gb"])
def test_neighbouring_rows_of_the_tne_agree_where_they_meet(market):
    """The published table is continuous, so a mistyped row shows here."""
    rows = rule(f"{market}/net_tne", on=ON)["rows"]
    for low, high in pairwise(rows):
        edge = Fraction(low["to_g"])
        below, above = (
            Fraction(row["g"]) if "g" in row else edge * Fraction(row["pct"]) / 100
            for row in (low, high)
        )
        assert below == above, f"rows meet badly at {edge} g"


@pytest.mark.parametrize(("market", "nominal"), [("eu", 4), ("gb", 4), ("eu", 10_001)])
def test_what_the_rules_for_packages_do_not_cover(market, nominal):
    with pytest.raises(OutOfScope):
        tolerance(nominal_g=Fraction(nominal), market=market, on=ON)


# --- 7. reference tests: Annex II and Schedule 2 (read) -------------------------------------------


def batch(market, nominal, size, nets, plan=None):
    declared = parse_declared(f"{nominal} g")
    return check_net(market=market, declared=declared, nets_g=nets, lot_size=size, plan=plan, on=ON)


def with_defectives(nominal, count, defectives):
    """Fills of which so many are half a gram below T1 and the rest far enough above."""
    t1 = tolerance(nominal_g=Fraction(nominal), market="gb", on=ON).t1_g
    return [t1 - Fraction(1, 2)] * defectives + [Fraction(nominal) + 12] * (count - defectives)


@pytest.mark.parametrize(
    ("size", "defectives", "verdict"),
    [
        (60, 3, "pass"), (60, 4, "fail"), (40, 2, "pass"), (40, 3, "fail"), (19, 1, "fail"),
        (20, 1, "pass"), (25, 1, "pass"), (25, 2, "fail"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_a_batch_below_a_hundred(market, size, defectives, verdict):
    """GB, Schedule 2, 3.6 (read): at most five in a hundred."""
    found = batch(market, 180, size, with_defectives(180, size, defectives))
    assert (found.verdict, found.defectives) == (verdict, defectives)


def test_a_batch_below_a_hundred_has_no_allowance_on_the_mean():
    short = [Fraction("179.99")] * 30 + [Fraction("179.99")] * 30
    assert batch("gb", 180, 60, short).verdict == "fail"
    assert batch("gb", 180, 60, [Fraction(180)] * 60).verdict == "pass"


@pytest.mark.parametrize(("defectives", "verdict"), [(3, "pass"), (4, "fail")])
def test_the_single_plan_of_gb(defectives, verdict):
    found = batch("gb", 180, 300, with_defectives(180, 50, defectives), plan="single")
    assert found.verdict == verdict


@pytest.mark.parametrize("market", ["eu", "gb"])
@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [(1, None, "pass"), (2, None, "more"), (2, 2, "pass"), (2, 3, "fail"), (3, None, "fail")],
)
def test_the_double_plan(market, first, second, verdict):
    nets = with_defectives(180, 30, first)
    if second is not None:
        nets += with_defectives(180, 30, second)
    assert batch(market, 180, 300, nets, plan="double").verdict == verdict


def spread_to(mean, count, sd):
    """Fills of an exact mean and standard deviation (n - 1): half above, half below."""
    off = Fraction(str(sd)) * Fraction(str((1 - 1 / count) ** 0.5))
    return [Fraction(str(mean)) + sign * off for sign in (1, -1) for _ in range(count // 2)]


@pytest.mark.parametrize(
    ("nominal", "size", "count", "sd", "plan", "limit", "mean", "verdict"),
    [
        (180, 300, 30, 0.5, "double", 179.7485, "179.8", "pass"),
        (180, 300, 30, 0.5, "double", 179.7485, "179.7", "fail"),
        (220, 300, 20, 1.1, "destructive", 219.296, "219.2", "fail"),
        (300, 900, 50, 1.2, "double", 299.5452, "299.6", "pass"),
    ],
)
def test_the_limit_of_the_mean(nominal, size, count, sd, plan, limit, mean, verdict):
    found = batch("eu", nominal, size, spread_to(mean, count, sd), plan=plan)
    assert found.limit_g == pytest.approx(limit, abs=1e-4)
    assert found.verdict == verdict


# --- the control chart and the fixed points -------------------------------------------------------


def test_the_individuals_chart_of_the_e_handbook():
    """NIST/SEMATECH 6.3.2.2 (from memory, high): ten flow rates."""
    flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    chart = individuals_chart(flow, on=ON)
    assert chart.mean_g == pytest.approx(50.81)
    assert chart.mean_range_g == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper_g == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower_g == pytest.approx(45.8159, abs=5e-5)
    assert chart.steady


@pytest.mark.parametrize(("kpa", "boils_c"), [(101.42, 100), (84.608, 95), (70.182, 90)])
def test_water_boils_where_the_steam_tables_say(kpa, boils_c):
    """Saturation pressures of IAPWS steam tables (from memory, high)."""
    assert boiling_point_c(kpa=kpa) == pytest.approx(boils_c, abs=0.1)


@pytest.mark.parametrize(("altitude_m", "kpa"), [(0, 101.325), (1000, 89.875), (3000, 70.109)])
def test_the_air_thins_as_the_standard_atmosphere_says(altitude_m, kpa):
    """ICAO standard atmosphere, printed tables (from memory, high)."""
    assert pressure_kpa(altitude_m=altitude_m) == pytest.approx(kpa, abs=0.02)
