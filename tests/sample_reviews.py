"""Every finding of every sample order, reviewed by hand: what it must be, and in a sentence why it is right.

Figures are worked out here from the order, the family's anchors and the components' files, and not by the program: so
hypot(51.75, 1.5) is the distance of two holes whose stations and heights differ by so much.
"""

from __future__ import annotations

from math import hypot

from reviewing import SPACING, Reviewed, bumper, closing, near, settled, shared, sixfold, trunnion, upset

INCH = 25.4
AIR_DRYER, CENTRE_BEARING = "air-dryer-bracket.1", "centre-bearing-cross-member.1"
_GAP = 3323.75 - 30 - (3215 + 27)
"""51.75 mm: from the air dryer's rear holes to the front ones of the cross member behind it."""

P_1001 = [
    *(
        near(
            "LH",
            part,
            3215 + 27,
            f"{AIR_DRYER}.b{row} {CENTRE_BEARING}.a{row}",
            hypot(_GAP, higher),
            3 * 17.5,
            f"M14 at 3242 and M16 at 3293.75, {higher} mm higher or lower: less than 3 x 17.5 = 52.5, more than the "
            "43.75 of an error; the liner from 202.5 to 4478 has the same holes",
        )
        for part in ("rail", "liner")
        for row, higher in ((1, 26 - 24.5), (2, 77 - 74))
    ),
    Reviewed(
        "net-section rail",
        "warning",
        ("LH rail web", "RH rail web"),
        -1500 + 276,
        0.86825,
        0.9,
        "three of 22 in the web, 72 mm apart, and one of 13 in the bottom flange on one line: I falls from 48 372 "
        "700 to 43 479 200 mm4, the axis rises by 5.28 mm, W from 322 485 to 43 479 200 / 155.28 = 280 000 mm3; 0.9 "
        "is asked ahead of the last axle, below 0.85 it were an error",
        tuple(f"plough-plate-heavy.1.{hole}" for hole in ("b3", "b2", "b1", "f2")),
        ("plough-plate-heavy",),
        within=2e-6,
    ),
    Reviewed(
        "bending front-axle",
        "note",
        ("",),
        0.0,
        48.1,
        88.0,
        "2877 kg of the components' 3763, 9500 x 850 / 4800 = 1682 of the body, 521 x 2300 / 4800 = 249 of the rails "
        "and 188 x 2460 / 4800 = 96 of the liners are 4905 kg or 48.1 kN; axles and wheels are not in the library",
        within=0.1,
    ),
    Reviewed(
        "bending rear-axle",
        "note",
        ("",),
        4800.0,
        88.9,
        165.0,
        "what the front axle does not bear of 3763 + 9500 + 521 + 188 = 13 972 kg: 9067 kg or 88.9 kN",
        within=0.1,
    ),
    settled(
        "centre-bearing-cross-member",
        "-",
        3298.75 + 25,
        212.5 + 0.75 * 4800 - 0.375 * 1370,
        "at 3298.75 its front holes at 3268.75 are 26.75 mm behind those of the air dryer at 3242, which stands as "
        "near as may be already; one step of 25 mm makes 51.75",
    ),
    settled(
        "air-dryer-bracket",
        "LH",
        3265 - 50,
        -610 + 4800 - 685 - 240,
        "at 3265 its rear holes at 3292 are 1.75 mm off those of the cross member at 3293.75, sockets and all",
    ),
    settled(
        "air-tank-first",
        "RH",
        3365 - 50,
        -610 + 4800 - 685 - 140,
        "at 3365 its front holes at 3265 are 28.75 mm ahead of those of the cross member at 3293.75, 43.75 are needed",
    ),
    settled(
        "air-tank-second",
        "RH",
        3085 - 50,
        -610 + 4800 - 685 - 420,
        "at 3085 its rear holes at 3185 are 30 mm ahead of the first tank's front ones at 3215, 2.5 x 15.5 = 38.75 "
        "are needed; and its envelope, 130 mm to either side, would reach 30 mm into the first tank's",
    ),
    *closing(-1500),
    *trunnion(4800),
]

