"""Damp on the making day: rules of the trade as check values, and what the section says to a maker."""

import time

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.review import damp
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece

KILO = (
    ("sodium_bicarbonate", "560 g"),
    ("citric_acid", "280 g"),
    ("corn_starch", "120 g"),
    ("isopropyl_alcohol_91", "30 g"),
)
PLAIN = (("sodium_bicarbonate", "330 g"), ("citric_acid", "165 g"))


@pytest.fixture(scope="module")
def mixed(catalogue):
    def mix(*lines, head='[makes]\nmould = "sphere_65"', kind="fizzer"):
        body = "".join(f'\n[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines)
        found = weigh(read_text(f'name = "T"\nkind = "{kind}"\n{head}\n{body}', catalogue), catalogue)
        return found, piece(found, catalogue)

    return mix


@pytest.fixture(scope="module")
def told(catalogue, mixed):
    def look(*lines, room=None, **more):
        mix, size = mixed(*lines, **more)
        return damp.told(mix, catalogue, Setting(), size, room or Room(20, 45))

    return look


@pytest.fixture(scope="module")
def minutes(catalogue, mixed):
    def last(humidity, *lines):
        mix, size = mixed(*lines)
        return damp.open_bowl_minutes(mix, catalogue, size, 20.0, humidity)

    return last


# Common practice, no source: a kilo with an ordinary alcohol binder stays workable for an hour or more in a room of 45 %, and
# for minutes to tens of minutes in one of 70 %.
def test_a_kilo_stays_workable_in_dry_air_and_not_in_damp(minutes):
    assert minutes(45.0, *KILO) >= 60
    assert 5 < minutes(70.0, *KILO) < 60
    assert minutes(45.0, *PLAIN, ("isopropyl_alcohol_91", "15 g")) >= 60


# Common practice, no source: water instead of a fine mist of alcohol, 5 g in half a kilo, visibly foams within minutes.
def test_a_slip_with_water_foams_within_minutes(catalogue, mixed, minutes):
    assert minutes(45.0, *PLAIN, ("water", "5 g")) < 20
    mix, size = mixed(*PLAIN, ("water", "5 g"))
    section = damp.told(mix, catalogue, Setting(), size, Room(20, 45))
    first_five = section.curves[0]
    lost = 1 - first_five.lines["this room"][first_five.x.index(5.0)] / 100
    gas_ml = lost * 24_000 * 3 * 165 / 192.12
    # a powder of some 600 ml swells by half in five minutes
    assert gas_ml > 300


def test_damper_wetter_and_warmer_never_last_longer(catalogue, mixed, minutes):
    rooms = np.linspace(20, 90, 36)
    assert np.all(np.diff(minutes(rooms, *KILO)) <= 1e-6)
    by_binder = [float(minutes(60.0, *PLAIN, (use, "15 g"))) for use in
                 ("water", "witch_hazel", "isopropyl_alcohol_70", "isopropyl_alcohol_91", "isopropyl_alcohol_99")]  # fmt: skip
    assert by_binder == sorted(by_binder)
    mix, size = mixed(*KILO)
    assert np.all(np.diff(damp.open_bowl_minutes(mix, catalogue, size, np.array([15.0, 20.0, 28.0]), 65.0)) < 0)


def test_a_thousand_rooms_take_far_under_a_second(catalogue, mixed):
    mix, size = mixed(*KILO)
    rng = np.random.default_rng(1)
    start = time.perf_counter()
    found = damp.open_bowl_minutes(mix, catalogue, size, rng.uniform(10, 30, (50, 20)), rng.uniform(20, 90, (50, 20)))
    assert time.perf_counter() - start < 1.0
    assert found.shape == (50, 20)
    assert np.all((found > 0) & (found <= damp.LONGEST_MINUTES))


def test_air_nobody_can_have_is_refused(catalogue, mixed):
    mix, size = mixed(*KILO)
    with pytest.raises(ValueError, match="Is that Fahrenheit"):
        damp.open_bowl_minutes(mix, catalogue, size, 72.0, 45.0)
    with pytest.raises(ValueError, match="relative humidity is 0 to 100"):
        damp.open_bowl_minutes(mix, catalogue, size, 20.0, np.array([40.0, 120.0]))


# The practical figure for citric acid with bicarbonate is 40 to 65 % (fact drh_mix); single points: malic acid 59 %,
# magnesium chloride 32.8 % (Greenspan 1977), both in the catalogue.
def test_danger_humidity_and_what_sets_it(catalogue, mixed, told):
    def pct(*lines):
        return damp.danger_humidity_pct(mixed(*lines)[0], catalogue)

    usual = pct(*KILO)
    assert (usual.low, usual.value, usual.high) == (40, 55, 65)
    malic = pct(("sodium_bicarbonate", "560 g"), ("malic_acid", "280 g"))
    assert malic.low < malic.value < usual.value and malic.value < 59
    dead_sea = pct(*KILO, ("dead_sea_salt", "50 g"))
    assert dead_sea.value == 33
    assert pct(*KILO, ("dead_sea_salt", "1 g")).value == 55
    assert pct(("kaolin", "200 g")).value == 100
    assert pct(("sea_salt", "200 g")).value == pytest.approx(75.3)
    section = told(*KILO, ("dead_sea_salt", "50 g"))
    name = catalogue.materials["dead_sea_salt"].name
    assert f"{name[:1].upper()}{name[1:]} sets it." in section.figure("danger_humidity_pct").text
    assert any(n.level == "mind" and "because of" in n.text for n in section.notices)


# By hand: 20 C, 45 %: dew point 7.7 C (handbook), 2339 Pa x 0.55 = 1286 Pa.
def test_the_air_of_the_room(told):
    section = told(*KILO)
    assert section.figure("dew_point_c").value == pytest.approx(7.7, abs=0.1)
    assert section.figure("vapour_pressure_deficit_pa").value == pytest.approx(1286, abs=3)
    for figure in section.figures:
        assert figure.low <= figure.value <= figure.high
        assert figure.text.endswith(".") and "nan" not in figure.text and "inf" not in figure.text


def test_damp_air_is_told_with_what_to_do(told):
    section = told(*KILO, room=Room(22, 70, told="read today"))
    assert section.figure("uptake_g_per_h").value > 0
    assert section.figure("piece_uptake_g_per_day").value > 0
    (notice,) = [n for n in section.notices if n.figure == "danger_humidity_pct"]
    assert notice.level == "mind" and "Dehumidify" in notice.text and "acid in last" in notice.text
    assert "read today" in notice.reason
    assert section.figure("runaway_onset_minutes").value < section.figure("open_bowl_minutes").value
    said = " ".join(n.text + n.reason for n in section.notices).lower()
    assert " humidify" not in said and "safe" not in said


def test_dry_air_is_told_calmly(told):
    section = told(*KILO, room=Room(20, 35))
    assert [n.level for n in section.notices] == ["good"]
    assert section.figure("open_bowl_minutes").value == damp.LONGEST_MINUTES
    assert "4 hours or more" in section.figure("open_bowl_minutes").text
    assert "runaway_onset_minutes" not in {f.id for f in section.figures}
    curve = section.curves[0]
    assert curve.id == "fizz_left" and not curve.marks
    assert curve.lines["damp room, 70 %"][-1] < curve.lines["dry room, 40 %"][-1] <= 100
    assert all(line[0] == 100 for line in curve.lines.values())


def test_too_much_for_the_hands_is_told(told):
    section = told(*PLAIN, ("water", "9 g"), room=Room(20, 45))
    (notice,) = [n for n in section.notices if n.figure == "open_bowl_minutes"]
    assert notice.level == "mind" and "9 g of water" in notice.text and "smaller lots" in notice.text


@pytest.mark.parametrize(
    "lines",
    [(("epsom_salt", "300 g"), ("water", "3 g")), (("sodium_bicarbonate", "300 g"),), (("citric_acid", "300 g"),)],
)
def test_no_fizz_no_runaway(catalogue, mixed, told, lines):
    section = told(*lines, room=Room(20, 80))
    ids = {f.id for f in section.figures}
    assert (
        "open_bowl_minutes" not in ids
        and "runaway_onset_minutes" not in ids
        and not section.curves
        and not section.tables
    )
    assert "Damp cannot set this mix off" in section.notices[0].text
    mix, size = mixed(*lines)
    assert np.all(damp.open_bowl_minutes(mix, catalogue, size, 20.0, np.array([30.0, 90.0])) == damp.LONGEST_MINUTES)
    assert damp.fizz_cost_share(mix, catalogue, size, catalogue.materials["water"], 10.0, Room(20, 80)) == 0


def test_a_powder_is_a_mix_too(told):
    section = told(*PLAIN, head="[tub]\npowder_g = 60", kind="powder")
    ids = {f.id for f in section.figures}
    assert "open_bowl_minutes" in ids and "piece_uptake_g_per_day" not in ids


def test_bone_dry_and_freezing_rooms_do_not_trip_it(told):
    for room in (Room(20, 0), Room(-5, 80), Room(50, 100), Room(0, 100)):
        section = told(*KILO, room=room)
        assert all(np.isfinite([f.value, f.low, f.high]).all() for f in section.figures)


# The trade's order: water costs most, then witch hazel, then alcohol the weaker the more; oil costs nothing.
def test_what_a_binder_costs_in_fizz(catalogue, mixed, told):
    mix, size = mixed(*PLAIN)
    uses = (
        "water",
        "witch_hazel",
        "isopropyl_alcohol_70",
        "isopropyl_alcohol_91",
        "isopropyl_alcohol_99",
        "jojoba_oil",
    )
    costs = [damp.fizz_cost_share(mix, catalogue, size, catalogue.materials[u], 15.0, Room(20, 50)) for u in uses]
    assert costs == sorted(costs, reverse=True)
    assert 0.05 < costs[0] < 0.5 and costs[3] < 0.02 and costs[-1] == 0
    assert damp.fizz_cost_share(mix, catalogue, size, catalogue.materials["water"], 0.0, Room(20, 50)) == 0
    with pytest.raises(ValueError, match="0 or more"):
        damp.fizz_cost_share(mix, catalogue, size, catalogue.materials["water"], -1.0, Room(20, 50))


def test_a_binder_already_in_the_mix_does_not_count_twice(catalogue, mixed):
    bare, bare_size = mixed(*PLAIN)
    wet, wet_size = mixed(*PLAIN, ("water", "4 g"))
    water, room = catalogue.materials["water"], Room(20, 50)
    assert damp.fizz_cost_share(wet, catalogue, wet_size, water, 4.0, room) == pytest.approx(
        damp.fizz_cost_share(bare, catalogue, bare_size, water, 4.0, room), rel=0.05
    )


def test_the_table_of_costs(told):
    (table,) = told(*KILO, room=Room(20, 55)).tables
    assert table.id == "fizz_cost" and all(len(row) == len(table.head) for row in table.rows)
    water, strong = table.rows[0], table.rows[4]
    assert water[0] == "water" and float(water[1]) > 0.1 and float(water[4]) > 4 * float(water[1])
    # the same share in ten times the batch costs more, as it stands longer and is sprayed again
    assert float(water[5]) > float(water[1])
    assert "99 %" in strong[0] and float(strong[1]) < float(water[1]) / 20
    assert "ten times" in table.note


def test_a_larger_batch_asks_for_more_again(told):
    bare = told(*KILO, room=Room(20, 50)).tables[0].note
    here, there = (float(part.rsplit(" ", 1)[-1]) for part in bare.split("Without more binder ")[1].split(" %")[:2])
    assert there > here


@pytest.mark.parametrize(("celsius", "humidity"), [(20.0, 45.0), (24.0, 62.0), (18.0, 70.0)])
def test_the_open_bowl_follows_from_its_working_alone(told, celsius, humidity):
    """The law as the working states it, with the numbers it states, through scipy's own integrator."""
    figure = told(*PLAIN, ("corn_starch", "60 g"), ("witch_hazel", "4 g"), room=Room(celsius, humidity)).figure(
        "open_bowl_minutes"
    )
    held = {i.name: i.value for i in figure.working.inputs}
    fizz, capacity, gain = held["CO2 the mix can free"], held["capacity"], held["G in this air"] / 60
    rate, lasts = 60 * held["k in this mix at this warmth"], held["lifetime of the alcohol"]
    (hydrate,) = (v for name, v in held.items() if "builds into its crystals" in name)
    danger = held["danger humidity"] / 100

    def slope(t, y):
        bound = capacity + hydrate * 18.015 * y[1]
        alcohol = held["alcohol in the mix"] * np.exp(-t / lasts)
        spends = rate * max(y[0] - bound, 0.0) * y[0] / (y[0] + alcohol) * (1 - y[1] / fizz)
        return [gain * (humidity / 100 - danger * min(y[0] / bound, 1.0)) + 18.015 * spends, spends]

    def twentieth(t, y):
        return y[1] / fizz - 0.05

    start = [held["w at the start, with what starch holds"], 0.0]
    course = solve_ivp(slope, (0, 240), start, events=twentieth, max_step=0.1)
    assert figure.value < 240, "a case that says something"
    assert figure.value == pytest.approx(float(course.t_events[0][0]), rel=0.005)
