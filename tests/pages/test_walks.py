"""The page of a walk: two phones at one plot are shown side by side, and neither is lost."""

from __future__ import annotations

from desk.test_tallies import Phone, picture, seedlings, visit_of, walk_for
from overwood.desk import tallies
from overwood.ground.errors import Misuse


def test_two_phones_at_one_plot_are_shown_settled_and_neither_is_lost(owner, ask):
    walk = walk_for(ask)
    visit, first, second = visit_of(walk), Phone(walk, "aaa"), Phone(walk, "bbb")
    first.plot(visit, "1", 3)
    second.plot(visit, "1", 5)
    second.plot(visit, "2", 2)
    for phone in (first, second):
        tallies.take(phone.tally())
    address = f"/walks/{walk['walk']}/"
    shown = owner.get(address).content.decode()
    assert f"Two phones took {visit} 1." in shown
    assert "Phone aaa: 1 points, 3 seedlings" in shown and "Phone bbb: 1 points, 5 seedlings" in shown
    owner.post(address, {"act": "write"})
    assert {point for _, point, _, _ in seedlings(visit)} == {"2"}, "neither counts before a person says whose stands"
    owner.post(address, {"act": "settle", "mark": f"{visit} 1", "phone": "bbb"})
    owner.post(address, {"act": "write"})
    assert sum(point == "1" for _, point, _, _ in seedlings(visit)) == 5
    # The other side stays among the taps, and can still be said to stand.
    owner.post(address, {"act": "write"})
    assert "What the 13 taps come to" in owner.get(address).content.decode()


def test_the_page_says_which_photos_a_phone_still_holds(owner, ask):
    walk = walk_for(ask)
    visit, phone = visit_of(walk), Phone(walk, "aaa")
    phone.plot(visit, "1", 1)
    tallies.take(phone.tally(pictures=2))
    tallies.take(phone.tally([picture(visit)], overwood="photos"))
    assert "Phone aaa holds 2 photos; 1 of them have not arrived." in owner.get(f"/walks/{walk['walk']}/").content.decode()
    stand = owner.get("/stand/S3/").content.decode()
    assert stand.count(f"/walks/{walk['walk']}/photos/") == 2, "a picture and the link about it"


def test_a_walk_made_where_the_page_says_metric_makes_the_phone_say_metric(owner, ask):
    from overwood.desk import walks
    from overwood.faces.pages.guard import UNITS
    from overwood.ground import measures

    for system, word in ((measures.US, None), (measures.METRIC, "cm")):
        owner.cookies[UNITS] = system
        made = owner.post("/walks/", {"act": "make", "stand": "S3", "kind": "cruise", "days": "3", "points": "10", "baf": "10"})
        assert made.status_code == 302
        content = walks.walk_of(made["Location"].split("/")[2]).content
        assert content["units"].get("in", {}).get("word") == word
        assert {ring.get("low_dbh_in") for ring in content["stands"][0]["visits"][0]["rings"]} == {"5", "1"}


def test_a_last_letter_that_is_a_space_outlives_the_field_of_the_scanner(owner, ask, monkeypatch):
    """A space is a letter of these codes (RFC 9285, table 1); a field that is trimmed loses the last letter of a series."""
    given = []

    def refused(files):
        given.extend(files)
        raise Misuse("seen")

    monkeypatch.setattr("overwood.desk.from_phone.take", refused)
    owner.post("/walks/", {"act": "take", "scanned": "WOODS1/AB/1/1/9 \r\n"})
    assert given == [("scanner", b"WOODS1/AB/1/1/9 ")]
