"""The invented Vesperlick Tract: what stands there and what was done. Nothing here is a real place or person.

Codes: WO white, NRO northern red, BO black, CO chestnut, SO scarlet oak; HI hickory, YP yellow-poplar, RM red maple,
SM sugar maple, AB beech, BG blackgum, SW sourwood, FD dogwood, BW basswood, BE buckeye.
"""

SPECIES = {"WO": 802, "NRO": 833, "BO": 837, "CO": 832, "SO": 806, "HI": 403, "YP": 621, "RM": 316, "SM": 318,
           "AB": 531, "BG": 693, "SW": 711, "FD": 491, "BW": 951, "BE": 332}  # fmt: skip

# id: name, acres, aspect, slope %, position, site index, year of origin, reserve, history
STANDS = {
    "S1": ("Long Bench", 28, 45, 25, "middle", 75, 1929, False, "never cut since the 1920s"),
    "S2": ("Kiln Spur", 34, 90, 20, "middle", 72, 1923, False, "old charcoal hearth; injected 2022, burned 2024"),
    "S3": ("Cellar Hole", 22, 135, 18, "lower", 68, 1917, False, "seed cut in winter 2021-22"),
    "S4": ("Upper Sill", 18, 270, 22, "upper", 62, 1913, False, "seed cut in winter 2017-18; a sale failed in 2023"),
    "S5": ("Buyer's Cut", 15, 0, 30, "lower", 82, 2016, False, "every tree of 16 in. and more was sold by a former owner"),
    "S6": ("Pole Ground", 26, 90, 15, "middle", 70, 1969, False, "old field edge, grew up close"),
    "S7": ("Thin Ridge", 12, 225, 35, "ridge", 54, 1937, False, "dry ridge; scarlet oaks are dying back"),
    "S8": ("Spring Draw", 5, 0, 40, "cove", 90, 1925, True, "cove with a spring and stream"),
}

_S1_O = "WO 24 18.5 3.5; NRO 8 21 4; BO 8 19.5 3.5; CO 4 17.5 3; HI 8 13.5 2.5; YP 4 19 4; RM 6 11.5 1.5"
_S1_M = "RM 110 3.4 1.7; SM 70 2.8 1.4; AB 35 3.2 1.8; BG 25 3.4 1.6; SW 20 4.2 1.6; FD 15 2.0 .6"
_S2_O = "WO 28 18 3.4; BO 10 19.5 3.5; NRO 6 20.5 3.5; SO 4 17.5 3; HI 7 13.5 2.5; YP 3 18.5 3; RM 3 11.5 1.5"
_S2_M = "RM 14 2.6 1.2; SM 6 2.2 1; SW 5 4 1.5; BG 5 3 1.2"
_S2_M22 = "RM 134 3.2 1.5; SM 66 2.8 1.3; SW 45 4 1.5; BG 45 3.2 1.4"
_S3_OLD = "WO 26 18.2 3.2; BO 10 19.5 3.2; NRO 4 20.5 3.5; HI 8 13.5 2.5; YP 4 18 3; RM 8 11.5 1.5"
_S3_NEW = "WO 16 19.5 3; BO 6 20.5 3; NRO 2 22 2.5; HI 2 15 2"
_S4_OLD = "WO 24 17.5 3.2; CO 14 16.5 2.8; BO 8 18.5 3; SO 6 16 3; HI 6 12.5 2; RM 5 11 1.2"
_S4_NEW = "WO 12 20 3; CO 5 18.5 2.5; BO 3 20.5 2.5; HI 2 15 2"

