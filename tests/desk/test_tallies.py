"""Walks out, tallies in: every way, order and repeat gives one book; two phones at one plot wait for a person; bad input is said."""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import json
import random
import uuid

import pytest

from conftest import DEMO_DAY
from faces.test_woods_kit import in_node
from memory.test_screen_codes import series
from overwood.desk import arrivals, from_phone, photos, tallies, walks
from overwood.desk.answers import stand_file
from overwood.ground import measures
from overwood.ground.errors import BadRecords, Misuse, NotFound
from overwood.judgement.marking import check as marking_check

LATER = DEMO_DAY + dt.timedelta(days=2)


def walk_for(ask, *kinds, stands=("S3",), days=14):
    return walks.make(list(stands), list(kinds or ("reproduction",)), ask, design=walks.design(ask.rules), days=days)


def visit_of(walk, kind="reproduction"):
    return next(visit for visit in walk["stands"][0]["visits"] if visit["kind"] == kind)["visit"]


class Phone:
    """A phone that taps; numbers run on, identifiers are its own."""

    def __init__(self, walk, device, seed=1):
        self.walk, self.device, self.chance, self.taps, self.last = walk, device, random.Random(f"{device} {seed}"), [], 0

    def tap(self, table, row, act="add", of=None, on=LATER):
        self.last += 1
        number = uuid.UUID(int=self.chance.getrandbits(128), version=4).hex
        one = {"id": number, "seq": self.last, "at": f"{on}T10:00:00-05:00", "act": act, "table": table, "row": row, "of": of}
        self.taps.append(one)
        return number

    def plot(self, visit, point, stems, table="seedlings"):
        self.tap("points", {"visit": visit, "point": point})
        made = []
        for _ in range(stems):
            row = {
                "visit": visit,
                "point": point,
                "line": f"{self.device}-{self.last + 1}",
                "species": "802",
                "height_class": "1-3",
                "stems": "1",
            }
            made.append(self.tap(table, row))
        return made

    def tally(self, taps=None, **changed):
        records = self.taps if taps is None else taps
        text = json.dumps(records, separators=(",", ":"), ensure_ascii=False)
        said = {
            "overwood": "tally", "version": 1, "walk": self.walk["walk"], "seal": self.walk["seal"], "device": self.device, "last": self.last,
            "digest": hashlib.sha256(text.encode()).hexdigest(), "records": records,
        }  # fmt: skip
        return json.dumps(said | changed, ensure_ascii=False).encode()


def seedlings(visit, stand="S3"):
    return sorted((row.id, row.point, row.line, row.stems) for row in stand_file(stand).seedlings if row.visit == visit)


