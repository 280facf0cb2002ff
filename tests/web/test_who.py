"""Who may: roles, wrong tokens, sessions, and what goes without a token file."""

from __future__ import annotations

import html
import re

import pytest
from click.testing import CliRunner

from advisor.cli.main import main
from advisor.errors import ChecklistError
from advisor.record.tokens import ROLES, load, new_token
from tests.web.site import Clock, body, client, token

SAID = {"zone": "tail", "found": "ice"}


@pytest.fixture
def people(tmp_path):
    made = {role: new_token(f"person-{role}", role) for role in ROLES}
    (tmp_path / "tokens").write_text("".join(f"{line}\n" for _, line in made.values()))
    return tmp_path, {role: {"Authorization": f"Bearer {secret}"} for role, (secret, _) in made.items()}


@pytest.fixture
def site(people):
    folder, _ = people
    url = f"sqlite:///{folder / 'record.sqlite'}"
    with client(data=folder, database=url, tokens=folder / "tokens", clock=Clock()) as made:
        yield made


def walk(site, headers) -> str:
    brief = site.post("/api/brief", json=body(), headers=headers).headers["location"].rsplit("/", 1)[1]
    return site.post("/api/walk", json={"brief": brief, "by": "AB"}, headers=headers).headers["location"]


def test_nothing_is_answered_without_a_token_but_that_the_server_is_there(site, people) -> None:
    where = walk(site, people[1]["walk"])
    for method, path in (
        ("POST", "/api/brief"),
        ("POST", "/api/walk"),
        ("POST", f"{where}/found"),
        ("GET", where),
        ("GET", "/"),
    ):
        answer = site.request(method, path)
        assert answer.status_code == 401, path
        assert answer.headers["www-authenticate"].startswith("Bearer")
    for path in ("/healthz", "/schema/openapi.json", "/static/page.css", "/chart.css", "/enter"):
        assert site.get(path).status_code == 200, path


def test_each_role_may_what_those_before_it_may_and_no_more(site, people) -> None:
    headers = people[1]
    where = walk(site, headers["walk"])
    asked = (
        ("read", "GET", where, None, 200),
        ("walk", "POST", f"{where}/found", SAID, 201),
        ("walk", "POST", f"{where}/treatment", {"step": "asked"}, 201),
        ("sign", "POST", f"{where}/sign", {"by": "AB", "role": "pilot"}, 201),
    )
    for needed, method, path, said, status in asked:
        for role in ROLES:
            wanted = status if ROLES.index(role) >= ROLES.index(needed) else 403
            answer = site.request(method, path, json=said, headers=headers[role])
            if path.endswith("/sign") and role == "edit":
                # it is signed by then
                wanted = 409
            assert answer.status_code == wanted, (role, path)


def test_who_said_it_stands_in_the_event(site, people) -> None:
    where = walk(site, people[1]["walk"])
    event = site.post(f"{where}/found", json=SAID, headers=people[1]["sign"]).json()
    assert event["data"]["person"] == "person-sign"


def test_a_queue_does_not_sign_for_whom_may_not(site, people) -> None:
    where = walk(site, people[1]["walk"])
    sent = [{"kind": "sign", "key": "1", "said": {"by": "AB", "role": "pilot"}}]
    assert site.post(f"{where}/queue", json=sent, headers=people[1]["walk"]).json()[0]["status"] == 403
    assert site.post(f"{where}/queue", json=sent, headers=people[1]["sign"]).json()[0]["status"] == 201


def test_the_same_key_of_another_person_is_another_key(site, people) -> None:
    where = walk(site, people[1]["walk"])
    for role in ("walk", "sign"):
        site.post(f"{where}/found", json=SAID, headers={**people[1][role], "Idempotency-Key": "1"})
    assert len(site.get(where, headers=people[1]["read"]).json()["events"]) == 3


@pytest.mark.parametrize("given", ["Bearer x", "Bearer ", "Basic QTpC", "Bearer é", "x"])
def test_a_wrong_token_is_nobody_s(site, given) -> None:
    answer = site.get("/api/brief/x", headers={"Authorization": given.encode("latin-1")})
    assert answer.status_code == 401
    assert answer.headers["content-type"] == "application/problem+json"