# visit: stand, day, points, upper layer, lower layer (trees/ac, mean dbh, sd)
CRUISES = {
    "S1-2025-cruise": ("S1", "2025-05-20", 12, _S1_O, _S1_M),
    "S2-2022-cruise": ("S2", "2022-06-14", 12, _S2_O, _S2_M22),
    "S2-2024-cruise": ("S2", "2024-06-11", 12, _S2_O, _S2_M),
    "S2-2025-cruise": ("S2", "2025-06-10", 12, _S2_O, _S2_M),
    "S3-2021-cruise": ("S3", "2021-05-18", 10, _S3_OLD, "RM 22 2.2 .9; BG 8 2.4 1"),
    "S3-2022-cruise": ("S3", "2022-05-17", 10, _S3_NEW, "RM 8 2 .8"),
    "S3-2025-cruise": ("S3", "2025-06-03", 10, _S3_NEW, "RM 10 2 .8"),
    "S4-2017-cruise": ("S4", "2017-06-08", 8, _S4_OLD, "RM 14 2.2 .9"),
    "S4-2018-cruise": ("S4", "2018-06-07", 8, _S4_NEW, "RM 6 2 .8"),
    "S4-2025-cruise": ("S4", "2025-06-12", 8, _S4_NEW, "RM 10 2 .8"),
    "S5-2025-cruise": ("S5", "2025-06-17", 6, "RM 18 12.5 2; AB 7 13 3; HI 9 13 2; BG 4 11.5 1.5; WO 2 14 1.2",
                       "YP 260 2.4 .8; RM 220 2.0 .8; SM 60 2.2 1; AB 40 2.6 1.2"),
    "S6-2025-cruise": ("S6", "2025-05-27", 10,
                       "WO 95 9.6 2.2; BO 48 10.6 2.4; SO 30 11 2.2; HI 26 8.8 1.8; RM 22 8.6 1.6; YP 7 12 2",
                       "RM 70 2.6 1.2; BG 30 2.6 1; SW 20 3 1"),
    "S7-2025-cruise": ("S7", "2025-06-19", 6, "SO 20 15 3; CO 28 14 3; BO 12 14.5 3; WO 6 13 2.5; HI 4 10.5 1.5",
                       "RM 30 2.2 .9; SW 25 3 1.2; BG 30 2.5 1"),
    "S8-2013-cruise": ("S8", "2013-07-09", 3, "YP 30 20 4; SM 14 13.5 3; BW 8 15 3; NRO 3 22 3; BE 6 14 3",
                       "SM 90 3 1.6; AB 60 3 1.7"),
}  # fmt: skip
DIEBACK = {"S7": {"SO": 0.40, "BO": 0.20}}  # share of trees with over 30 % of the crown dead; 5 % elsewhere

# visit: stand, day, oak by height class, clumping k, plots, red maple a/b/c/d+, yellow-poplar a/b/c/d+, browsed %,
# fixed number of plots with an oak of 4.5 ft and more (None where chance decides)
COUNTS = {
    "S1-2025-count": ("S1", "2025-08-26", (900, 420, 110, 6, 0, 0), .5, 40, (2600, 700, 150, 260), (40, 0, 0, 0), 24, 0),
    "S2-2022-count": ("S2", "2022-08-23", (60, 380, 95, 4, 0, 0), .5, 40, (2100, 600, 200, 150), (20, 0, 0, 0), 20, None),
    "S2-2024-count": ("S2", "2024-09-04", (100, 1150, 290, 15, 0, 0), .5, 40, (1500, 700, 60, 10), (200, 100, 0, 0), 23, None),
    "S2-2025-count": ("S2", "2025-08-27", (250, 900, 560, 60, 5, 0), .5, 40, (1100, 900, 160, 30), (300, 350, 90, 20), 26, None),
    "S3-2021-count": ("S3", "2021-08-24", (200, 1300, 620, 45, 5, 0), .6, 40, (900, 400, 90, 20), (60, 20, 0, 0), 18, None),
    "S3-2022-count": ("S3", "2022-09-06", (3100, 1250, 700, 70, 8, 0), .6, 40, (1200, 650, 120, 30), (2200, 400, 0, 0), 22, None),
    "S3-2023-count": ("S3", "2023-09-05", (300, 2300, 930, 130, 20, 0), .6, 40, (1000, 800, 200, 80), (900, 1400, 200, 20), 28, None),
    "S3-2024-count": ("S3", "2024-09-03", (150, 1800, 1080, 210, 60, 0), .6, 40, (800, 850, 300, 180), (400, 1100, 700, 250), 31, None),
    "S3-2025-count": ("S3", "2025-09-02", (100, 1400, 1150, 280, 120, 0), .6, 40, (700, 800, 360, 340), (250, 800, 380, 620), 35, 5),
    "S4-2017-count": ("S4", "2017-08-22", (100, 500, 900, 140, 40, 0), 1, 30, (500, 300, 80, 20), (20, 10, 0, 0), 12, None),
    "S4-2018-count": ("S4", "2018-09-04", (1500, 900, 1050, 190, 60, 0), 1, 45, (600, 400, 120, 40), (150, 60, 10, 0), 14, None),
    "S4-2020-count": ("S4", "2020-09-08", (200, 900, 1300, 420, 260, 0), 1.5, 45, (500, 500, 260, 120), (40, 150, 80, 50), 16, None),
    "S4-2022-count": ("S4", "2022-09-07", (100, 500, 950, 540, 640, 0), 2, 45, (400, 450, 300, 240), (30, 90, 90, 120), 17, None),
    "S4-2025-count": ("S4", "2025-09-09", (60, 300, 600, 430, 1080, 70), 2.5, 60, (300, 350, 280, 390), (20, 60, 60, 160), 17, 42),
    "S5-2025-count": ("S5", "2025-08-28", (100, 200, 140, 20, 40, 22), .5, 30, (400, 300, 150, 640), (200, 100, 80, 1050), 10, None),
    "S6-2025-count": ("S6", "2025-08-20", (300, 200, 40, 0, 0, 0), .5, 12, (900, 200, 30, 10), (20, 0, 0, 0), 15, 0),
    "S7-2025-count": ("S7", "2025-06-24", (150, 700, 1150, 520, 960, 40), 2, 45, (300, 250, 120, 260), (0, 0, 0, 0), 15, 29),
}  # fmt: skip
SMALL_PLOTS = {"S4-2020-count": 0.001}  # everything else 1/735 acre

