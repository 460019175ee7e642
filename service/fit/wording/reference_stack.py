"""The reason codes of faces, belts, clearances and bolts, with what each means and examples of it."""

from typing import Any, Final

from service.fit.wording.entries import COVER, ENGINE, MM, PUMP, Entry, Section, check, lacking, within

_NECK: Final = "outlet neck, right, forward"
_HOSE: Final = "1 1/2 in hose, straight"
_SPAN: Final[dict[str, Any]] = {"span": 210 * MM, "smooth": False}
_BOLTS: Final[dict[str, Any]] = {
    "holder": "the block",
    "clamps": "the pump",
    "thread": "M8x1.25",
    "wet": True,
    "bolt_length": 45 * MM,
    "least": 16 * MM,
    "depth": 25 * MM,
    "binds": "least",
}

_HOLES: Final = ("hole_depth", "thread", "hole_material")

_FACE: Final = (
    Entry(
        "faces_meet",
        "Every face meets its own",
        "Each face between block and pump meets the face that is made for it.",
        "engine, pump, accessory_drive, front_cover, crank_pulley",
        (check("face", "ok", "faces_meet"),),
    ),
    Entry(
        "does_not_bolt_on",
        "A part does not bolt to the engine",
        "The drive, the cover or the crank pulley of the build bolts to a face that the engine does not have.",
        "accessory_drive, front_cover, crank_pulley",
        (check("face", "fails", "does_not_bolt_on", {"part": COVER, "connection": "Alder cover face"}),),
    ),
    Entry(
        "no_path",
        "No plates lead to the pump",
        "The pump's face is known, and no stack of plates in the catalog leads to it from the engine.",
        "pump",
        (check("face", "fails", "no_path", {"plates": 3}),),
    ),
    Entry(
        "mount_not_known",
        "The pump's face is not known",
        "Nobody states by what face the pump bolts on. That is not a no: nothing was looked at.",
        "pump",
        (check("face", "not_asked", "mount_not_known"),),
    ),
    Entry(
        "pump_is_belt_driven",
        "A pump on the block is no remote pump",
        "The build asks for a pump elsewhere and names one that the belt drives.",
        "pump_drive, pump",
        (check("face", "fails", "pump_is_belt_driven"),),
    ),
    Entry(
        "named_and_unwanted",
        "A part is asked for and unwanted",
        "The build names a part and lists it among those to do without.",
        "must.without",
        (check("without", "fails", "named_and_unwanted", {"part": PUMP}),),
    ),
    Entry(
        "takes_unwanted",
        "The way there takes a part that is unwanted",
        "Of all that would fit but for the parts to do without, the first takes one of them.",
        "must.without",
        (check("without", "fails", "takes_unwanted", {"parts": ["spacer, 14 mm", "spacer, 4 mm"]}),),
    ),
)

