"""Back, a second tab and a double click: nothing is written twice, and nothing that was typed or chosen is lost."""

from __future__ import annotations


def test_back_to_the_property_finds_the_filter_its_address_and_its_rows_in_one_mind(browser_page):
    page = browser_page.go("/")
    page.locator("select[name=kind]").select_option("treat")
    page.wait_for_function("() => document.querySelectorAll('#stands tbody tr').length < 8")
    shown = page.locator("#stands tbody tr").count()
    page.locator("#stands a").first.click()
    page.wait_for_url("**/stand/**")
    page.go_back()
    page.wait_for_selector("#stands tbody tr")
    assert page.locator("select[name=kind]").input_value() == "treat" and "kind=treat" in page.url
    assert 0 < page.locator("#stands tbody tr").count() == shown < 8


def test_a_decision_pressed_twice_and_looked_back_at_is_written_once(browser_page):
    page = browser_page.go("/stand/S6/")
    page.locator("summary", has_text="Decisions").click()
    page.get_by_label("Decided by").fill("Forester Six")
    page.locator("form[action$='decide/'] [name=reason]").fill("the owner waits")
    # What was typed is there again after another page was looked at.
    page.get_by_role("navigation", name="This stand").get_by_role("link", name="Tally").click()
    page.wait_for_url("**/tally/**")
    page.go_back()
    page.wait_for_selector("form[action$='decide/']", state="attached")
    assert page.get_by_label("Decided by", exact=True).input_value() == "Forester Six"
    if not page.get_by_label("Decided by").is_visible():
        page.locator("summary", has_text="Decisions").click()
    page.get_by_role("button", name="Write the decision down").dblclick()
    page.wait_for_selector("#decisions >> text=by Forester Six")
    page.go_back()
    page.wait_for_load_state()
    page.go_forward()
    page.wait_for_selector("#decisions p", state="attached")
    assert page.locator("#decisions p", has_text="by Forester Six").count() == 1
    browser_page.go("/stand/S6/")
    assert page.locator("#decisions p", has_text="by Forester Six").count() == 1


def test_two_tabs_write_each_what_was_typed_in_it(browser_page):
    one, other = browser_page.go("/stand/S7/"), browser_page.context.new_page()
    other.goto(browser_page.served.base + "/stand/S7/")
    for page, who in ((one, "First Tab"), (other, "Second Tab")):
        page.wait_for_selector("[data-coming]", state="detached")
        page.locator("summary", has_text="Decisions").click()
        page.get_by_label("Decided by").fill(who)
    for page, who in ((one, "First Tab"), (other, "Second Tab")):
        page.get_by_role("button", name="Write the decision down").click()
        page.wait_for_selector(f"#decisions >> text=by {who}")
    assert other.locator("#decisions p", has_text="Tab").count() == 2
