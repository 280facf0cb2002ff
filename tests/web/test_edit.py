"""The pages to edit with: by HTTP, and in a browser by the keyboard alone."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest
import requests

from advisor.checklist import revision
from advisor.checklist.toml import edit
from advisor.errors import ChecklistError
from tests.web.conftest import Server
from tests.web.test_browser import nothing_found, opened

RULES = """\
# The operator's own, invented: comments are kept.
[checklist]
name = "Invented Air"
revision = "3"

[[advice]]   # the first rule
id = "strong-wind"
kind = "caution"
when = "gust_kt >= 30"   # was 28 once
during = ["walk_round", "doors_open"]
weight = "should"
text = "Hold on to everything."
source = "invented-default"
classes = ["single-aisle-jet"]

# between two rules
[[advice]]
id = "own-rule"
kind = "gear"
when = "snow or fog"
during = "walk_round"
weight = "must"
text = "Take a shovel."
source = "invented-default"
"""
HISTORY = "\n".join(
    f"METAR ZZZA 10{hour:02d}20Z 240{mean:02d}{f'G{mean + 12:02d}' if mean > 12 else ''}KT 9999 FEW040 05/01 Q1010"
    for hour, mean in ((0, 6), (1, 10), (2, 15), (3, 20), (4, 24))
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "own"
    made.mkdir()
    (made / "rules.toml").write_text(RULES, encoding="utf-8")
    return made


@pytest.fixture
def site(folder: Path):
    made = Server(edit=folder)
    yield made
    made.stop()


class Page:
    """A form of ours, by HTTP."""

    def __init__(self, site: Server, rule: str = "strong-wind") -> None:
        self.session = requests.Session()
        self.url = f"{site.url}/edit/rules.toml/{rule}"
        self.text = self.session.get(self.url).text

    def hidden(self, name: str) -> str:
        found = re.search(rf'name="{name}" value="([^"]*)"', self.text)
        assert found is not None
        return found[1]

    def send(self, do: str, **fields: object) -> requests.Response:
        given = {
            "when": "gust_kt >= 30",
            "during": ["walk_round", "doors_open"],
            "weight": "should",
            "text": "Hold on to everything.",
            "token": self.hidden("token"),
            "digest": self.hidden("digest"),
            "do": do,
        } | fields
        return self.session.post(self.url, data=given, allow_redirects=False)


def test_the_rules_of_the_folder_are_listed_in_words(site, folder):
    page = requests.get(f"{site.url}/edit").text
    assert "line 6" in page and "line 17" in page
    assert "own-rule" in page and "snow" in page and "gust 30 kt or more" in page and "rules.toml" in page


def test_saving_changes_one_value_and_keeps_every_other_letter(site, folder):
    answer = Page(site).send("save", when="gust_kt >= 32")
    assert answer.status_code == 303
    text = (folder / "rules.toml").read_text(encoding="utf-8")
    assert text == RULES.replace("gust_kt >= 30", "gust_kt >= 32")
    assert revision.load(folder).rule("strong-wind").when == "gust_kt >= 32"


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"when": "gusts >= 32"}, "unknown quantity"),
        ({"when": ""}, "no condition"),
        ({"text": ""}, "text"),
        ({"during": []}, "during"),
        ({"lead_min": "ten"}, "no number of minutes"),
        ({"must_when": "gust_kt >"}, "not a condition"),
    ],
)
def test_what_the_check_refuses_is_said_and_not_saved(site, folder, fields, said):
    answer = Page(site).send("save", **fields)
    assert answer.status_code == 422 and said in answer.text
    assert str(folder.parent) not in answer.text.split("<form")[0] or "advisor-" not in answer.text
    assert (folder / "rules.toml").read_text(encoding="utf-8") == RULES


def test_a_file_that_changed_meanwhile_is_never_written_over(site, folder):
    page = Page(site)
    elsewhere = RULES.replace("Take a shovel.", "Take two shovels.")
    (folder / "rules.toml").write_text(elsewhere, encoding="utf-8")
    answer = page.send("save", when="gust_kt >= 32")
    assert answer.status_code == 409 and "changed since it was opened" in answer.text
    # what was typed is still there to be copied
    assert "gust_kt &gt;= 32" in answer.text
    assert (folder / "rules.toml").read_text(encoding="utf-8") == elsewhere


def test_a_form_from_elsewhere_is_refused(site, folder):
    answer = requests.post(f"{site.url}/edit/rules.toml/strong-wind", data={"do": "save", "when": "gust_kt >= 1"})
    assert answer.status_code == 403
    page = Page(site)
    answer = page.session.post(page.url, data={"do": "save", "token": "x"}, headers={"Origin": "http://elsewhere"})
    assert answer.status_code == 403
    assert (folder / "rules.toml").read_text(encoding="utf-8") == RULES


@pytest.mark.parametrize("headers", [{"Host": "elsewhere.example"}, {"X-Forwarded-For": "203.0.113.9"}])
def test_only_this_machine_opens_the_pages(site, headers):
    assert requests.get(f"{site.url}/edit", headers=headers).status_code == 403


@pytest.mark.parametrize("path", ["../rules.toml/own-rule", "feeds.toml/own-rule", "rules.toml/no-rule", "x.toml/y"])
def test_what_is_not_in_the_folder_is_not_found(site, path):
    assert requests.get(f"{site.url}/edit/{path}").status_code == 404


def test_there_are_no_such_pages_without_the_option(running):
    assert requests.get(f"{running.url}/edit").status_code == 404


@pytest.mark.parametrize(("more", "said"), [(["--host", "0.0.0.0"], "for this machine alone"), ([], "no such folder")])
def test_the_command_edits_on_this_machine_alone_and_a_folder_that_is_there(folder, more, said):
    named = str(folder) if more else str(folder / "none")
    command = [sys.executable, "-m", "advisor", "serve", "--port", "0", "--edit", named, *more]
    made = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert made.returncode == 2 and said in made.stderr and "Traceback" not in made.stderr


def test_a_draft_is_tried_on_reports_beside_what_is_saved(site, folder):
    page = Page(site).send("try", when="gust_kt >= 25", reports=HISTORY, place="61.4,9.8").text
    rows = re.findall(r"<tr(?: class=\"differs\")?><th scope=\"row\">.*?</tr>", page, re.S)
    said = [re.sub(r"<[^>]+>", " ", row).split() for row in rows]
    # the newest first: gusts of 36, 32, 27; then means of 10 and 6, whose gust nobody reported
    assert len(rows) == 5
    assert [("differs" in row) for row in rows][2] is True
    assert "fires," in said[0] and "does" in said[4]
    assert (folder / "rules.toml").read_text(encoding="utf-8") == RULES


def test_a_draft_says_what_it_makes_less_and_what_the_check_notes(site):
    page = Page(site).send("try", when="gust_kt < 20 and wind_kt > 30", reports="").text
    noted = page.split('class="noted"')[1].split("</div>")[0]
    assert "Less than what is shipped" in noted and "wind_kt &gt;= 20 or gust_kt &gt;= 28, now gust_kt &lt; 20" in noted
    assert "rules.toml:" in noted and "advisor-" not in noted


def test_a_report_that_says_too_little_is_not_known(site):
    page = Page(site).send("try", reports="METAR ZZZA 100420Z /////KT 9999 FEW040 05/01 Q1010", place="61.4,9.8").text
    assert "not known" in page.split("<tbody>")[1]


def test_a_comparison_is_added_to_the_condition(site):
    page = Page(site).send("add", term="air_temperature_c", sign="<=", value="3", join="and").text
    assert "(gust_kt &gt;= 30) and air_temperature_c &lt;= 3" in page
    assert "gust 30 kt or more and air temperature 3 °C or less" in page


def test_thirty_one_reports_count_and_no_more(site):
    many = "\n".join(
        f"METAR ZZZA 09{h:02d}{m:02d}Z 24010KT 9999 FEW040 05/01 Q1010" for h in range(24) for m in (20, 50)
    )
    page = Page(site).send("try", reports=many, place="61.4,9.8").text
    assert len(re.findall(r'<th scope="row">', page)) == 31


def test_two_who_save_at_once_do_not_both_win(folder):
    found = edit.opened(folder, "rules.toml")
    done, refused = [], []

    def write(limit: int) -> None:
        text = edit.rewritten(found.text, "strong-wind", {"when": f"gust_kt >= {limit}"})
        try:
            edit.save(folder, "rules.toml", found.digest, text, revision.load)
            done.append(limit)
        except edit.ChangedError:
            refused.append(limit)

    threads = [threading.Thread(target=write, args=(limit,)) for limit in range(31, 37)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(done) == 1 and len(refused) == 5
    assert f"gust_kt >= {done[0]}" in (folder / "rules.toml").read_text(encoding="utf-8")
    assert sorted(path.name for path in folder.iterdir()) == ["rules.toml"]


def test_who_writes_while_the_check_runs_is_not_written_over(folder):
    found = edit.opened(folder, "rules.toml")
    elsewhere = RULES.replace("Take a shovel.", "Take two shovels.")

    def meanwhile(copy: Path) -> None:
        revision.load(copy)
        (folder / "rules.toml").write_text(elsewhere, encoding="utf-8")

    text = edit.rewritten(found.text, "strong-wind", {"when": "gust_kt >= 33"})
    with pytest.raises(edit.ChangedError):
        edit.save(folder, "rules.toml", found.digest, text, meanwhile)
    assert (folder / "rules.toml").read_text(encoding="utf-8") == elsewhere
    assert sorted(path.name for path in folder.iterdir()) == ["rules.toml"]


def test_a_save_that_fails_half_way_leaves_the_file_and_no_other(folder, monkeypatch):
    found = edit.opened(folder, "rules.toml")
    text = edit.rewritten(found.text, "strong-wind", {"when": "gust_kt >= 33"})

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(edit.os, "fsync", full)
    with pytest.raises(ChecklistError, match="nothing was changed"):
        edit.save(folder, "rules.toml", found.digest, text, revision.load)
    assert (folder / "rules.toml").read_text(encoding="utf-8") == RULES
    assert sorted(path.name for path in folder.iterdir()) == ["rules.toml"]


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_ends_of_lines_and_the_mark_at_the_beginning_stay(folder, end, mark):
    raw = (mark + RULES.replace("\n", end)).encode("utf-8")
    (folder / "rules.toml").write_bytes(raw)
    found = edit.opened(folder, "rules.toml")
    text = edit.rewritten(found.text, "own-rule", {"text": "Take two shovels."})
    edit.save(folder, "rules.toml", found.digest, text, revision.load)
    assert (folder / "rules.toml").read_bytes() == raw.replace(b"Take a shovel.", b"Take two shovels.")


def test_every_shipped_file_is_the_same_after_a_change_that_changes_nothing():
    shipped = revision.SHIPPED
    for file in edit.files(shipped):
        found = edit.opened(shipped, file)
        for rule in found.rules:
            assert edit.rewritten(found.text, rule.id, rule.fields) == found.text, rule.id


def test_a_field_that_may_be_left_out_is_taken_away_when_it_is_emptied(folder):
    found = edit.opened(folder, "rules.toml")
    added = edit.rewritten(found.text, "own-rule", {"must_when": "snow", "more": "A small one.", "zone": "apron"})
    assert 'must_when = "snow"' in added
    assert edit.rewritten(added, "own-rule", {"must_when": "", "more": None, "zone": ""}) == found.text


def press(page, key: str, times: int = 1) -> None:
    for _ in range(times):
        page.keyboard.press(key)


def test_a_rule_is_found_changed_tried_and_saved_by_the_keyboard_alone(browser, site, folder):
    with opened(browser, java_script_enabled=False) as page:
        page.goto(f"{site.url}/edit")
        page.keyboard.press("Tab")
        for _ in range(20):
            if page.locator(":focus").inner_text() == "strong-wind":
                break
            press(page, "Tab")
        with page.expect_navigation():
            press(page, "Enter")
        assert page.locator("h1").inner_text() == "strong-wind"
        focus = page.locator(":focus")
        for _ in range(30):
            press(page, "Tab")
            focus = page.locator(":focus")
            if focus.get_attribute("id") == "when":
                break
        assert focus.get_attribute("id") == "when"
        press(page, "Control+a")
        page.keyboard.type("gust_kt >= 20")
        for _ in range(60):
            press(page, "Tab")
            if page.locator(":focus").get_attribute("id") == "reports":
                break
        page.keyboard.insert_text(HISTORY)
        press(page, "Tab")
        page.keyboard.type("61.4,9.8")
        for _ in range(20):
            press(page, "Tab")
            if page.locator(":focus").inner_text() == "Try the draft":
                break
        with page.expect_navigation():
            press(page, "Enter")
        assert page.locator(".answers tbody tr").count() == 5
        assert page.locator(".differs").count() >= 1
        assert page.locator("#when").input_value() == "gust_kt >= 20"
        for _ in range(80):
            press(page, "Tab")
            if page.locator(":focus").inner_text() == "Save":
                break
        with page.expect_navigation():
            press(page, "Enter")
        assert page.locator("[role=status]").inner_text().startswith("Saved: strong-wind")
    assert 'when = "gust_kt >= 20"   # was 28 once' in (folder / "rules.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_pages_to_edit_with(browser, site, axe, scheme):
    with opened(browser, color_scheme=scheme) as page:
        page.goto(f"{site.url}/edit")
        nothing_found(page, axe)
        page.goto(f"{site.url}/edit/rules.toml/strong-wind")
        nothing_found(page, axe)
        page.locator("#reports").fill(HISTORY)
        page.locator("#place").fill("61.4,9.8")
        page.locator("#when").fill("gust_kt >= 26 or")
        with page.expect_navigation():
            page.get_by_role("button", name="Try the draft").click()
        nothing_found(page, axe)


def test_a_quantity_is_completed_from_the_terms_without_script(browser, site):
    with opened(browser, java_script_enabled=False) as page:
        page.goto(f"{site.url}/edit/rules.toml/strong-wind")
        assert page.locator("#term").get_attribute("list") == "terms"
        named = page.locator("#terms option").evaluate_all("all => all.map(one => one.value)")
        assert "gust_kt" in named and "illuminance_lx" in named and len(named) > 80


def test_a_whole_copy_of_what_is_shipped_can_be_edited(tmp_path):
    folder = tmp_path / "whole"
    shutil.copytree(revision.SHIPPED, folder)
    found = edit.opened(folder, "gear.toml")
    text = edit.rewritten(found.text, "torch", {"when": "illuminance_lx < 25", "during": ["walk_round", "off_block"]})
    loaded = edit.save(folder, "gear.toml", found.digest, text, revision.load)
    assert loaded.rule("torch").when == "illuminance_lx < 25"
    assert loaded.rule("torch").during == ("walk_round", "off_block")


def test_a_window_that_stands_alone_stays_a_text_and_several_stay_a_list(site, folder):
    given = {"when": "snow", "during": ["walk_round"], "weight": "must", "text": "Take a shovel."}
    assert Page(site, "own-rule").send("save", **given).status_code == 303
    text = (folder / "rules.toml").read_text(encoding="utf-8")
    assert text == RULES.replace('when = "snow or fog"', 'when = "snow"')
    # a second one makes a list of it
    given["during"] = ["walk_round", "off_block"]
    assert Page(site, "own-rule").send("save", **given).status_code == 303
    assert revision.load(folder).rule("own-rule").during == ("walk_round", "off_block")