_BELT: Final = (
    Entry(
        "belt_suits",
        "The belt suits the pulley",
        "The pulley has grooves enough for the belt's ribs, or a smooth surface as wide as the belt.",
        "accessory_drive, pump, pulley",
        (
            check("belt", "ok", "belt_suits", {"side": "ribbed", "ribs": 6, "grooves": 7}),
            check("belt", "ok", "belt_suits", {"side": "smooth", "width": 21_360_000, "room": 26 * MM}),
        ),
    ),
    Entry(
        "no_surface",
        "No surface for this side of the belt",
        "The belt runs on the pump with the side for which the pulley has no surface.",
        "accessory_drive, pump, pulley",
        (check("belt", "fails", "no_surface", {"side": "smooth"}),),
    ),
    Entry(
        "wrong_profile",
        "Another rib profile",
        "Belt and pulley have ribs of different profiles (ISO 9982).",
        "accessory_drive, pump, pulley",
        (check("belt", "fails", "wrong_profile", {"profile": "PK", "has": "PL"}),),
    ),
    Entry(
        "too_few_grooves",
        "Too few grooves",
        "The belt has more ribs than the pulley has grooves.",
        "accessory_drive, pump, pulley",
        (check("belt", "fails", "too_few_grooves", {"ribs": 7, "grooves": 6}),),
    ),
    Entry(
        "too_narrow",
        "Too narrow a surface",
        "The smooth back of the belt is wider than the surface that it would run on.",
        "accessory_drive, pump, pulley",
        (check("belt", "fails", "too_narrow", {"width": 21_360_000, "room": 18 * MM}),),
    ),
    Entry(
        "belt_without_pump",
        "The drive has a belt for no pump",
        "Where the pump sits elsewhere, the drive takes a belt of another length, and the catalog names it.",
        "pump_drive, accessory_drive",
        (check("belt", "ok", "belt_without_pump"),),
    ),
    Entry(
        "belt_lost_a_pulley",
        "The belt must be measured anew",
        "Where the pump sits elsewhere, the belt has one pulley less, and nobody states what belt it then takes.",
        "pump_drive, accessory_drive",
        (check("belt", "measure_first", "belt_lost_a_pulley"),),
    ),
    Entry(
        "turns_right",
        "The belt turns the pump the right way",
        "The way in which this belt turns the pump is the way in which it must turn.",
        "accessory_drive, pump",
        (check("rotation", "ok", "turns_right", {"wanted": "clockwise"}),),
    ),
    Entry(
        "turns_wrong",
        "The belt turns the pump the wrong way",
        "A pump that turns the wrong way moves too little coolant.",
        "accessory_drive, pump",
        (check("rotation", "fails", "turns_wrong", {"wanted": "counterclockwise", "turns": "clockwise"}),),
    ),
    Entry(
        "belt_offset",
        "How far the belt is out of line",
        "The distance between the plane of the drive's belt and the place where it runs on the pump's pulley, against "
        "what the span beside the pump allows; on a smooth surface, against what is left on either side of the belt.",
        "accessory_drive, pump, pulley",
        (
            within("belt_plane", "ok", "belt_offset", 0.6, 1.1, **_SPAN),
            within("belt_plane", "ok", "belt_offset", 0, 1.1, **_SPAN),
            within("belt_plane", "measure_first", "belt_offset", -0.9, 1.1, **_SPAN),
            within("belt_plane", "fails", "belt_offset", 3.2, 1.1, **_SPAN),
            within("belt_plane", "ok", "belt_offset", -1.5, 2.3, **_SPAN | {"smooth": True}),
            within("belt_plane", "fails", "belt_offset", 1.104, 1.1, **_SPAN),
        ),
    ),
    Entry(
        "crank_offset",
        "How far the crank pulley is out of line",
        "The distance between the belt on the asker's crank pulley and the plane that the drive's brackets expect.",
        "crank_pulley, accessory_drive",
        (
            within("crank", "ok", "crank_offset", 0.3, 1.1, crank="crank pulley, 6 grooves", **_SPAN),
            within("crank", "fails", "crank_offset", -13, 1.1, crank="crank pulley, 6 grooves", **_SPAN),
        ),
    ),
    Entry(
        "carried_offset",
        "How far a part on the pump is out of line",
        "A tensioner or an idler that bolts to the pump moves with it, and its own pulley must stay in line.",
        "accessory_drive, pump",
        (
            within("carried_parts", "ok", "carried_offset", 0.5, 1.1, carried="tensioner", **_SPAN),
            within("carried_parts", "fails", "carried_offset", 14, 1.1, carried="idler_upper", **_SPAN),
        ),
    ),
    Entry(
        "carries_nothing",
        "The pump carries only its pulley",
        "No part of the drive bolts to the pump, so nothing else moves with it.",
        "accessory_drive, pump",
        (check("carried_parts", "ok", "carries_nothing"),),
    ),
    Entry(
        "nothing_carried",
        "Nothing is missed",
        "Where the pump sits elsewhere, no part of the drive has lost its seat.",
        "pump_drive, accessory_drive",
        (check("carried_parts", "ok", "nothing_carried"),),
    ),
    Entry(
        "no_carrier",
        "A part of the drive has no seat",
        "A part of the drive bolts to the pump, and this pump has no place for it.",
        "accessory_drive, pump",
        (check("carried_parts", "fails", "no_carrier", {"carried": "tensioner"}),),
    ),
)