PUMP, BRAKE = "pump-bracket.1", "brake-junction-bracket.1"
_MET = 1150 + 1330
"""Station of both: gearbox + 1330, and rear axle at 4650 - 2170."""


def clash(name: str, holes: str, value: float, limit: float, why: str) -> Reviewed:
    """An error of the deliberate clash."""
    both = ("brake-junction-bracket", "pump-bracket")
    return Reviewed(name, "error", ("RH rail web",), _MET, value, limit, why, tuple(holes.split(" ")), both)


P_1002 = [
    clash(SPACING, f"{BRAKE}.a1 {PUMP}.a1", 54.5 - 24.5, 2.5 * 17.5, "54.5 and 24.5 below the middle of one station"),
    clash(SPACING, f"{PUMP}.a1 {BRAKE}.dowel", 24.5 - 8, 2.5 * 17.5, "24.5 and 8 below; the larger hole's 2.5 d holds"),
    clash(SPACING, f"{PUMP}.a2 {BRAKE}.a1", 77 - 54.5, 2.5 * 17.5, "77 and 54.5 below; 2.5 x 17.5 = 43.75 are needed"),
    clash(
        "hole-spacing ligament",
        f"{BRAKE}.a1 {PUMP}.a1",
        30 - (15.5 + 17.5) / 2,
        2 * 9.5,
        "30 less both radii; 2 t is 19",
    ),
    clash("hole-spacing ligament", f"{PUMP}.a1 {BRAKE}.dowel", 16.5 - (17.5 + 9) / 2, 2 * 9.5, "16.5 less both radii"),
    clash("hole-spacing ligament", f"{PUMP}.a2 {BRAKE}.a1", 22.5 - (17.5 + 15.5) / 2, 2 * 9.5, "22.5 less both radii"),
    clash(
        "washer-seat washer",
        f"{PUMP}.a2 {BRAKE}.a1",
        22.5 - 15 - 14,
        0,
        "washers of 30 and 28 mm, centres 22.5 apart; the upper pair, 30 - 29 = 1 mm apart, just has what is asked",
    ),
    clash(
        "footprint-clash washer",
        f"{BRAKE}.a1",
        0 - 14,
        3,
        "its centre is under the pump bracket's foot, 5.5 to 96 below",
    ),
    clash(
        "footprint-clash washer", f"{PUMP}.a1", 0 - 15, 3, "its centre is under the junction's foot, 0 to 71.5 below"
    ),
    clash("footprint-clash washer", f"{PUMP}.a2", 77 - 71.5 - 15, 3, "5.5 mm below the junction's foot, washer of 30"),
    clash("wrench-access radial", f"{BRAKE}.a1", 0 - 16, 2, "socket of 32 over the pump bracket's foot"),
    clash("wrench-access radial", f"{PUMP}.a1", 0 - 19, 2, "socket of 38 over the junction's foot"),
    clash("wrench-access radial", f"{PUMP}.a2", 77 - 71.5 - 19, 2, "5.5 mm below the junction's foot, socket of 38"),
    clash(
        "wrench-access radial",
        f"{BRAKE}.a1 {PUMP}.a1",
        30 - (19 + 14),
        2,
        "socket of 38 beside the other's washer of 28",
    ),
    clash("wrench-access radial", f"{PUMP}.a2 {BRAKE}.a1", 22.5 - (19 + 14), 2, "socket of 38 beside the washer of 28"),
    clash(
        "wrench-access head-length",
        f"{BRAKE}.a1",
        14,
        60,
        "the pump's envelope begins 14 mm outside the web and hangs over the head at 150 - 54.5 = 95.5, from 10 to 150",
    ),
    settled(
        "midship-cross-member",
        "-",
        2487.5 + 75,
        525 + 0.5 * 4650 - 0.25 * 1450,
        "its holes, 30 mm to either side, must be 43.75 off those at 2480: up to 2406.25, four steps of 25 off, or "
        "from 2553.75, three; then they are 52.5 off, which is 3 d and no warning either",
    ),
    *bumper(-1550),
    *trunnion(4650),
]