def test_a_day_of_taps_becomes_a_visit_with_its_rings_and_a_repeat_changes_nothing(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    phone.plot(visit, "1", 3)
    phone.plot(visit, "2", 0)
    assert tallies.take(phone.tally()).new == 5
    assert tallies.take(gzip.compress(phone.tally())).new == 0

    looked = tallies.standing(walk["walk"], today=LATER)
    assert looked.report.review.visits[0].after.points == 2
    assert seedlings(visit) == []

    tallies.write(walk["walk"], today=LATER)
    tallies.write(walk["walk"], today=LATER)
    file = stand_file("S3")
    assert len(seedlings(visit)) == 3
    assert sorted(point.point for point in file.points if point.visit == visit) == ["1", "2"]
    stored = next(row for row in file.visits if row.visit == visit)
    assert (stored.kind, stored.visited_on) == ("reproduction", LATER)
    before = next(row for row in file.rings if row.visit == visit)
    assert before.plot_area_ac == pytest.approx(1 / 735, rel=1e-3)


def by_request(content):
    tallies.take(content)


def by_file(content):
    from_phone.take([("a.tally.json", content), ("again.tally.json", content)])


def by_codes(content):
    """Read by a scanner in any order, one code twice."""
    texts = series(gzip.compress(content), size=300)
    from_phone.take([("scanner", "\n".join([texts[-1], *reversed(texts)]).encode())])


WAYS = (by_request, by_file, by_codes)


@pytest.mark.slow
def test_pages_out_of_order_repeats_lost_replies_files_and_codes_give_one_book_record_by_record(demo_book, ask):
    walk = walk_for(ask)
    visit = visit_of(walk)
    phones = [Phone(walk, "aaa"), Phone(walk, "bbb")]
    for place, phone in enumerate(phones):
        for point in range(1 + 10 * place, 11 + 10 * place):
            gone = phone.plot(visit, str(point), 4)
            phone.tap("", {}, act="take back", of=gone[0])
    pages = [(phone, phone.taps[start : start + 7]) for phone in phones for start in range(0, len(phone.taps), 7)]
    chance = random.Random(3)
    # A page whose reply is lost is sent again: three in five are.
    arriving = pages + [page for page in pages if chance.random() < 0.6]
    chance.shuffle(arriving)
    for number, (phone, page) in enumerate(arriving):
        WAYS[number % 3](phone.tally(page))
        if number % 9 == 0:
            tallies.write(walk["walk"], today=LATER)
    for phone, way in zip(phones, (by_codes, by_file), strict=True):
        way(phone.tally())
    tallies.write(walk["walk"], today=LATER)

    wanted = sorted(
        (one["id"], one["row"]["point"], one["row"]["line"], 1)
        for phone in phones
        for one in phone.taps
        if one["table"] == "seedlings" and one["id"] not in {other["of"] for other in phone.taps}
    )
    assert len(wanted) == 60
    assert seedlings(visit) == wanted
    assert len([row for row in stand_file("S3").points if row.visit == visit]) == 20


def test_two_phones_at_one_plot_are_shown_and_neither_counts_until_a_person_settles(demo_book, ask):
    walk = walk_for(ask)
    visit, one, two = visit_of(walk), Phone(walk, "aaa"), Phone(walk, "bbb")
    one.plot(visit, "1", 2)
    one.plot(visit, "2", 1)
    two.plot(visit, "1", 5)
    for phone in (one, two):
        tallies.take(phone.tally())
    looked = tallies.write(walk["walk"], today=LATER)
    assert [(contest.mark, contest.sides["aaa"]["seedlings"], contest.sides["bbb"]["seedlings"]) for contest in looked.contests] == [
        (f"{visit} 1", 2, 5)
    ]
    assert [row[1] for row in seedlings(visit)] == ["2"]
    assert [f"two phones took {visit} 1;" in line for line in tallies.waiting_at("S3")] == [True]
    assert tallies.waiting_at("S1") == ()

    tallies.settle(walk["walk"], f"{visit} 1", "bbb")
    assert tallies.write(walk["walk"], today=LATER).contests == ()
    assert [row[1] for row in seedlings(visit)].count("1") == 5
    assert tallies.waiting_at("S3") == ()


def test_a_second_phone_that_arrives_after_the_first_was_written_can_still_win(demo_book, ask):
    walk = walk_for(ask)
    visit, one, two = visit_of(walk), Phone(walk, "aaa"), Phone(walk, "bbb")
    one.plot(visit, "1", 2)
    tallies.take(one.tally())
    tallies.write(walk["walk"], today=LATER)
    two.plot(visit, "1", 5)
    tallies.take(two.tally())
    assert tallies.write(walk["walk"], today=LATER).contests[0].mark == f"{visit} 1"
    assert len(seedlings(visit)) == 2
    tallies.settle(walk["walk"], f"{visit} 1", "bbb")
    tallies.write(walk["walk"], today=LATER)
    assert len(seedlings(visit)) == 5
    assert stand_file("S3").conflicts == ()


def test_two_trees_that_a_phone_numbered_alike_are_said_before_anything_is_written(demo_book, ask):
    walk = walk_for(ask, "cruise")
    visit, phone = visit_of(walk, "cruise"), Phone(walk, "aaa")
    phone.tap("points", {"visit": visit, "point": "1"})
    for species in ("802", "833"):
        phone.tap("trees", {"visit": visit, "point": "1", "tree": "1", "species": species, "dbh_in": "14", "status": "live"})
    tallies.take(phone.tally())
    assert [
        doubt for doubt in tallies.standing(walk["walk"], today=LATER).doubts if f"trees numbered alike on the phone: {visit} 1 1." in doubt
    ]
    tallies.write(walk["walk"], today=LATER)
    assert stand_file("S3").conflicts == (f"trees {visit} 1 1",)


class Clock:
    """Identifiers that grow with time, as a phone's do."""

    def __init__(self):
        self.now = 0

    def getrandbits(self, bits):
        self.now += 1
        return self.now << 90


def test_the_basal_areas_that_a_phone_judges_are_those_of_the_desk_point_by_point(demo_book, ask):
    walk = walk_for(ask, "marking check")
    visit, phone, chance = walk["stands"][0]["visits"][0], Phone(walk, "aaa"), random.Random(4)
    phone.chance = Clock()
    for point in chance.sample(range(1, 25), 13):
        place = {"visit": visit["visit"], "point": str(point)}
        phone.tap("points", place | ({"in_stand": "no"} if point % 7 == 0 else {}))
        for tree in range(chance.randrange(9)):
            table, status = chance.choice([("trees", "live")] * 4 + [("trees", "dead"), ("taken", "live")])
            dbh = f"{chance.uniform(0.5, 30):.1f}"
            phone.tap(
                table, place | {"tree": str(tree), "species": "802", "dbh_in": dbh} | ({"status": status} if table == "trees" else {})
            )
    # A note kept later takes the point's row back and gives it anew: the point keeps its place among the looks.
    opened = [one for one in phone.taps if one["table"] == "points"]
    for old in opened[:3]:
        phone.tap("", {}, act="take back", of=old["id"])
        phone.tap("points", old["row"] | {"note": "ferns"})
        phone.taps[-1]["id"] = old["id"][:-4] + "beef"
    tallies.take(phone.tally())
    assert not tallies.write(walk["walk"], today=LATER).report.faults
    low, high = visit["check"]["low"], visit["check"]["high"]
    desk = marking_check.check(stand_file("S3"), ask.rules, ba_low_ft2_ac=low, ba_high_ft2_ac=high)
    script = "const f = await import('./fold.js'); const c = await import('./check.js'); const a = f.pointBasalAreas(f.standing(given.taps), given.visit, null);"
    script += "const l = c.judge(a, given.visit.check); console.log(JSON.stringify([a, l.verdict, l.n]));"
    areas, verdict, n = in_node(script, {"taps": phone.taps, "visit": visit})
    first_come = [row["row"]["point"] for row in opened if row["row"].get("in_stand") != "no"]
    assert [row.point for row in stand_file("S3").points if row.visit == visit["visit"] and row.in_stand is not False] == first_come
    assert areas == pytest.approx(desk.points_ba_ft2_ac)
    assert (verdict, n) == (desk.looked.verdict, desk.looked.n)


def test_a_tap_taken_back_after_it_was_written_goes_aside(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    made = phone.plot(visit, "1", 3)
    tallies.take(phone.tally())
    tallies.write(walk["walk"], today=LATER)
    phone.tap("", {}, act="take back", of=made[1])
    tallies.take(phone.tally())
    assert tallies.standing(walk["walk"], today=LATER).to_set_aside == {"seedlings": [made[1]]}
    assert len(seedlings(visit)) == 3
    tallies.write(walk["walk"], today=LATER)
    assert [row[0] for row in seedlings(visit)] == sorted([made[0], made[2]])


def test_a_faulty_tap_keeps_everything_out_until_it_is_left_out_and_stays_among_the_taps(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    phone.plot(visit, "1", 1)
    phone.tap("seedlings", {"visit": visit, "point": "1", "line": "x", "species": "802", "height_class": "tall", "stems": "1"})
    tallies.take(phone.tally())
    assert tallies.write(walk["walk"], today=LATER).report.faults
    assert seedlings(visit) == []
    tallies.write(walk["walk"], today=LATER, leave_out_faulty=True)
    assert len(seedlings(visit)) == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"walk": uuid.UUID(int=5).hex}, "walk of another book"),
        ({"seal": "0" * 64}, "seal of the walk is not right"),
        ({"digest": "0" * 64}, "damaged"),
        ({"overwood": "walk"}, "no tally"),
        ({"version": 9}, "another version"),
        ({"device": "../x"}, "no tally"),
    ],
)
def test_a_tally_that_is_not_right_is_refused_in_words(demo_book, ask, change, words):
    walk = walk_for(ask)
    phone = Phone(walk, "aaa")
    phone.plot(visit_of(walk), "1", 1)
    with pytest.raises(BadRecords, match=words):
        tallies.take(phone.tally(**change))
    assert tallies.take(phone.tally()).new == 2


