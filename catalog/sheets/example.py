"""A small catalog of twelve invented parts, as sheets to overwrite with one's own: an engine's front, and two pumps."""

from collections.abc import Mapping
from typing import Final

from catalog.sheets.layout import SHEETS, WORDS, WORDS_HEADINGS, words
from catalog.sheets.write import Lines

_SHEETS: Final[Mapping[str, str]] = {
    "parts": """
        ENG-501 | engine          | Hazelrook engine, aluminium block
        FC-501  | front_cover     | Hazelrook front cover
        DR-501  | accessory_drive | Hazelrook drive
        CP-501  | crank_pulley    | Hazelrook crank pulley
        WP-501  | water_pump      | Hazelrook long pump              | | yes
        WP-502  | water_pump      | Hazelrook short pump
        GK-501  | gasket          | Hazelrook pump gasket
        SP-508  | spacer          | Hazelrook pump spacer, 8 mm
        SP-514  | spacer          | Hazelrook pump spacer, 14 mm
        FS-45   | fastener_set    | 6 bolts M8x1.25 x 45, with washers
        FS-55   | fastener_set    | 6 bolts M8x1.25 x 55, with washers
        FS-60   | fastener_set    | 6 bolts M8x1.25 x 60, with washers
    """,
    "aliases": """
        90417731 | WP-501
        90417732 | WP-502
    """,
    "connections": """
        hazelrook_face    | Hazelrook pump face      | face  | block | pump    | gasket  | 1 | GK-501 | 6
        hazelrook_cover   | Hazelrook cover face     | face  | block | cover   | sealant
        hazelrook_bracket | Hazelrook bracket bosses | face  | head  | bracket | none
        hazelrook_snout   | Hazelrook crank snout    | press | crank | pulley  | none
    """,
    "ports": """
        ENG-501 | pump_face      | pump_face  | hazelrook_face    | block | | | | yes
        ENG-501 | cover_face     | cover_face | hazelrook_cover   | block
        ENG-501 | bracket_bosses | drive_face | hazelrook_bracket | head
        ENG-501 | snout          | crank      | hazelrook_snout   | crank
        FC-501  | mount          | mount      | hazelrook_cover   | cover
        DR-501  | bracket        | mount      | hazelrook_bracket | bracket
        CP-501  | bore           | mount      | hazelrook_snout   | pulley
        WP-501  | mount          | mount      | hazelrook_face    | pump  | | | | yes
        WP-502  | mount          | mount      | hazelrook_face    | pump  | | | | yes
        SP-508  | mount          | mount      | hazelrook_face    | pump  | | | | yes
        SP-508  | pump_face      | pump_face  | hazelrook_face    | block | | | | yes
        SP-514  | mount          | mount      | hazelrook_face    | pump  | | | | yes
        SP-514  | pump_face      | pump_face  | hazelrook_face    | block | | | | yes
    """,
    "bands": """
        CP-501 | 1 | 40 mm    | 62 mm    | ribbed | 6
        WP-501 | 1 | 128.7 mm | 150.7 mm | ribbed | 6
        WP-502 | 1 | 114.2 mm | 136.2 mm | ribbed | 6
    """,
    "measures": """
        ENG-501 | hole_depth       | 25 mm
        ENG-501 | crank_face       | 90 mm
        FC-501  | cover_height     | 48 mm     |         |         | caliper | shop bench
        DR-501  | belt_plane       | 141 mm
        DR-501  | shortest_span    | 210 mm    | 2 mm    | 2 mm
        CP-501  | offset           | 51 mm
        WP-501  | belt_plane       | 5 1/2 in
        WP-501  | nose             | 156 mm
        WP-501  | cover_room       | 52 mm
        WP-501  | flange_thickness | 22 mm
        WP-502  | belt_plane       | 125.2 mm
        WP-502  | nose             | 141 mm
        WP-502  | cover_room       | 40 mm
        WP-502  | flange_thickness | 22 mm
        GK-501  | thickness        | 1 mm      | 0.05 mm | 0.05 mm
        SP-508  | thickness        | 8 mm      | 0.05 mm | 0.05 mm
        SP-514  | thickness        | 14 mm     | 0.05 mm | 0.05 mm
        FS-45   | length           | 45 mm
        FS-45   | washer_thickness | 1.6 mm
        FS-55   | length           | 55 mm
        FS-55   | washer_thickness | 1.6 mm
        FS-60   | length           | 60 mm
        FS-60   | washer_thickness | 1.6 mm
    """,
    "attributes": """
        ENG-501 | thread        | M8x1.25
        ENG-501 | hole_material | aluminium
        ENG-501 | wet_holes     | yes
        DR-501  | profile       | PK
        DR-501  | ribs          | 6
        DR-501  | belt_side     | ribbed
        DR-501  | rotation      | clockwise
        CP-501  | profile       | PK
        CP-501  | work          | press
        WP-501  | profile       | PK
        WP-501  | rotation      | clockwise
        WP-502  | profile       | PK
        WP-502  | rotation      | clockwise
        FS-45   | thread        | M8x1.25
        FS-45   | pieces        | 6
        FS-55   | thread        | M8x1.25
        FS-55   | pieces        | 6
        FS-60   | thread        | M8x1.25
        FS-60   | pieces        | 6
    """,
    "cues": """
        WP-501 | pulley_place | Is the pulley in front of the drive's brackets? | yes | yes; no | in_car | 5
        WP-502 | pulley_place | Is the pulley in front of the drive's brackets? | no  | yes; no | in_car | 5
    """,
    "rules": """
        hazelrook_short_pump_tried | tested_fit | WP-502 | DR-501; SP-514 | belt_plane | shop test car, 2026
    """,
    "prices": """
        CP-501 | 88.00 USD
        WP-501 | 129.00 USD
        WP-502 | 99.00 USD
        GK-501 | 4.50 USD
        SP-508 | 26.00 USD
        SP-514 | 31.00 USD
        FS-45  | 16.00 USD
        FS-55  | 17.50 USD
        FS-60  | 18.00 USD
    """,
}


def example_lines() -> Mapping[str, Lines]:
    """For each sheet its headings and the lines of the example."""
    filled = {name: [sheet.headings, *_lines(_SHEETS[name])] for name, sheet in SHEETS.items()}
    return {**filled, WORDS: [WORDS_HEADINGS, *words()]}


def _lines(text: str) -> list[list[str]]:
    return [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
