"""The year 2025 of Port Ellery, chapter by chapter, as its people press it through the pages.

Places, vehicles and cylinders are invented. Each chapter moves the clock to its day and takes the book from where the
chapter before left it.
"""

from tests.scenarios.pages import Page
from tests.scenarios.shop_floor import DESTROYER, OWNER, STAMPED, SUPPLIER, TECHNICIAN, TRAINEE, Floor, readings

TEST_DATE = "2031-05-01"
STAMP = {"tare_source": STAMPED, "tare_limit": "50 g", "water_capacity": "12.0 L", "origin": "purchase"}
LIQUID = {"phase": "liquid", "stance": "upside down", "port": "high side", "engine": "off", "hose": "pulled empty"}
PULLED_DOWN = {
    "final_pressure": "4 inHg below atmosphere",
    "waited": "5 min",
    "pressure_after_wait": "4 inHg below atmosphere",
    "oil_out": "5 mL",
    "stopped": "done",
}
HELD_STILL = {
    **readings(("0", "1.5 mbar"), ("15", "1.6 mbar"), ("30", "1.6 mbar")),
    "gauge": "G2",
    "gauge_type": "absolute",
}
SEARCHED = {"method": "electronic", "instrument": "L1", "sensitivity": "5", "gas": "refrigerant"}


def all_at(celsius: str) -> dict[str, str]:
    """Return the temperatures of a vehicle that has stood until everything is equally warm."""
    return dict.fromkeys(("air", "coldest", "warmest"), f"{celsius} C") | {"gauge": "G1", "since_running": "60 min"}


def opening(floor: Floor, *only: str) -> None:
    """Enter what stood there on 1 January; all of it, or some cylinders alone."""
    floor.at("01-01 09:00", OWNER)
    stock = {"origin": "opening-stock", "scale": "S1"}
    for serial, kind, code, grade, tare, gross, litres in (
        ("C-12", "recovery", "R-12", "recovered", "6.850 kg", "9.340 kg", "11.9 L"),
        ("C-35", "recovery", "R-134a", "recovered", "6.360 kg", "11.420 kg", "12.0 L"),
        ("C-41", "recovery", "R-134a", "recovered", "7.000 kg", "15.050 kg", "10.0 L"),
        ("C-37", "single-trip", "R-1234yf", "virgin", "3.100 kg", "6.100 kg", "4.0 L"),
    ):
        if serial in only or not only:
            tested = {"requalify_by": TEST_DATE} if kind == "recovery" else {}
            floor.receive(serial, kind, code, grade, tare, gross=gross, water_capacity=litres, **stock, **tested)
    if only and "T-1" not in only:
        return
    floor.receive(
        *("T-1", "machine tank", "R-134a", "recycled", "0 kg"),
        origin="opening-stock",
        machine_mass="5.200 kg",
        machine_limit="15 g",
        recycles=True,
    )


def a_bottle_comes(floor: Floor) -> Page:
    """C-34 on 20 February."""
    floor.at("02-20 11:15", OWNER)
    return floor.receive(
        *("C-34", "refillable", "R-134a", "virgin", "6.200 kg"),
        gross="17.190 kg",
        scale="S1",
        paper_mass="11.000 kg",
        paper_number="HG-5521",
        partner=SUPPLIER,
        **STAMP,
    )