def test_a_walk_brought_up_and_a_tally_at_the_door_of_tables_say_what_they_are(demo_book, ask, tmp_path):
    from overwood.memory.exchange import reading

    walk = walk_for(ask)
    with pytest.raises(BadRecords, match="this is a walk, which goes down to the phone"):
        tallies.take(walks.as_file(walk).encode())
    for content in (Phone(walk, "aaa").tally(), walks.as_file(walk).encode()):
        with pytest.raises(BadRecords) as refused:
            reading.read_file("x.tally.json", content.replace(b'"overwood": ', b'"overwood":'))
        assert refused.value.problems[0].remedy == "Bring it in with `overwood woods take`."


def test_every_cut_of_a_file_and_every_slipped_byte_is_refused(demo_book, ask):
    walk = walk_for(ask)
    phone = Phone(walk, "aaa")
    phone.plot(visit_of(walk), "1", 2)
    whole, packed = phone.tally(), gzip.compress(phone.tally())
    chance = random.Random(5)
    for content in [whole[:size] for size in range(0, len(whole), 37)] + [packed[:size] for size in range(0, len(packed), 11)]:
        with pytest.raises(BadRecords):
            tallies.take(content)
    start = whole.index(b'"records"')
    for _ in range(60):
        place = chance.randrange(start, len(whole))
        slipped = whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :]
        with pytest.raises(BadRecords):
            tallies.take(slipped)


