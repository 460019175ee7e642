"""The reason codes of coolant, heater, fan, rules and the asker's own limits, with examples of each."""

from typing import Final

from service.fit.wording.entries import PULLEY, Entry, Section, check

_LINE: Final = {"seat": "water_pump", "crossing": None, "said": "", "without": False}
_HOSE = "1 1/2 in hose, straight"
_NECK = "outlet neck, right, forward"
_SIZE: Final = {"line": "upper", "narrowest": 19_050_000, "narrowest_said": "3/4 in hose"}
_OF: Final = {"of": 25_400_000, "of_said": "-16"}

_HUB: Final = (
    Entry(
        "has_own_pulley",
        "The pump has a pulley of its own",
        "The build names a separate pulley, and this pump takes none.",
        "pulley",
        (check("hub", "fails", "has_own_pulley"),),
    ),
    Entry(
        "pulley_fits",
        "The pulley fits the hub",
        "The separate pulley bolts to the pump's bare hub.",
        "pulley, pump",
        (check("hub", "ok", "pulley_fits"),),
    ),
    Entry(
        "pulley_does_not_fit",
        "The pulley does not fit the hub",
        "The pulley that the build names has another bolt circle than the pump's hub.",
        "pulley, pump",
        (check("hub", "fails", "pulley_does_not_fit"),),
    ),
    Entry(
        "no_pulley",
        "No pulley for the hub",
        "The pump has a bare hub, and the catalog has no pulley that bolts to it.",
        "pump",
        (check("hub", "fails", "no_pulley"),),
    ),
    Entry(
        "no_pulley_allowed",
        "The pulleys are among those to do without",
        "Pulleys bolt to the hub, and each is one to do without, or retired.",
        "must.without",
        (check("hub", "fails", "no_pulley_allowed", {"known": [PULLEY]}),),
    ),
    Entry(
        "no_fan_port",
        "The pump turns no fan",
        "The build asks for a fan that turns with the engine, and the pump has no seat for one.",
        "fan, pump",
        (check("hub", "fails", "no_fan_port"),),
    ),
    Entry(
        "remote_turns_no_fan",
        "A pump elsewhere turns no fan",
        "The build asks for a pump elsewhere and for a fan that turns with the engine.",
        "pump_drive, fan",
        (check("hub", "fails", "remote_turns_no_fan"),),
    ),
)