# share of oaks bearing, white group and red group, %
CROPS = {2016: (35, 45), 2017: (72, 30), 2018: (15, 55), 2019: (40, 20), 2020: (8, 35), 2021: (81, 48), 2022: (22, 60),
         2023: (38, 12), 2024: (5, 42), 2025: (68, 50)}  # fmt: skip

# operation: stand, kind, state, first day, last day, acres, stems/ac, BA before, BA after, dead share, cost, income, note
OPERATIONS = {
    "S5-2016-sale": ("S5", "removal cut", "done", "2016-06-06", "2016-06-30", 15, None, None, None, None, None, None,
                     "the former owner's sale; income not known"),
    "S4-2016-injection": ("S4", "injection", "done", "2016-10-10", "2016-10-21", 18, 240, None, None, .92, 2610, None, ""),
    "S4-2017-burn": ("S4", "burn", "done", "2017-03-14", "2017-03-14", 18, None, None, None, None, 1170, None, ""),
    "S4-2017-seed-cut": ("S4", "seed cut", "done", "2017-11-28", "2018-02-10", 18, None, 95.4, 45.7, None, None, 31900,
                         "58 MBF Doyle"),
    "S3-2020-injection": ("S3", "injection", "done", "2020-10-05", "2020-10-16", 22, 255, None, None, .93, 3630, None, ""),
    "S3-2021-burn": ("S3", "burn", "done", "2021-03-09", "2021-03-09", 22, None, None, None, None, 3350, None,
                     "before the crop; line 2,900 ft"),
    "S3-2021-seed-cut": ("S3", "seed cut", "done", "2021-12-06", "2022-02-18", 22, None, 100.5, 55.9, None, None, 38400,
                         "after the bumper crop; 62 MBF"),
    "S2-2022-injection": ("S2", "injection", "done", "2022-10-11", "2022-10-28", 34, 260, None, None, .94, 5610, 3900,
                          "with cost-share"),
    "S4-2023-offer": ("S4", "sale offered", "failed", "2023-02-15", None, 18, None, None, None, None, 0, 0, "no bids"),
    "S2-2024-burn": ("S2", "burn", "done", "2024-03-11", "2024-03-11", 34, None, None, None, None, 4992, None,
                     "line 3,900 ft"),
    "S2-2025-marking": ("S2", "marking", "planned", "2025-10-01", None, 34, None, None, None, None, None, None,
                        "a stem map of 5 acres, 305 trees, is at hand"),
}  # fmt: skip

DECISIONS = {
    "S2-2024-burn": ("S2", "2024-02-20", "Check the acorn crop", "burn in March 2024", True,
                     "the 2023 crop was only fair and the seedlings of 2021 had set rootstocks; the line was already cut",
                     "Forester", "2023.2"),
    "S4-2023-delay": ("S4", "2023-03-01", "Take the overwood off", "wait for a better market", True,
                      "the sale found no bids; the owner is in no hurry", "Forester", "2023.2"),
    "S2-2025-marking": ("S2", "2025-09-25", "Make the seed cut", "mark in October", False, "crop checked 12 September",
                        "Forester", "2025.1"),
}  # fmt: skip

SIGHTINGS = {
    "S3-stiltgrass": ("S3", "2025-09-02", "invasive plant", "Japanese stiltgrass at the landing", 0.2, ""),
    "S5-bittersweet": ("S5", "2025-08-28", "invasive plant", "oriental bittersweet", None, "scattered vines"),
    "S3-mud-2022": ("S3", "2022-01-14", "soft ground", "skid trails", None, "six days of standing down"),
    "S2-mud-2024": ("S2", "2024-01-16", "soft ground", "access road", None, "two weeks"),
    "S2-frost-2024": ("S2", "2024-04-20", "late frost", "white oak flowers", None, ""),
    "S8-stream": ("S8", "2013-07-09", "stream", "spring and stream", None, ""),
    "S8-roost": ("S8", "2013-07-09", "roost tree", "loose-barked snags and hickories", None, ""),
    "S1-roost": ("S1", "2025-05-20", "roost tree", "two shaggy hickories and a snag", None, "asked the agency, no answer yet"),
}  # fmt: skip