def a_full_car_is_converted(floor: Floor) -> None:
    """V1, R-12 to R-134a, 3 March."""
    floor.at("03-03 08:30")
    floor.arrive("V1", odometer="182400 km", says="does not cool")
    floor.step("V1", "label-read", label="label read", refrigerant="R-12", mass="900 g", tolerance="25 g")
    floor.step("V1", "standing-pressure", pressure="4.7 bar", **all_at("20"))
    floor.step("V1", "ports-seen", high="R-12 screw", low="R-12 screw", adapters="no")
    floor.step("V1", "identified", result="none here")
    floor.at("03-03 09:40")
    floor.recover(
        *("V1", "C-12"),
        it_does_read=True,  # 10.208 kg lies between the steps of 5 g
        **{"before": "9.340 kg", "after": "10.208 kg", "scale": "S1", "coldest": "20 C"},
        **PULLED_DOWN,
    )
    floor.step("V1", "circuit-opened", what="condenser and drier out", relieved="yes")
    floor.step("V1", "circuit-closed", what="all joints", capped="yes")
    floor.at("03-03 11:45")
    floor.step(
        *("V1", "pressure-hold"),
        **readings(("0", "250 psi", "22.0 C"), ("20", "251 psi", "23.0 C")),
        **{"gas": "dry nitrogen", "volume": "2.0 L", "allowed": "300 psi", "relief": "yes"},
        **{"gauge": "G9", "thermometer": "TH1"},
    )
    floor.step("V1", "leak-search", joints="14", leaking="0", pressure="5 bar", **SEARCHED)
    floor.step("V1", "pulling-vacuum", lowest="1.5 mbar", gauge="G2")
    floor.step("V1", "vacuum-hold", coldest="20 C", **HELD_STILL)
    floor.at("03-03 13:40")
    floor.charge(
        *("V1", "C-34"),
        **{"before": "17.186 kg", "after": "16.402 kg", "scale": "S2", "target": "765 g", "tolerance": "25 g"},
        **LIQUID,
    )
    floor.step(
        *("V1", "conversion-done"),
        to="R-134a",
        **{"hoses": "barrier", "drier": "new", "old_covered": "yes", "cut_out": "fitted"},
    )


def a_car_arrives_empty(floor: Floor) -> None:
    """V2 stands at nothing, 14 April; its condenser is renewed and it is converted."""
    floor.at("04-14 09:00")
    floor.arrive("V2", says="no cooling since last summer")
    floor.step("V2", "label-read", label="label read", refrigerant="R-12", mass="1100 g")
    floor.step("V2", "standing-pressure", pressure="0.0 bar", empty="yes", photo="P-0414", **all_at("24"))
    floor.step("V2", "circuit-opened", what="condenser out", relieved="yes")
    floor.step("V2", "part-in", part="condenser", condition="new", oil_in="30 mL", oil_type="ester")
    floor.step("V2", "circuit-closed", what="all joints", capped="yes")
    floor.step("V2", "vacuum-hold", coldest="24 C", **HELD_STILL)
    floor.at("04-14 15:10")
    charge(floor, "V2", "C-34", "16.402 kg", "15.467 kg", target="935 g")
    floor.step("V2", "conversion-done", to="R-134a")


def charge(floor: Floor, plate: str, serial: str, before: str, after: str, **typed: str) -> Page:
    """Charge by two readings on S2; its person insists where one lies between the steps of 2 g."""
    readings_typed = {"before": before, "after": after, "scale": "S2"}
    return floor.charge(plate, serial, it_does_read=True, **readings_typed, **LIQUID, **typed)


def a_wrong_gas_is_found(floor: Floor) -> None:
    """V3 should hold R-1234yf; an identifier shows R-134a in it, 6 May."""
    a_mixture_is_identified(floor)
    floor.recover(
        *("V3", "C-40"),
        **{"before": "5.300 kg", "after": "5.765 kg", "scale": "S1", "coldest": "25 C"},
        **PULLED_DOWN,
    )
    floor.at("05-06 11:30")
    charge(floor, "V3", "C-37", "6.100 kg", "5.620 kg", target="480 g", tolerance="15 g")


def a_mixture_is_identified(floor: Floor) -> None:
    """V3 stands there, and its gas is known to be a mixture."""
    floor.at("05-06 08:00", OWNER)
    floor.receive("C-40", "recovery", "R-1234yf", "recovered", "5.300 kg", water_capacity="6.0 L", origin="empty")
    floor.at("05-06 08:30")
    floor.arrive("V3", says="weak since a service elsewhere")
    floor.step("V3", "label-read", label="label read", refrigerant="R-1234yf", mass="480 g")
    shares = "R-1234yf 91.5, R-134a 8.0, air 0.5"
    floor.step("V3", "identified", result="used", instrument="ID1", shares=shares)


def a_weekend_loss(floor: Floor) -> None:
    """C-35 lost 180 g over a weekend in June; on Wednesday bubbles show where."""
    a_monday_reading_is_short(floor)
    floor.at("06-18 10:20")
    bubbles_explain_it(floor)