P_1003 = [
    *(
        near(
            "LH RH",
            "rail",
            1916.25 + 30,
            f"second-midship-cross-member.1.b{row} tipper-cylinder-cross-member.1.a{row}",
            1150 + 900 - 60 - (1916.25 + 30),
            3 * 17.5,
            "holes at 1946.25 and 1990 leave just the 2.5 x 17.5 = 43.75 of the error limit, 3 d asks for 52.5",
        )
        for row in (1, 2)
    ),
    settled(
        "second-midship-cross-member",
        "-",
        1991.25 - 75,
        837.5 + 0.25 * 5300 - 0.125 * 1370,
        "at 1991.25 its rear holes at 2021.25 are between the cylinder's at 1990 and 2050; ahead of them 1990 - "
        "43.75 - 30 = 1916.25 is the last station, three steps of 25 off, and behind them eight would be needed",
    ),
    settled(
        "power-take-off-bracket",
        "LH",
        2885 + 100,
        -610 + 5300 - 685 - 1120,
        "at 2885 its front holes at 2855 are 7.5 mm off the midship cross member's at 2862.5, at 2935 42.5 of the "
        "43.75; at 2985 92.5",
    ),
    settled(
        "battery-box-lh",
        "LH",
        3765 - 50,
        -610 + 5300 - 685 - 240,
        "at 3765 its second holes at 3620 are 23.75 mm off those of the centre bearing at 3643.75; at 3715 73.75",
    ),
    settled(
        "air-tank-second",
        "RH",
        3585 - 100,
        -610 + 5300 - 685 - 420,
        "at 3585 its rear holes at 3685 are 18.75 mm off the centre bearing's at 3703.75, at 3535 8.75 off those at "
        "3643.75; at 3485 58.75",
    ),
    *closing(-1600),
    *trunnion(5300),
]

_NOZZLE = (168 - 34 + -2) * INCH
"""Where the suction nozzle stands, 3352.8 mm; rear_group_front is at 168 - 34 in."""

S_3001 = [
    *(
        near(
            "LH",
            "rail",
            3113.6 + 195,
            f"battery-box-lh.1.d{row} suction-nozzle-bracket.1.a{row}",
            hypot(_NOZZLE - (3113.6 + 195), below),
            3 * 15.5,
            f"M14 at 3308.6 and half-inch at 3352.8, {below:.2f} mm higher or lower: less than 3 x 15.5 = 46.5, more "
            "than the 38.75 of an error",
        )
        for row, below in ((1, 26 - 0.85 * INCH), (2, 74 - 2.8 * INCH))
    ),
    settled(
        "suction-nozzle-bracket",
        "-",
        _NOZZLE,
        (168 - 34 - 6) * INCH,
        "at 3251.2 its RH holes are 37.6 mm behind the first tank's at 3213.6, a step on its LH ones are 6.6 mm "
        "ahead of the battery box's at 3308.6, and 38.75 are needed; two steps on they are 44.2 mm behind",
    ),
    settled(
        "battery-box-lh",
        "LH",
        3163.6 - 50,
        134 * INCH - 240,
        "at 3163.6 its last holes at 3358.6 are 5.8 mm off the suction nozzle's at 3352.8; at 3113.6 44.2",
    ),
    settled(
        "air-tank-first",
        "RH",
        3263.6 - 150,
        134 * INCH - 140,
        "its window ends at 3263.6; there and a step and two ahead its front holes at 3163.6, 3113.6 and 3063.6 are "
        "11.5, 17.3 and 32.7 mm off the water tank's rear bracket's at 3152.14 and 3096.26; at the third step 82.7",
    ),
    settled(
        "air-tank-second",
        "RH",
        2983.6 - 150,
        134 * INCH - 420,
        "its envelope, 130 mm to either side, needs 10 mm to the first tank's at 3113.6: at most 2843.6, so three "
        "steps",
    ),
    *sixfold(
        "sweeper-rear-hanger",
        "sweeper-rear-hanger-cross-member",
        (168 - 28) * INCH,
        2.5 * INCH,
        "hanger and cross member stand at one anchor, 28 in ahead of the axle, with the same six bolts",
    ),
    *sixfold(
        "sweeper-rear-shackle",
        "sweeper-rear-shackle-cross-member",
        (168 + 28) * INCH,
        2.5 * INCH,
        "shackle bracket and cross member stand at one anchor, 28 in behind the axle, with the same six bolts",
    ),
]

