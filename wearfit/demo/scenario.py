"""The written scenario: Quibbelorn, an invented maker of moulded playthings and household goods.

Every name and number is made up for this project. Plants are called for where they stand, from dry inland to salt coast.
"""

from datetime import date

from wearfit.demo.settings import Design, Fleet, Habits, Line, Resin, Site, WearTruth

OWNER = "Quibbelorn Playthings and Homeware"

SITES = (
    Site("steppe", 9.5, 14.0, 50.0, 13.0, 1.0, 4.0, 14.0, effect=-0.15),
    Site("upland", 11.5, 9.5, 61.0, 9.0, 1.6, 3.0, 12.0, effect=0.12),
    Site("clean-hall", 21.5, 0.8, 42.0, -3.0, 2.0, 6.0, 15.0, conditioned=True, effect=-0.22),
    Site("valley", 13.5, 8.5, 68.0, 6.0, 3.0, 12.0, 12.0, effect=0.26),
    Site("lakeside", 15.5, 9.0, 75.0, 4.0, 4.5, 8.0, 11.0, effect=-0.08),
    Site("delta", 24.0, 5.0, 79.0, -5.0, 24.0, 10.0, 10.0, effect=-0.10),
    Site("salt-quay", 26.5, 2.5, 80.0, -3.0, 240.0, 5.0, 9.0, effect=0.17),
)

RESINS = (
    Resin("abs-white", "ABS", effect=0.02),
    Resin("pp-natural", "PP", effect=-0.12),
    Resin("pp-talc", "PP", 20.0, "T", effect=0.08),
    Resin("pa66-glass", "PA66", 30.0, "GF", effect=-0.05),
    Resin("pvc-soft", "PVC-P", corrosive=True, effect=0.10),
    Resin("pom-black", "POM", corrosive=True, effect=-0.09),
    Resin("pc-clear", "PC", effect=0.15),
    Resin("tpe-grip", "TPE", effect=-0.14),
    Resin("hdpe-blue", "PE-HD", effect=0.05),
)

_PLAYTHINGS = {
    "stacking-cup": ("pp-natural", "hdpe-blue"),
    "pull-wagon-body": ("abs-white",),
    "pull-wagon-wheel": ("pom-black", "pa66-glass"),
    "farm-fence": ("hdpe-blue",),
    "building-block": ("abs-white",),
    "building-plate": ("abs-white",),
    "shape-box-lid": ("abs-white", "pp-natural"),
    "tea-set-pot": ("pp-natural",),
    "tea-set-cup": ("pp-natural",),
    "tractor-body": ("abs-white", "pp-talc"),
    "tractor-axle": ("pom-black",),
    "doll-house-wall": ("pp-talc", "abs-white"),
    "doll-house-window": ("pc-clear",),
    "train-coach": ("abs-white",),
    "track-curve": ("hdpe-blue", "pp-natural"),
    "track-straight": ("hdpe-blue", "pp-natural"),
    "bath-duck": ("pvc-soft",),
    "soft-ball": ("pvc-soft", "tpe-grip"),
    "spinning-top": ("pom-black", "abs-white"),
    "sand-bucket": ("pp-natural", "hdpe-blue"),
    "sand-spade": ("pp-talc",),
    "marble-chute": ("pc-clear", "abs-white"),
    "rattle-ring": ("tpe-grip",),
    "gear-wheel": ("pom-black",),
}

_HOUSEHOLD = {
    "watering-can": ("hdpe-blue",),
    "plant-pot-small": ("pp-natural", "pp-talc"),
    "plant-pot-large": ("pp-talc",),
    "seed-tray": ("pp-natural",),
    "hose-coupling": ("pa66-glass", "pom-black"),
    "hose-reel-hub": ("pa66-glass",),
    "trowel-handle": ("pa66-glass", "pp-talc"),
    "dust-pan": ("pp-talc", "pp-natural"),
    "brush-block": ("pp-talc",),
    "clothes-peg": ("pp-natural",),
    "clothes-hanger": ("abs-white", "pp-talc"),
    "drawer-box": ("pp-natural",),
    "food-box": ("pp-natural",),
    "food-box-lid": ("hdpe-blue", "tpe-grip"),
    "salad-bowl": ("abs-white", "pc-clear"),
    "measuring-jug": ("pc-clear",),
    "colander": ("pp-talc",),
    "soap-dish": ("abs-white",),
    "tooth-mug": ("pc-clear", "abs-white"),
    "small-crate": ("hdpe-blue",),
    "door-wedge": ("pvc-soft", "tpe-grip"),
}


def _designs(line: Line, resins: dict[str, tuple[str, ...]]) -> tuple[Design, ...]:
    return tuple(Design(design_id, line, resin_ids) for design_id, resin_ids in resins.items())


SCENARIO = Fleet(
    sites=SITES,
    resins=RESINS,
    designs=_designs("playthings", _PLAYTHINGS) + _designs("household", _HOUSEHOLD),
    n_tools=120,
    seed=20260648,
    years=10,
    as_of=date(2026, 6, 30),
    unknown_entry_share=0.2,
    unknown_steel_share=0.08,
    coated_share=0.12,
    late_history_share=0.03,
    readings_share=0.12,
    noted_rate=0.03,
    # All but worn: by the luck of its gauge it is over its limit twice before anybody calls it worn.
    also_measured={"T-042": 103},
    truth=WearTruth(
        offset=0.10,
        class_deviation={"101": -0.10, "102": 0.12, "103": 0.05, "104": -0.08, "105": 0.15},
        storage=0.02,
    ),
    habits=Habits(),
)