def a_monday_reading_is_short(floor: Floor) -> Page:
    """Friday's reading agrees, Monday's does not."""
    floor.at("06-13 17:00")
    floor.check("C-35", "11.420 kg", "S1")
    floor.at("06-16 08:05")
    return floor.check("C-35", "11.240 kg", "S1", it_does_read=True)  # two digits of 11.420 exchanged: asked about


def bubbles_explain_it(floor: Floor) -> Page:
    """The difference is explained as a loss."""
    seq = floor.last("weighing-difference").entry.seq
    reason = "Bubbles at the valve stem under soap, photo P-0618; valve tightened."
    return floor.enter(f"lines/{seq}/explain/", cause="loss-explained", reason=reason)


def a_bus_and_a_full_cylinder(floor: Floor) -> None:
    """A city bus fills one cylinder and half of another, 10 and 11 July."""
    floor.rules("eu")
    floor.at("07-10 07:40", OWNER)
    floor.receive(
        *("C-42", "recovery", "R-134a", "recovered", "13.600 kg"),
        **{"water_capacity": "25 L", "origin": "empty", "gross": "13.600 kg", "scale": "S1"},
    )
    a_bus_arrives(floor)
    floor.at("07-10 09:30", TRAINEE)
    floor.recover(
        *("V-BUS", "C-41"),
        **{"before": "15.050 kg", "after": "17.495 kg", "scale": "S1", "stopped": "target full"},
        answers=TECHNICIAN,
    )
    floor.at("07-10 11:00", TRAINEE)
    floor.recover(
        *("V-BUS", "C-42"),
        **{"before": "13.600 kg", "after": "17.925 kg", "scale": "S1", "stopped": "done", "coldest": "25 C"},
        **{"final_pressure": "0.50 bar absolute", "waited": "5 min", "pressure_after_wait": "0.50 bar absolute"},
        answers=TECHNICIAN,
    )
    floor.at("07-11 10:00")
    charge(floor, "V-BUS", "C-34", "15.467 kg", "8.467 kg", target="7000 g", tolerance="100 g")


def a_bus_arrives(floor: Floor) -> None:
    """The bus stands there, its label read."""
    floor.at("07-10 08:00")
    floor.arrive("V-BUS")
    floor.step("V-BUS", "label-read", label="label read", refrigerant="R-134a", mass="7000 g", tolerance="100 g")


def three_cars_are_charged(floor: Floor) -> None:
    """C-34 charges three repaired cars in August."""
    for plate, day, before, after, mass in (
        ("V7", "08-05", "8.467 kg", "7.857 kg", "610 g"),
        ("V8", "08-12", "7.857 kg", "7.272 kg", "585 g"),
        ("V9", "08-21", "7.272 kg", "6.622 kg", "650 g"),
    ):
        floor.at(f"{day} 09:00")
        floor.arrive(plate, state="open to air", photo=f"P-{day}")
        charge(floor, plate, "C-34", before, after, target=mass, tolerance="15 g")


def a_bottle_goes_back(floor: Floor) -> Page:
    """C-34 goes back for its deposit on 1 September."""
    floor.at("09-01 09:00", OWNER)
    return floor.enter(
        f"cylinders/{floor.number('C-34')}/send-away/",
        partner=SUPPLIER,
        purpose="return to supplier",
        scale="S1",
        gross="6.615 kg",
        temperature="22 C",
        number="PE-25-01",
    )


def another_bottle_comes(floor: Floor) -> Page:
    """C-44 on 1 September."""
    floor.at("09-01 09:30", OWNER)
    typed = {"gross": "17.205 kg", "scale": "S1", "paper_mass": "11.000 kg", "paper_number": "HG-6107"}
    return floor.receive("C-44", "refillable", "R-134a", "virgin", "6.200 kg", partner=SUPPLIER, **typed, **STAMP)


def the_scale_fails(floor: Floor) -> None:
    """S2 goes dark in the middle of a charge, then the lights; 15 September."""
    a_charge_begins(floor)
    floor.at("09-15 18:40")
    copied_from_paper(floor)