_ROOM: Final = (
    Entry(
        "zone_is_free",
        "Nothing of the pump reaches there",
        "The cover has a zone over which, as the catalog states, nothing of the pump reaches.",
        "pump, front_cover",
        (check("cover", "ok", "zone_is_free", zone="connector"), check("cover", "ok", "zone_is_free")),
    ),
    Entry(
        "cover_clearance",
        "Air between pump and cover",
        "The room behind the pump less the height of the cover, zone by zone, against the least air.",
        "front_cover, pump",
        (
            within("cover", "ok", "cover_clearance", 3.4, 1.5, at_least=True),
            within("cover", "measure_first", "cover_clearance", 1.7, 1.5, at_least=True, zone="sensor"),
            within("cover", "fails", "cover_clearance", 0.9, 1.5, at_least=True, zone="vvt_phaser"),
            within("cover", "fails", "cover_clearance", -9.5, 1.5, at_least=True, zone="sensor"),
        ),
    ),
    Entry(
        "room_before_pump",
        "Room in front of the pump",
        "From the foremost point of the pump to the radiator's core, or to the fan on it.",
        "core_distance, fan",
        (
            within("radiator_gap", "ok", "room_before_pump", 62, 9.525, at_least=True, fan=None),
            within("radiator_gap", "ok", "room_before_pump", 21, 9.525, at_least=True, fan="slim electric fan"),
            within("radiator_gap", "fails", "room_before_pump", 4, 9.525, at_least=True, fan="slim electric fan"),
            within("radiator_gap", "fails", "room_before_pump", -12, 9.525, at_least=True, fan=None),
        ),
    ),
    Entry(
        "fan_of_unknown_depth",
        "Room for a fan on the radiator",
        "From the foremost point of the pump to the core, for an electric fan that the build does not name.",
        "core_distance, fan",
        (within("radiator_gap", "ok", "fan_of_unknown_depth", 88, 9.525, at_least=True, fan=None),),
    ),
    Entry(
        "room_before_fan",
        "Room in front of the fan",
        "From the blades of a fan that turns with the engine to the radiator's core.",
        "core_distance, fan",
        (
            within("radiator_gap", "ok", "room_before_fan", 31, 19, at_least=True, fan="five blades"),
            within("radiator_gap", "fails", "room_before_fan", 12, 19, at_least=True, fan="five blades"),
        ),
    ),
    Entry(
        "room_behind_fan",
        "Room behind the fan",
        "From the back of a fan that turns with the engine to the drive behind it.",
        "accessory_drive, fan",
        (within("radiator_gap", "measure_first", "room_behind_fan", 9.8, 9.525, at_least=True, fan="five blades"),),
    ),
    Entry(
        "engagement",
        "How deep the bolts engage",
        "Length less washer and all that is clamped, against the least for thread and material and the depth of the "
        "holes.",
        "engine, pump",
        (
            within("bolts", "ok", "engagement", 19, 16, at_least=True, **_BOLTS),
            within("bolts", "fails", "engagement", 9, 16, at_least=True, **_BOLTS),
            within("bolts", "fails", "engagement", -3, 16, at_least=True, **_BOLTS),
            within("bolts", "fails", "engagement", 31, 25, **_BOLTS | {"binds": "depth"}),
        ),
    ),
    Entry(
        "no_bolts",
        "No bolts of this thread",
        "The catalog has no bolts with the thread of these holes.",
        "engine, pump",
        (check("bolts", "fails", "no_bolts", _BOLTS),),
    ),
    Entry(
        "no_bolts_allowed",
        "The bolts are among those to do without",
        "The catalog has bolts with this thread, and each is one to do without, or retired.",
        "must.without",
        (check("bolts", "fails", "no_bolts_allowed", {**_BOLTS, "known": ["M8 x 45 bolts", "M8 x 60 bolts"]}),),
    ),
    Entry(
        "not_known",
        "Something that the check needs is not known",
        "The build names the part, or an option brings it, and neither the release nor the asker states what the check "
        "needs of it. It is neither a yes nor a no: the reading or the look that decides is told with it.",
        "whichever part it is of",
        (
            check("belt_plane", "measure_first", "not_known", lacking((PUMP, "belt_plane"))),
            check("belt", "measure_first", "not_known", lacking(("my pump", "bands"), ("my pump", "profile"))),
            check("rotation", "measure_first", "not_known", lacking(("my drive", "rotation"))),
            check("cover", "measure_first", "not_known", lacking((PUMP, "cover_room.connector")), zone="connector"),
            check("cover", "measure_first", "not_known", lacking(("my cover", "cover_height"))),
            check("crank", "measure_first", "not_known", lacking(("my pulley", "offset"), (ENGINE, "crank_face"))),
            check("carried_parts", "measure_first", "not_known", lacking((PUMP, "carrier_face.tensioner"))),
            check("radiator_gap", "measure_first", "not_known", lacking((PUMP, "nose"), ("my fan", "depth"))),
            check("bolts", "measure_first", "not_known", lacking((PUMP, "flange_thickness"))),
            check("bolts", "measure_first", "not_known", lacking(*((ENGINE, name) for name in _HOLES)), zone="1"),
            check("face", "measure_first", "not_known", lacking(("my drive", "ports.mount"))),
            check(
                "outlet_path",
                "measure_first",
                "not_known",
                lacking(("my radiator", "ports.coolant_in"), ("my radiator", "ports.coolant_out")),
            ),
            check("heater_path", "measure_first", "not_known", lacking(("my heater", "ports.heater_return"))),
            check("line_size", "measure_first", "not_known", {"line": "upper", **lacking((_NECK, "port_size"))}),
            check(
                "outlet_path",
                "measure_first",
                "not_known",
                {"parts": [_HOSE], **lacking(("my radiator", "side.upper"))},
            ),
            check("outlet_side", "measure_first", "not_known", {"wanted": "left", **lacking((_NECK, "side"))}),
        ),
    ),
    Entry(
        "nobody_states",
        "No part of the kind states it",
        "No part of this kind in the whole release states what the check needs, so nothing is held against it.",
        "the release",
        (
            check("rotation", "not_asked", "nobody_states", {"nobody": (("water_pump", "rotation"),)}),
            check("thermostat", "not_asked", "nobody_states", {"nobody": (("water_pump", "thermostat_included"),)}),
        ),
    ),
    Entry(
        "field_left_out",
        "A field was left out",
        "The build says nothing of what this check is about, so it asks nothing.",
        "the field named",
        (
            check("cover", "not_asked", "field_left_out", {"field": "front_cover"}),
            check("radiator_gap", "not_asked", "field_left_out", {"field": "core_distance"}),
        ),
    ),
)

_READINGS: Final = (
    Entry(
        "reading_contradicts",
        "A reading contradicts the part",
        "A reading lies farther from what the catalog says of the part than the doubts of both and 3 mm. It replaces "
        "nothing, and every option with the part must be measured first.",
        "measured",
        (
            check(
                "reading",
                "measure_first",
                "reading_contradicts",
                {"name": PUMP, "part": "WP-227", "measure": "pulley_front", "read": 203_200_000, "has": 139_700_000},
            ),
        ),
    ),
)

SECTIONS: Final = (
    Section("Readings", "Whether the part that was measured is the part that the build names.", _READINGS),
    Section("Faces", "Whether the parts bolt on, and to what.", _FACE),
    Section("The belt", "Whether the belt suits, turns the pump the right way and runs in line.", _BELT),
    Section("Room and bolts", "Clearances along the engine's axis, and what holds the pump.", _ROOM),
)
