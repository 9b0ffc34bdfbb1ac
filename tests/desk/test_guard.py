"""Who is let into a desk, and what its page may do."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from terrain.desk.app import app_of
from terrain.desk.desk import Desk
from terrain.desk.guard import POLICY, Guard
from terrain.desk.table import Table
from tests.desk.conftest import HERE, PORT


@pytest.fixture
def stranger(guard: Guard) -> TestClient:
    return TestClient(guard, base_url=HERE, follow_redirects=False)


def test_nothing_is_answered_without_the_token(stranger):
    for path in ("/", "/about.json", "/heights/0", "/desk.js", "/nothing", "/?t=", "/?t=guess"):
        refused = stranger.get(path)
        assert refused.status_code == 403, path
        assert "\n" not in refused.json()["wrong"]


def test_the_token_is_exchanged_for_a_strict_cookie(stranger, guard):
    let_in = stranger.get(f"/?t={guard.token}")
    assert (let_in.status_code, let_in.headers["location"]) == (303, "/")
    cookie = let_in.headers["set-cookie"].lower()
    assert "samesite=strict" in cookie
    assert "httponly" in cookie
    assert guard.token not in let_in.headers["set-cookie"]
    assert stranger.get("/").status_code == 200


def test_the_token_opens_once(stranger, guard):
    stranger.get(f"/?t={guard.token}")
    # who is in already may come by the same address again
    assert stranger.get(f"/?t={guard.token}").status_code == 303
    another = TestClient(guard, base_url=HERE, follow_redirects=False)
    assert another.get(f"/?t={guard.token}").status_code == 403
    assert another.get("/").status_code == 403


@pytest.mark.parametrize("host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1:1", ""])
def test_a_foreign_host_is_refused(page, host):
    refused = page.get("/colours.json", headers={"Host": host})
    assert refused.status_code == 400
    assert "wrong" in refused.json()


def test_another_page_of_the_same_browser_is_refused(page):
    assert page.get("/colours.json", headers={"Sec-Fetch-Site": "same-origin"}).status_code == 200
    for said in ({"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}):
        assert page.get("/colours.json", headers=said).status_code == 403
    for origin in ("http://127.0.0.1:1", "https://evil.example", "null"):
        assert page.post("/drop/1", headers={"Origin": origin}).status_code == 403
    assert page.post("/drop/1", headers={"Origin": HERE}).status_code == 200


def test_every_answer_says_what_the_page_may_do(page, stranger):
    for answer in (page.get("/"), page.get("/colours.json"), page.get("/no"), stranger.get("/")):
        assert answer.headers["content-security-policy"] == POLICY
        assert answer.headers["x-content-type-options"] == "nosniff"
    for part in ("default-src 'none'", "script-src 'self'", "connect-src 'self'"):
        assert part in POLICY
    assert "unsafe" not in POLICY


def test_two_desks_in_one_browser_keep_apart(table: Table, page, guard):
    # a browser sends the cookies of a host to all of its ports
    other = Guard(app_of(Desk(lambda show: table)), port=PORT + 1)
    there = TestClient(other, base_url=f"http://127.0.0.1:{PORT + 1}", cookies=dict(page.cookies))
    assert there.get("/").status_code == 403
    there.get(f"/?t={other.token}")
    assert there.get("/").status_code == 200
    both = {**dict(page.cookies), **dict(there.cookies)}
    assert len(both) == 2
    assert TestClient(guard, base_url=HERE, cookies=both).get("/").status_code == 200