def a_charge_begins(floor: Floor) -> None:
    """V4 stands there, and C-44 has its reading before."""
    floor.at("09-15 13:00")
    floor.arrive("V4", state="open to air", photo="P-0915")
    floor.at("09-15 13:50")
    floor.weigh("C-44", "17.196 kg", "S2")


def copied_from_paper(floor: Floor) -> Page:
    """What happened at 14:10 is copied from sheet 0217."""
    paper = {"number": "0217", "reason": "the lights failed", "copied_by": TECHNICIAN, "photo": "P-0217"}
    floor.step("V4", "interrupted", why="scale", left="valve shut", **{"from": "2025-09-15 13:55", "to": "14:05"})
    floor.step("V4", "paper-sheet", occurred_at="2025-09-15 14:10", **paper)
    return floor.charge("V4", "C-44", **BY_THE_RESTARTED_SCALE, occurred_at="2025-09-15 14:10", note="sheet 0217")


BY_THE_RESTARTED_SCALE = {
    **{"after": "16.642 kg", "scale": "S2", "restarted": True, "target": "550 g", "tolerance": "15 g"},
    **LIQUID,
}


def out_cleaned_and_back(floor: Floor) -> None:
    """V5 by machine: recovered, recycled, charged, 7 October."""
    floor.at("10-07 09:00")
    floor.arrive("V5")
    floor.step("V5", "label-read", label="label read", refrigerant="R-134a", mass="550 g", tolerance="15 g")
    floor.at("10-07 09:40")
    out = {**PULLED_DOWN, "oil_out": "30 mL", "coldest": "25 C"}
    floor.recover("V5", "T-1", shown="520 g", purged="6 g", **out)
    floor.at("10-07 10:30")
    floor.charge("V5", "T-1", shown="545 g", target="550 g", tolerance="15 g")
    floor.step("V5", "oil-balance", out="30 mL", type="PAG 46", **{"in": "40 mL"})


def gas_goes_to_be_destroyed(floor: Floor) -> Page:
    """The R-12 of C-12 goes on 20 November; the paper of the destroyer comes in December."""
    floor.at("11-20 09:00", OWNER)
    sending = {"scale": "S1", "gross": "10.208 kg", "number": "PE-25-02", "it_does_read": True}
    floor.enter(f"cylinders/{floor.number('C-12')}/send-away/", partner=DESTROYER, purpose="destruction", **sending)
    seq = floor.last("sent-away").entry.seq
    floor.at("12-05 09:00", OWNER)
    paper = {"accepted": "3.290 kg", "oil": "68 g", "accepted_on": "2025-12-04", "paper_number": "ND-7741"}
    return floor.enter(f"lines/{seq}/accepted/", **paper)


def a_car_comes_back_weak(floor: Floor) -> None:
    """V1 after 274 days: a leak is found and repaired, 2 December."""
    weak_gas_is_recovered(floor)
    the_remainder_is_settled(floor)
    found = {"leaking": "1", "where": "high-side port core", "photo": "P-1202", "pressure": "4 bar"}
    floor.step("V1", "leak-search", joints="14", **found, **SEARCHED)
    floor.step("V1", "repair", joint="high-side service port", what="valve core and cap renewed")
    floor.step("V1", "vacuum-hold", coldest="17 C", **HELD_STILL)
    floor.at("12-02 12:20")
    charge(floor, "V1", "C-44", "16.640 kg", "15.870 kg", target="765 g", tolerance="25 g")


def weak_gas_is_recovered(floor: Floor) -> None:
    """V1 is back, and what is in it comes out into C-35."""
    floor.at("12-02 08:30")
    floor.arrive("V1", says="asks to top up")
    floor.at("12-02 09:30")
    drawn = {"before": "11.240 kg", "after": "11.880 kg", "scale": "S1", "coldest": "15 C"}
    floor.recover("V1", "C-35", **drawn, **PULLED_DOWN, it_does_read=True)


def the_remainder_is_settled(floor: Floor) -> Page:
    """What the book still has in V1 is split as the page fills it in, and read back."""
    evidence = "C: leak found and photographed after recovery"
    return floor.enter(
        f"{floor.of('V1')}add/remainder-settled/", evidence=evidence, rest="lost on the road before it came"
    )
