"""What stands in the reference of rules, and of the limits that a build sets itself."""

from typing import Final

from service.fit.wording.entries import PUMP, Entry, Section, check, within

_INTO_BORE: Final = {"work": "press", "limit": "bolt_on", "port": "into", "of": "Rowanfinch outlet plate"}
_NECK = "outlet neck, right, forward"
_SEEN = "the pulley runs into the lower idler; shop test car, 2023"
_NEEDS: Final = {"part": "the cross-over plate", "other": "wide radiator", "field": "radiator"}

_RULES: Final = (
    Entry(
        "no_rule_against",
        "No rule speaks against it",
        "No rule of the catalog is about these parts together.",
        "all parts",
        (check("rule", "ok", "no_rule_against"),),
    ),
    Entry(
        "requires_left_out",
        "A part needs one that the build does not name",
        "A rule of the catalog has a part need one of the car's own, and the build leaves that field out.",
        "the field named",
        (
            check("rule", "not_asked", "requires_left_out", {"needs": [_NEEDS]}),
            check("rule", "not_asked", "requires_left_out", {"needs": [_NEEDS, {**_NEEDS, "other": "tall cover"}]}),
        ),
    ),
    Entry(
        "rules_met",
        "Every needed part is there",
        "A rule says that a part needs another, and it is in the list.",
        "all parts",
        (check("rule", "ok", "rules_met"),),
    ),
    Entry(
        "requires",
        "A needed part is missing",
        "A rule says that a part needs another, which the build does not have and which cannot simply be added.",
        "all parts",
        (
            check("rule", "fails", "requires", {"part": PUMP, "other": "short crank pulley", "source": "shop drawing"}),
            check("rule", "fails", "requires", {"part": PUMP, "other": "short crank pulley", "source": ""}),
        ),
    ),
    Entry(
        "excludes",
        "Two parts do not go together",
        "A rule says that the two do not go together, whatever their measures.",
        "all parts",
        (check("rule", "fails", "excludes", {"part": PUMP, "other": "early tall cover", "source": _SEEN}),),
    ),
    Entry(
        "tested_no_fit",
        "It was tried and did not fit",
        "This very combination was tried.",
        "all parts",
        (
            check(
                "rule",
                "fails",
                "tested_no_fit",
                {"part": PUMP, "other": "early tall cover", "source": "shop truck, 2026"},
            ),
        ),
    ),
    Entry(
        "tested_fit",
        "It was tried and fits",
        "This very combination was tried, which settles the check whatever the measures leave open.",
        "all parts",
        (
            check("belt_plane", "ok", "tested_fit", {"source": "shop truck, 2026"}),
            within(
                "cover",
                "ok",
                "tested_fit",
                1.1,
                1.5,
                at_least=True,
                source="shop truck, 2026",
                reckoned="cover_clearance",
            ),
        ),
    ),
)

_LIMITS: Final = (
    Entry(
        "outlet_side",
        "The side of the outlet",
        "Whether the outlet, with the neck on it, points to the side that must be, as seen from behind the engine.",
        "must.outlet_side",
        (
            check("outlet_side", "ok", "outlet_side", {"has": ["left"], "wanted": "left"}),
            check("outlet_side", "ok", "outlet_side", {"has": ["right"], "wanted": "right", "neck": _NECK}),
            check("outlet_side", "ok", "outlet_side", {"has": ["left"], "wanted": "left", "takes_neck": True}),
            check(
                "outlet_side",
                "ok",
                "outlet_side",
                {"has": ["right"], "wanted": "right", "neck": _NECK, "takes_neck": True},
            ),
            check("outlet_side", "fails", "outlet_side", {"has": ["centre", "right"], "wanted": "left"}),
        ),
    ),
    Entry(
        "outlet_direction",
        "The direction of the outlet",
        "Whether the outlet, with the neck on it, points the way that must be.",
        "must.outlet_direction",
        (
            check("outlet_direction", "ok", "outlet_direction", {"has": ["up"], "wanted": "up"}),
            check("outlet_direction", "fails", "outlet_direction", {"has": ["forward"], "wanted": "up"}),
        ),
    ),
    Entry(
        "work",
        "The hardest step",
        "The hardest step of fitting the parts, against the hardest that may be.",
        "must.work_at_most",
        (
            check("work", "ok", "work", {"work": "bolt_on", "limit": "hand_fit"}),
            check("work", "fails", "work", {"work": "weld", "limit": "hand_fit"}),
        ),
    ),
    Entry(
        "work_of_open_port",
        "A port left open takes harder work",
        "What the build does not ask about is the asker's own to connect; where all that meets such a port takes work, "
        "that counts too.",
        "must.work_at_most",
        (check("work", "fails", "work_of_open_port", _INTO_BORE),),
    ),
    Entry(
        "price",
        "The price of what is to buy",
        "What the parts to buy cost, pieces at hand left out, against the most that may be spent.",
        "must.price_at_most",
        (
            check("price", "ok", "price", {"price": 28_700, "limit": 40_000, "currency": "USD"}),
            check("price", "fails", "price", {"price": 41_250, "limit": 40_000, "currency": "USD"}),
        ),
    ),
    Entry(
        "no_price",
        "A price is not known",
        "A part to buy has no price, so it cannot be said to stay within a limit.",
        "must.price_at_most",
        (check("price", "fails", "no_price"),),
    ),
)

SECTIONS: Final = (
    Section("Rules", "What the catalog knows of parts together beyond their measures.", _RULES),
    Section("What must be", "The limits that the build sets itself.", _LIMITS),
)