def test_a_phone_writes_into_no_visit_that_is_not_of_its_walk(demo_book, ask):
    walk = walk_for(ask)
    old = stand_file("S3").latest("reproduction").visit
    before, phone = seedlings(old), Phone(walk, "aaa")
    phone.plot(old, "1", 3)
    phone.tap("sightings", {"sighting": "x", "stand": "S1", "seen_on": str(LATER), "kind": "deer"})
    assert tallies.take(phone.tally()).new == 5
    done = tallies.write(walk["walk"], today=LATER)
    assert any("5 taps name a visit or stand" in doubt for doubt in done.doubts)
    assert seedlings(old) == before
    assert not any(row.sighting == "x" for row in stand_file("S1").sightings)


def test_a_recalled_walk_keeps_its_taps_and_waits(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    phone.plot(visit, "1", 1)
    walks.recall(walk["walk"])
    assert "recalled" in " ".join(tallies.take(phone.tally()).doubts)
    with pytest.raises(Misuse, match="recalled"):
        tallies.write(walk["walk"], today=LATER)
    walks.recall(walk["walk"], back=True)
    tallies.write(walk["walk"], today=LATER)
    assert len(seedlings(visit)) == 1


def test_late_taps_wrong_clocks_and_numbers_that_did_not_arrive_are_said(demo_book, ask):
    walk = walk_for(ask, days=1)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    phone.plot(visit, "1", 3)
    now = dt.datetime(2025, 10, 17, 15, tzinfo=dt.UTC)
    taken = tallies.take(phone.tally(phone.taps[:2], now="2025-10-18T15:00:00+00:00"), now=now)
    assert any("24 h off" in doubt for doubt in taken.doubts)
    assert any("after the walk expired" in doubt for doubt in taken.doubts)
    assert any("2 of them have not arrived" in doubt for doubt in tallies.standing(walk["walk"], today=LATER).doubts)


def test_a_day_that_is_still_to_come_or_before_the_walk_is_never_stored(demo_book, ask):
    for on, stored in ((LATER + dt.timedelta(days=3), LATER), (DEMO_DAY - dt.timedelta(days=9), DEMO_DAY)):
        walk = walk_for(ask)
        visit, phone = visit_of(walk), Phone(walk, "aaa", seed=on)
        phone.tap("points", {"visit": visit, "point": "1"}, on=on)
        tallies.take(phone.tally())
        done = tallies.write(walk["walk"], today=LATER)
        assert any("the phone dated it" in doubt for doubt in done.doubts)
        assert next(row for row in stand_file("S3").visits if row.visit == visit).visited_on == stored


def test_a_correction_made_at_the_desk_outlives_the_same_tally_sent_again(demo_book, ask):
    from overwood.desk import entering

    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    made = phone.plot(visit, "1", 1)
    tallies.take(phone.tally())
    tallies.write(walk["walk"], today=LATER)
    row = phone.taps[-1]["row"] | {"stems": "9", "record_replaces": made[0]}
    assert not entering.enter({"seedlings": [row]}, today=LATER, name="desk", replace=entering.ALL).faults
    tallies.take(phone.tally())
    tallies.write(walk["walk"], today=LATER)
    assert [row[3] for row in seedlings(visit)] == [9]


def test_a_walk_carries_the_old_plots_the_species_of_the_stand_and_what_stood_there(demo_book, ask):
    walk = walk_for(ask, "reproduction", "cruise", "acorn", "marking check")
    stand = walk["stands"][0]
    file = stand_file("S3").as_of(DEMO_DAY)
    old = file.latest("reproduction").visit
    visit = stand["visits"][0]
    assert [point["point"] for point in visit["points"]] == [row.point for row in file.points if row.visit == old]
    assert sum(sum(found.values()) for found in visit["before"].values()) == sum(row.stems for row in file.seedlings if row.visit == old)
    assert stand["outline"] and stand["species"]
    assert len(stand["visits"][2]["acorn_trees"]) == sum(row.visit == file.latest("acorn").visit for row in file.acorn_trees)
    assert walk["expires_on"] == "2025-10-29"
    kept = walks.walk_of(walk["walk"])
    assert walks.seal(kept.content, kept.key) == walk["seal"]


def test_a_walk_carries_each_old_tree_stem_and_reading_and_no_stems_where_none_were_looked_for(demo_book, ask):
    stand = walk_for(ask, "reproduction", "cruise", "light", "acorn")["stands"][0]
    file = stand_file("S3").as_of(DEMO_DAY)
    young, cruise, light, acorn = stand["visits"]

    def rows(visit, *names):
        return sorted((point, *(row.get(name, "") for name in names)) for point, found in visit["old"].items() for row in found)

    def held(table, kind, *names):
        of = file.latest(kind).visit
        return sorted((row.point, *(f"{getattr(row, name):g}" if name != "height_class" else row.height_class for name in names))
                      for row in getattr(file, table) if row.visit == of)  # fmt: skip

    assert rows(young, "species", "height_class", "stems") == held("seedlings", "reproduction", "species", "height_class", "stems")
    assert rows(cruise, "species", "dbh_in") == held("trees", "cruise", "species", "dbh_in")
    assert rows(light, "light_pct") == held("light_readings", "light", "light_pct") != []
    assert light["before"] == {}
    bore = [row.bearing for row in file.acorn_trees if row.visit == file.latest("acorn").visit]
    assert [one["bearing"] for one in acorn["acorn_trees"]] == [{True: "yes", False: "no", None: ""}[one] for one in bore]
    assert any(bore)


def test_a_walk_of_a_metric_office_says_how_and_stores_us_units(demo_book, ask):
    plain = walk_for(ask, "marking check")
    with measures.in_units(measures.METRIC):
        metric = walk_for(ask, "marking check")
    assert plain["units"] == {}
    assert {unit: turned["word"] for unit, turned in metric["units"].items()} == {
        "in": "cm",
        "ft": "m",
        "ft2/ac": "m²/ha",
        "acre": "hectare",
    }
    # Exact by definition: an inch is 2.54 cm, a foot 0.3048 m (NIST SP 811, 2008).
    assert metric["units"]["in"]["factor"] == pytest.approx(2.54, rel=1e-12)
    assert metric["units"]["ft"]["factor"] == pytest.approx(0.3048, rel=1e-12)
    assert metric["stands"][0]["visits"][0]["check"] == plain["stands"][0]["visits"][0]["check"]
    assert metric["stands"][0]["visits"][0]["rings"] == plain["stands"][0]["visits"][0]["rings"]


def test_an_old_plot_keeps_its_fence_group_part_and_place_in_the_next_visit(demo_book, ask):
    from overwood.desk import entering

    old = stand_file("S3").as_of(DEMO_DAY).latest("reproduction").visit
    for_good = {"fenced": "yes", "cluster": "c1", "longitude_deg": "-49.95", "latitude_deg": "37.5"}
    row = {"visit": old, "point": "1", **for_good, "plot_area_ac": "0.01", "note": "wet"}
    assert not entering.enter({"points": [row]}, today=LATER, name="desk", replace=entering.ALL).faults
    point = next(one for one in walk_for(ask)["stands"][0]["visits"][0]["points"] if one["point"] == "1")
    assert point["row"] == for_good


JPEG = b"\xff\xd8\xff" + b"acorns" + b"\xff\xd9"


def picture(visit, number=1, jpeg=JPEG, **more):
    import base64

    one = {"id": uuid.UUID(int=number).hex, "at": f"{LATER}T10:00:00-05:00", "visit": visit, "point": "1"}
    return one | {"jpeg": base64.b64encode(jpeg).decode()} | more


def test_a_photo_is_kept_once_and_shown_with_its_walk_and_plot(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    sent = phone.tally([picture(visit), picture(visit, 2)], overwood="photos")
    first, again = tallies.take(sent), tallies.take(sent)
    assert (first.new, again.new, len(again.held), again.what) == (2, 0, 2, "photos")
    assert [(one.visit, one.point, one.device) for one in photos.listed(walk["walk"])] == [(visit, "1", "aaa")] * 2
    assert photos.picture(walk["walk"], uuid.UUID(int=1).hex) == JPEG
    for number in (uuid.UUID(int=3).hex, "no number"):
        with pytest.raises(NotFound):
            photos.picture(walk["walk"], number)
    assert tallies.standing(walk["walk"], today=LATER).doubts == ()


def test_photos_that_a_phone_holds_and_never_sent_are_said(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    phone.plot(visit, "1", 1)
    tallies.take(phone.tally(pictures=3))
    tallies.take(phone.tally([picture(visit)], overwood="photos"))
    assert tallies.standing(walk["walk"], today=LATER).doubts == ("Phone aaa holds 3 photos; 2 of them have not arrived.",)
    tallies.take(phone.tally([picture(visit, 2), picture(visit, 3)], overwood="photos"))
    assert tallies.standing(walk["walk"], today=LATER).doubts == ()


def test_a_walk_written_anew_is_a_receipt_for_phones_that_hand_over_files(demo_book, ask):
    walk = walk_for(ask)
    visit, phone, other = visit_of(walk), Phone(walk, "aaa"), Phone(walk, "bbb")
    phone.plot(visit, "1", 5)
    other.plot(visit, "2", 1)
    tallies.take(phone.tally(phone.taps[:2] + phone.taps[4:]))
    tallies.take(other.tally())
    tallies.take(phone.tally([picture(visit)], overwood="photos"))
    text = walks.as_file(walk, arrivals.receipt(uuid.UUID(walk["walk"])))
    assert json.loads(text)["held"] == {"taps": {"aaa": [[1, 2], [5, 6]], "bbb": [[1, 2]]}, "photos": [uuid.UUID(int=1).hex]}
    body, digest = text.rsplit(', "digest": "', 1)
    assert hashlib.sha256(body.encode()).hexdigest() == digest.removesuffix('"}')


@pytest.mark.slow
def test_a_stand_shows_the_photos_of_its_plots_and_of_no_other_stand_s(demo_book, ask):
    walk = walk_for(ask, stands=("S3", "S1"))
    (ours, theirs), phone = (stand["visits"][0]["visit"] for stand in walk["stands"]), Phone(walk, "aaa")
    tallies.take(phone.tally([picture(ours), picture(theirs, 2)], overwood="photos"))
    for _ in range(2):
        shown = {name: [(one.photo, one.walk) for one in photos.of_stand(stand_file(name))] for name in ("S3", "S1", "S2")}
        assert shown == {"S3": [(uuid.UUID(int=1).hex, walk["walk"])], "S1": [(uuid.UUID(int=2).hex, walk["walk"])], "S2": []}
        phone.plot(ours, "1", 1)
        tallies.take(phone.tally())
        tallies.write(walk["walk"], today=LATER)


def test_photos_are_written_into_a_folder_by_visit_and_plot(demo_book, ask, tmp_path):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    tallies.take(phone.tally([picture(visit), picture(visit, 2, point="../x")], overwood="photos"))
    photos.write(walk["walk"], tmp_path / "out")
    written = sorted((tmp_path / "out").iterdir())
    assert [path.name for path in written] == [f"{visit}_-x_{2:032x}.jpg", f"{visit}_1_{1:032x}.jpg"]
    assert {path.read_bytes() for path in written} == {JPEG}


def test_a_photo_that_is_not_right_is_refused_in_words_and_none_is_kept(demo_book, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    for bad, words in (
        ({"jpeg": "%%%"}, "photo 2 is damaged"), ({"at": "today"}, "photo 2 is damaged"), ({"jpeg": "aGVsbG8="}, "no whole JPEG"),
        ({"visit": "another"}, "not in this walk"),
    ):  # fmt: skip
        with pytest.raises(BadRecords, match=words):
            tallies.take(phone.tally([picture(visit), picture(visit, 2) | bad], overwood="photos"))
    with pytest.raises(BadRecords, match="larger"):
        tallies.take(phone.tally([picture(visit, jpeg=JPEG[:-2] + bytes(3 * 2**20) + JPEG[-2:])], overwood="photos"))
    assert photos.listed(walk["walk"]) == []


def test_a_walk_of_no_stand_an_unknown_kind_or_a_year_is_refused(demo_book, ask):
    for stands, kinds, days in (([], ["cruise"], 3), (["S3"], ["dance"], 3), (["S3"], ["cruise"], 365)):
        with pytest.raises(Misuse):
            walks.make(stands, kinds, ask, design=walks.design(ask.rules), days=days)
    with pytest.raises(NotFound):
        walks.recall("abc")