def test_wrong_tokens_are_limited_and_right_ones_are_not_shut_out(site, people) -> None:
    codes = [site.get("/api/walk/x", headers={"Authorization": f"Bearer {at}"}).status_code for at in range(15)]
    assert codes == [401] * 10 + [429] * 5
    answer = site.get("/api/walk/x", headers={"Authorization": "Bearer 16"})
    assert int(answer.headers["retry-after"]) >= 1
    assert site.get("/api/walk/x", headers=people[1]["read"]).status_code == 404


def enter(site, secret: str):
    fields = {"token": token(site.get("/enter").text), "secret": secret, "back": "/?place=ZZZA"}
    return site.post("/enter", data=fields, follow_redirects=False)


def test_a_session_comes_of_a_token_form_and_ends(site, people) -> None:
    secret = people[1]["walk"]["Authorization"].removeprefix("Bearer ")
    answer = enter(site, secret)
    assert (answer.status_code, answer.headers["location"]) == (303, "/?place=ZZZA")
    cookie = answer.headers["set-cookie"]
    assert "httponly" in cookie.lower() and "samesite=strict" in cookie.lower() and secret not in cookie
    assert site.get("/").status_code == 200
    where = walk(site, {})
    assert site.post(f"{where}/found", json=SAID).status_code == 201
    assert site.post(f"{where}/sign", json={"by": "A", "role": "pilot"}).status_code == 403
    # another site's page cannot use it
    for headers in ({"Origin": "https://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert site.post(f"{where}/found", json=SAID, headers=headers).status_code == 403
    site.app.state.work.settings.clock.on(minutes=12 * 60 + 1)
    assert site.get("/").status_code == 401


def test_a_session_ends_when_its_line_leaves_the_file(site, people) -> None:
    folder, headers = people
    enter(site, headers["walk"]["Authorization"].removeprefix("Bearer "))
    assert site.get("/").status_code == 200
    path = folder / "tokens"
    path.write_text("".join(line for line in path.read_text().splitlines(True) if "person-walk" not in line))
    assert site.get("/").status_code == 401
    assert site.get("/", headers=headers["walk"]).status_code == 401


def test_a_made_up_session_is_nobody_s(site, people) -> None:
    good = enter(site, people[1]["walk"]["Authorization"].removeprefix("Bearer ")).cookies["session"]
    name, until, seal = good.rsplit(".", 2)
    for wrong in (
        f"{name}.{int(until) + 60}.{seal}",
        f"person-edit.{until}.{seal}",
        f"{name}.{until}.{'0' * 64}",
        "x",
        "..",
        f"{name}.{'9' * 5000}.{seal}",
    ):
        site.cookies.clear()
        assert site.get("/", headers={"Cookie": f"session={wrong}"}).status_code == 401


def test_a_wrong_token_in_the_form_is_said_and_nothing_secret_is_repeated(site) -> None:
    answer = enter(site, "my-secret-that-is-wrong")
    assert answer.status_code == 401
    assert "nobody" in answer.text and "my-secret" not in answer.text


def test_without_tokens_only_the_machine_itself_writes(tmp_path) -> None:
    url = f"sqlite:///{tmp_path / 'record.sqlite'}"
    with client(data=tmp_path, database=url, clock=Clock()) as site:
        where = walk(site, {})
        assert site.post(f"{where}/found", json=SAID).status_code == 201
        for headers in (
            {"X-Forwarded-For": "192.0.2.1"},
            {"Forwarded": "for=192.0.2.1"},
            {"Host": "elsewhere.example"},
            {"Origin": "https://elsewhere.example"},
            {"Sec-Fetch-Site": "cross-site"},
        ):
            answer = site.post(f"{where}/found", json=SAID, headers=headers)
            assert answer.status_code == 403, headers


def test_a_token_is_shown_once_and_only_its_hash_is_for_the_file() -> None:
    done = CliRunner().invoke(main, ["record", "token", "AB", "sign"])
    assert done.exit_code == 0
    secret = done.stderr.rsplit(": ", 1)[1].strip()
    assert secret not in done.stdout and done.stdout.startswith("AB sign sha256:")
    assert len(secret) >= 43


@pytest.mark.parametrize(
    "text",
    ["AB sign", "AB fly sha256:" + "0" * 64, "AB sign sha256:xyz", "", "# nobody\n", "AB sign md5:" + "0" * 32],
)
def test_a_faulty_token_file_is_refused_by_line(tmp_path, text) -> None:
    path = tmp_path / "tokens"
    path.write_text(text)
    with pytest.raises(ChecklistError) as error:
        load(path)
    assert f"{path}:1:" in str(error.value)


def test_another_machine_is_let_in_with_tokens_only(tmp_path) -> None:
    arguments = ["serve", "--host", "0.0.0.0", "--port", "0", "--data", str(tmp_path)]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 2
    assert "--tokens" in done.output and "Traceback" not in done.output


def test_the_form_on_a_refused_page_can_be_sent(site, people) -> None:
    page = site.get("/outcomes")
    assert page.status_code == 401
    secret = people[1]["read"]["Authorization"].removeprefix("Bearer ")
    fields = {"token": token(page.text), "secret": secret, "back": "/outcomes"}
    answer = site.post("/enter", data=fields, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/outcomes")
    assert site.get("/outcomes").status_code == 200


def test_what_was_typed_is_sent_after_a_session_that_ended(site, people) -> None:
    where = walk(site, people[1]["walk"])
    secret = people[1]["walk"]["Authorization"].removeprefix("Bearer ")
    ours = token(site.get("/enter").text)
    said = {"token": ours, "key": "0" * 32, "zone": "tail", "found": "ice", "note": "a ridge & more\non the left"}
    page = site.post(where.removeprefix("/api").replace("/walk/", "/w/") + "/found", data=said)
    assert page.status_code == 401 and "What you typed is kept" in page.text
    # a token that is nobody's loses nothing either
    kept = {name: entry(page.text, name) for name in ("token", "back", "sent", "action")}
    again = site.post("/enter", data=kept | {"secret": "nobody's"})
    assert again.status_code == 401 and entry(again.text, "sent") == kept["sent"]
    page = site.post("/enter", data=kept | {"secret": secret})
    assert "a ridge &amp; more" in page.text and "Send it" in page.text
    hidden = {name: entry(page.text, name) for name in ("token", "key", "zone", "found", "note")}
    assert hidden == said
    answer = site.post(kept["action"], data=hidden, follow_redirects=False)
    assert answer.status_code == 303
    assert "a ridge &amp; more" in site.get(answer.headers["location"]).text


def test_what_another_site_typed_is_not_carried_through_the_token_form(site, people) -> None:
    ours = token(site.get("/enter").text)
    for said, headers in (({"token": "f" * 32}, {}), ({"token": ours}, {"Sec-Fetch-Site": "cross-site"})):
        page = site.post("/brief", data={**said, "reports": "typed elsewhere"}, headers=headers)
        assert page.status_code == 401
        assert "typed elsewhere" not in page.text and 'name="sent"' not in page.text


def entry(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None, name
    return html.unescape(found[1])


@pytest.mark.parametrize(
    ("address", "status"), [("127.0.0.1", 201), ("::1", 201), ("192.0.2.7", 403), ("fe80::1%2", 403)]
)
def test_without_tokens_who_comes_from_elsewhere_does_not_write(tmp_path, address: str, status: int) -> None:
    """`serve` refuses to listen to others without tokens; this is the second wall behind it."""

    async def from_there(scope, receive, send):
        await inner({**scope, "client": (address, 50_000)}, receive, send)

    with client(data=tmp_path, database=f"sqlite:///{tmp_path / 'record.sqlite'}", clock=Clock()) as made:
        inner, made.app.asgi_handler = made.app.asgi_handler, from_there
        brief = made.post("/api/brief", json=body()).headers["location"].rsplit("/", 1)[1]
        answer = made.post("/api/walk", json={"brief": brief, "by": "AB"})
    # whoever may read may ask for a brief; a walk is written down
    assert answer.status_code == status
    if status == 403:
        assert "without tokens only the machine itself may write" in answer.text