_LINES: Final = (
    Entry(
        "line_arrives",
        "A line leads to its end",
        "The parts that lead from a port to its end, in the order in which they go on.",
        "radiator, radiator_ports, heater, fan",
        (
            check(
                "outlet_path",
                "ok",
                "line_arrives",
                {**_LINE, "obligation": "outlet", "goal": "upper", "parts": [_HOSE]},
            ),
            check(
                "inlet_path",
                "ok",
                "line_arrives",
                {
                    **_LINE,
                    "obligation": "inlet",
                    "goal": "housing",
                    "parts": ["straight housing", "crossing hose, 38 mm"],
                    "crossing": "crossing hose, 38 mm",
                },
            ),
            check("outlet_path", "ok", "line_arrives", {**_LINE, "obligation": "outlet", "goal": "upper", "parts": []}),
            check(
                "heater_path",
                "ok",
                "line_arrives",
                {**_LINE, "obligation": "heater_feed", "goal": "loop", "parts": ["nipple", "5/8 in hose", "nipple"]},
            ),
            check(
                "hub",
                "ok",
                "line_arrives",
                {**_LINE, "obligation": "fan", "goal": "fan", "parts": ["fan, five blades"]},
            ),
        ),
    ),
    Entry(
        "port_closed",
        "A port is closed",
        "A port that leads nowhere in this build takes a plug or a cap.",
        "radiator, heater",
        (
            check("heater_path", "ok", "port_closed", {**_LINE, "obligation": "heater_feed", "parts": ["3/8 plug"]}),
            check("vent", "ok", "port_closed", {**_LINE, "obligation": "sensor", "parts": ["3/8 plug"]}),
        ),
    ),
    Entry(
        "nothing_leads",
        "No parts lead there",
        "Both ends are known, and no parts of the catalog lead from one to the other, or close the port.",
        "radiator, radiator_ports, heater, fan, must.without",
        (
            check("outlet_path", "fails", "nothing_leads", {**_LINE, "obligation": "outlet"}),
            check("heater_path", "fails", "nothing_leads", {**_LINE, "obligation": "heater_return", "without": True}),
            check("vent", "fails", "nothing_leads", {**_LINE, "obligation": "sensor"}),
        ),
    ),
    Entry(
        "hoses_cross",
        "All the hoses cross",
        "A line must end on the side where it starts, and every hose that would serve crosses to the other.",
        "radiator, radiator_ports, must.without",
        (check("outlet_path", "fails", "hoses_cross", {**_LINE, "obligation": "outlet"}),),
    ),
    Entry(
        "no_hose_crosses",
        "No hose crosses",
        "A line must lead to the other side, and no hose that would serve crosses.",
        "radiator, radiator_ports, must.without",
        (check("inlet_path", "fails", "no_hose_crosses", {**_LINE, "obligation": "inlet"}),),
    ),
    Entry(
        "housings_of_another_face",
        "The thermostat housings have another face",
        "The housings that there are bolt to another face than this pump has, such as that of another generation.",
        "radiator, pump, must.without",
        (
            check(
                "inlet_path",
                "fails",
                "housings_of_another_face",
                {
                    **_LINE,
                    "obligation": "inlet",
                    "own": "thermostat housing face of the second generation, four bolts",
                    "faces": ["Thermostat housing face of the first generation, two bolts"],
                },
            ),
        ),
    ),
    Entry(
        "housing_of_another_face",
        "The thermostat housing has another face",
        "A housing that was asked about bolts to another face than the pump has, such as that of another generation.",
        "parts",
        (
            check(
                "inlet_path",
                "fails",
                "housing_of_another_face",
                {
                    "part": "straight housing, early",
                    "own": "thermostat housing face of the first generation, two bolts",
                    "faces": ["thermostat housing face of the second generation, four bolts"],
                },
            ),
        ),
    ),
    Entry(
        "line_stays_wide",
        "A line stays wide enough",
        "The narrowest nominal size along a line, and the smaller of the ports that it joins.",
        "radiator, radiator_ports, heater",
        (
            check("line_size", "ok", "line_stays_wide", {**_SIZE, **_OF, "of": 19_050_000, "of_said": "3/4 in hose"}),
            check("line_size", "ok", "line_stays_wide", {**_SIZE, "of": None, "of_said": ""}),
        ),
    ),
    Entry(
        "line_narrows",
        "A line narrows within what is allowed",
        "A line is somewhere narrower than the smaller of the ports that it joins, by no more than a quarter.",
        "radiator, radiator_ports, heater",
        (check("line_size", "ok", "line_narrows", {**_SIZE, **_OF}, value=19_050_000, limit=19_050_000),),
    ),
    Entry(
        "line_too_narrow",
        "A line is too narrow",
        "Every line there is narrows to less than three quarters of the smaller of the ports that it joins.",
        "radiator, radiator_ports, heater",
        (
            check(
                "line_size",
                "fails",
                "line_too_narrow",
                {**_SIZE, **_OF, "narrowest": 15_875_000, "narrowest_said": "5/8 in hose"},
                value=15_875_000,
                limit=19_050_000,
            ),
        ),
    ),
    Entry(
        "line_of_one_size",
        "A line is of one size",
        "A line whose size has no number, and which does not change.",
        "radiator, radiator_ports, heater",
        (check("line_size", "ok", "line_of_one_size", {"line": "lower"}),),
    ),
    Entry(
        "line_through_branch",
        "A main line through a small joint",
        "A main line would run through a joint that is for a heater, a bypass or a vent.",
        "radiator, radiator_ports",
        (check("line_size", "fails", "line_through_branch", {**_SIZE, "through": "1/2 in taper pipe thread"}),),
    ),
    Entry(
        "size_unknown",
        "A size that the release does not have",
        "The build gives a size or a connection of a port, and no part of the release has it.",
        "radiator_ports, heater",
        (check("inlet_path", "fails", "size_unknown", {**_LINE, "obligation": "inlet", "said": "2 3/8 in hose"}),),
    ),
    Entry(
        "no_outlet",
        "The pump has no outlet",
        "The coolant leaves this pump by no port that could lead to the radiator.",
        "radiator, pump",
        (check("outlet_path", "fails", "no_outlet"),),
    ),
    Entry(
        "no_inlet",
        "The pump has no inlet",
        "The pump has neither an inlet nor a seat for a thermostat housing.",
        "radiator, pump",
        (check("inlet_path", "fails", "no_inlet"),),
    ),
    Entry(
        "no_heater_feed",
        "The pump feeds no heater",
        "The build asks for a heater, and the pump has no port that feeds one.",
        "heater, pump",
        (check("heater_path", "fails", "no_heater_feed"),),
    ),
    Entry(
        "no_heater_return",
        "The pump takes no heater's return",
        "The build asks for a heater, and neither the pump nor a housing on it takes the return.",
        "heater, pump",
        (check("heater_path", "fails", "no_heater_return"),),
    ),
    Entry(
        "no_place_for_vent",
        "No vent return",
        "The plate of a remote pump must have a vent return.",
        "pump_drive",
        (check("vent", "fails", "no_place_for_vent", {"part": "outlet plate, two -16"}),),
    ),
    Entry(
        "no_place_for_sender",
        "No place for a sender",
        "The plate of a remote pump must have a place for a temperature sender.",
        "pump_drive",
        (check("vent", "fails", "no_place_for_sender", {"part": "outlet plate, two -16"}),),
    ),
    Entry(
        "has_thermostat",
        "Where the thermostat sits",
        "The part that holds the thermostat, or brings it.",
        "radiator",
        (check("thermostat", "ok", "has_thermostat", {"part": "straight housing"}),),
    ),
)

SECTIONS: Final = (
    Section("Hub and fan", "Whether the pump takes a separate pulley, and a fan that turns with the engine.", _HUB),
    Section(
        "Coolant and heater", "Whether every port that the build asks about leads to its end or is closed.", _LINES
    ),
)