S_3002 = [
    settled(
        "sweeper-midship-cross-member",
        "-",
        (76.625 - 3) * INCH,
        (1.625 + 150 / 2) * INCH,
        "its rear holes, 1.1 in behind it, must be 38.75 mm ahead of the battery box's at 2146.4 - 195 = 1951.4: up "
        "to 1884.7, three steps of an inch ahead of 1946.3; behind the box's second holes at 2001.4 it were five",
    ),
    *sixfold(
        "sweeper-rear-hanger",
        "sweeper-rear-hanger-cross-member",
        (150 - 28) * INCH,
        2.5 * INCH,
        "hanger and cross member stand at one anchor, 28 in ahead of the axle, with the same six bolts",
    ),
]
_EYE = "cross member and recovery eye both stand 3.75 in behind the rail's front with the same six bolts, 1.25 in off"
for _reviews, _overhang in ((S_3001, 48), (S_3002, 50)):
    _at = {"a1 a2 a3": (3.75 - 1.25 - _overhang) * INCH, "b1 b2 b3": (3.75 + 1.25 - _overhang) * INCH}
    _reviews += shared("sweeper-front-closing-cross-member", "sweeper-recovery-eye", _at, _EYE)

T_2001 = [
    *(
        near(
            "RH",
            "rail",
            2007.5 + 30,
            f"midship-cross-member.1.b{row} air-tank-second.1.a{row}",
            hypot(2605 - 420 - 100 - (2007.5 + 30), higher),
            3 * 17.5,
            f"M16 at 2037.5 and M14 at 2085, {higher} mm higher or lower: less than 3 x 17.5 = 52.5, more than 43.75",
        )
        for row, higher in ((1, 26 - 24.5), (2, 77 - 74))
    ),
    settled(
        "midship-cross-member",
        "-",
        2107.5 - 100,
        500 + 0.5 * 3900 - 0.25 * 1370,
        "at 2107.5 its rear holes at 2137.5 are 32.5 mm ahead of the battery box's at 2170; up to three steps ahead "
        "they are within 27.5 mm of the second tank's at 2085, at the fourth 47.5",
    ),
    upset(4550, slit=72, drop=270 - 200, length=3900 + 1650 - 4550),
    *closing(-1350),
    *bumper(-1350),
    *trunnion(3900),
    *shared(
        "coupling-angle",
        "coupling-plate",
        {"c1": 3600 - 198, "d1": 3600 - 132, "h1": 3600 + 132, "i1": 3600 + 198},
        "the plate lies on the angle and is held by four of its eleven bolts, 132 and 198 mm off the coupling at 3600",
    ),
]

T_2002 = [
    upset(5400, slit=74, drop=270 - 200, length=4700 + 1800 - 5400),
    *closing(-1400),
    *(
        row
        for which, axle in (("first", 4700 - 655), ("last", 4700 + 655))
        for row in sixfold(
            f"air-bogie-cross-member-{which}",
            f"air-bogie-hanger-{which}",
            axle - 480,
            65,
            "hanger and cross member stand 480 mm ahead of their axle with the same six bolts",
        )
    ),
]

REVIEWS = {
    "P-1001": P_1001,
    "P-1002": P_1002,
    "P-1003": P_1003,
    "S-3001": S_3001,
    "S-3002": S_3002,
    "T-2001": T_2001,
    "T-2002": T_2002,
}
"""By serial: the whole of what is found."""
