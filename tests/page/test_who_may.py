"""The decision table, row by row, each by a script; what was refused has written nothing."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from pathlib import Path

import pytest

from buildlog.errors import InvalidInput, NotFound
from buildlog.page.server.gatekeeper import Knock, refused
from buildlog.page.server.paired_devices import HOURS_HTTP, HOURS_HTTPS, Devices, Tries
from tests.page.served import FORM, Client, Served

HOST, ORIGIN = "bl-car.localhost:8437", "http://bl-car.localhost:8437"
HOSTS = frozenset({HOST, "127.0.0.1:8437", "[::1]:8437"})


def knock(method: str = "GET", target: str = "/", *headers: tuple[str, str]) -> Knock:
    given = {name.lower() for name, _ in headers}
    own = [("host", HOST)] if "host" not in given else []
    if method == "POST":
        own += [("origin", ORIGIN)] * ("origin" not in given)
        own += [("content-type", FORM)] * ("content-type" not in given)
    told = tuple((name.lower().encode(), value.encode()) for name, value in [*own, *headers])
    return Knock(method, target.encode(), told)


ROWS: list[tuple[int | None, Knock]] = [
    (None, knock()),
    (None, knock("POST")),
    (None, knock("HEAD")),
    (None, knock("POST", "/", ("Sec-Fetch-Site", "same-origin"))),
    (None, knock("POST", "/", ("Content-Type", "multipart/form-data; boundary=x"))),
    (None, knock("POST", "/", ("Content-Type", "application/json"))),
    (None, knock("GET", "/", ("Host", "[::1]:8437"))),
    (None, knock("GET", "/", ("Host", HOST.upper()))),
    (None, knock("GET", "/", ("Cookie", "buildlog=a; other=b"))),
    *[(405, knock(method)) for method in ("PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "CONNECT")],
    (400, knock("GET", "http://bl-car.localhost:8437/")),
    (400, knock("GET", "*")),
    (400, knock("GET", "/", ("Host", HOST), ("Host", "elsewhere:8437"))),
    (400, knock("POST", "/", ("Origin", ORIGIN), ("Origin", "http://x.invalid"))),
    (400, knock("POST", "/", ("X-Buildlog-Token", "a"), ("X-Buildlog-Token", "b"))),
    (400, knock("GET", "/", ("Cookie", "buildlog=a; buildlog=b"))),
    (400, knock("GET", "/", ("Cookie", "buildlog=a"), ("Cookie", "x=1; buildlog=b"))),
    *[(421, knock("GET", "/", ("Host", host))) for host in (
        "localhost:8437", "rebinding.invalid:8437", "bl-car.localhost", "bl-car.localhost:80",
        "127.0.0.1:8438", "", "[::1]", "bl-car.localhost:8437.x.invalid", HOST + "/")],
    *[(403, knock("GET", "/", (name, "1"))) for name in (
        "Forwarded", "X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Anything", "X-Real-IP",
        "Via")],
    *[(404, knock("GET", target)) for target in (
        "/..", "/car/%2e%2e/x", "/a\\b", "/a%5cb", "//a", "/a%2f%2fb", "/a%00", "/a%0d%0ab",
        "/a%252e", "/%25", "/a%7f", "/%ff", "/car/x/file/../../car.toml")],
    *[(403, knock("POST", "/", ("Origin", origin))) for origin in (
        "null", "https://bl-car.localhost:8437", "http://bl-car.localhost:8438",
        "http://bl-car.localhost", "http://127.0.0.1:8437", "http://x.invalid", "")],
    *[(403, knock("POST", "/", ("Sec-Fetch-Site", site))) for site in (
        "cross-site", "same-site", "none")],
    *[(415, knock("POST", "/", ("Content-Type", kind))) for kind in (
        "text/plain", "application/xml", "", "application/x-www-form-urlencodedx")],
    (400, knock("POST", "/", ("Content-Length", "3"), ("Transfer-Encoding", "chunked"))),
]  # fmt: skip


@pytest.mark.parametrize(("status", "asked"), ROWS)
def test_a_row_of_the_table(status: int | None, asked: Knock) -> None:
    found = refused(asked, HOSTS, "buildlog")
    assert (found.status if found else None) == status
    if found:  # nothing of what was sent comes back
        told = [value.decode() for _, value in asked.headers if len(value) > 3]
        assert not any(value in found.said for value in [*told, asked.target.decode()[1:] or "\0"])


def test_a_post_without_an_origin_is_refused() -> None:
    without = Knock("POST", b"/", ((b"host", HOST.encode()), (b"content-type", FORM.encode())))
    found = refused(without, HOSTS, "buildlog")
    assert found is not None
    assert found.status == 403


# the rows behind, and all of them through the sockets

_Sent = Mapping[str, str | None]


@pytest.mark.parametrize(
    ("method", "headers", "status"),
    [
        ("PUT", {}, 405),
        ("GET", {"Host": "rebinding.invalid"}, 421),
        ("GET", {"X-Forwarded-For": "10.0.0.9"}, 403),
        ("POST", {"Origin": None}, 403),
        ("POST", {"Origin": "null"}, 403),
        ("POST", {"Origin": "http://127.0.0.1:1"}, 403),
        ("POST", {"Content-Type": "text/plain"}, 415),
        ("POST", {"Cookie": "buildlog=a; buildlog=b"}, 400),
        ("GET", {"Cookie": None}, 401),
        ("GET", {"Cookie": "buildlog=guessed"}, 401),
        ("POST", {"Cookie": None}, 401),
    ],
)
def test_a_row_through_the_socket(
    looked_at: Served, method: str, headers: _Sent, status: int
) -> None:
    one = looked_at.owner()
    before = looked_at.serving.cars.state(looked_at.folder)
    body = "token=" + one.token if method == "POST" else None
    found = one.send(method, one.at("act/work") if method == "POST" else "/", body, headers)
    assert found.status == status, found.text
    assert looked_at.serving.cars.state(looked_at.folder) == before


def test_who_is_not_paired_sees_what_lets_one_in_and_nothing_else(looked_at: Served) -> None:
    """Public: style, script, letters, the start page and the pairing page. All else is 401, with
    the form for a code and a link that goes on: after a link on a foreign page a Strict cookie is
    missing, and comes with the next step (SameSite of RFC 6265bis; from memory)."""
    one = looked_at.stranger()
    public = ("/static/page.css", "/static/page.js", "/static/BuildlogSans-Regular.ttf", "/pair",
              "/enter?key=x")  # fmt: skip
    assert {one.get(path).status for path in public} == {200}
    for path in ("/", one.at(), one.at("customer"), one.at("state"), one.at("file/x"), "/devices"):
        told = one.get(path)
        assert told.status == 401, path
        assert "Marrow" not in told.text, path
        assert 'name="code"' in told.text, path
        onward = "" if "state" not in path and "file" not in path else one.at()
        onward = "/" if path == "/devices" else onward
        assert re.search(rf'<a [^>]*href="{onward}">Continue', told.text), path


def test_the_pairing_page_leads_on_to_the_car_that_was_asked_for(looked_at: Served) -> None:
    """A code that was shown elsewhere (a label, a calendar) leads to a car: whoever is let in is
    at it then, and not at the shop. Of what was sent only the name of a car comes back."""
    devices, one = looked_at.serving.devices, looked_at.stranger()
    place = one.at("lists/before-dyno?open=fan")
    found = one.get(place)
    assert '<a class="button quiet" href="">Continue' in found.text, "the same address"
    assert f'name="onward" value="{one.at()}"' in found.text
    wrong = one.post("/pair", code="ABCDEFGH", onward=one.at())
    assert f'name="onward" value="{one.at()}"' in wrong.text
    offer, code = devices.offer("a tablet", None, "read")
    told = one.post("/pair", code=code, onward=one.at())
    assert f'href="{one.at()}">Continue' in told.text
    one.take(told)
    devices.decide(offer.id, True)
    assert one.get(place).status == 200
    posted = looked_at.stranger().post(one.at("act/work"))
    assert posted.status == 401
    assert f'href="{one.at()}">Continue' in posted.text, "an act is no place to go on to"


def test_who_is_not_paired_is_told_nothing_of_a_car(looked_at: Served) -> None:
    """Not its state, and not whether there is one of that name; nor comes back what was sent."""
    one = looked_at.stranger()
    there, none = (one.get(f"/car/{slug}/record") for slug in (one.slug, "no-such-car"))
    assert (there.status, none.status) == (401, 401)
    assert there.text.replace(one.slug, "no-such-car") == none.text
    assert "data-head" not in there.text
    for odd in ("/explain/%3Czq%3E", "/car/x/lists/%22%3E%3Czq%3E", "/car/X%3Czq/?q=%3Czq%3E"):
        assert "zq" not in one.get(odd).text, odd
    looked_at.serving.devices.tries = Tries()
    for odd in ("//other.example/", "javascript:go()", "/car/<b>/", "/car/x/..", "\\\\other"):
        told = one.post("/pair", code="ABCDEFGH", onward=odd)
        assert re.findall(r'name="onward" value="(.*?)"', told.text) in (["/"], ["/car/x/"]), odd
    looked_at.serving.devices.tries = Tries()  # nobody waits for what was guessed here


def test_every_answer_says_what_a_browser_may_do_with_it(looked_at: Served) -> None:
    one = looked_at.owner()
    for path in ("/", one.at(), "/static/page.css", "/nothing", "/pair", one.at("act/item")):
        told = one.get(path).headers
        low = {name.lower(): value for name, value in told.items()}
        assert "default-src 'none'" in low["content-security-policy"], path
        assert "unsafe" not in low["content-security-policy"], path
        assert low["referrer-policy"] == "same-origin", path
        assert low["x-content-type-options"] == "nosniff", path
        assert low["cross-origin-resource-policy"] == "same-origin", path
        assert "server" not in low, path


def test_a_get_on_an_act_is_no_place_and_a_post_needs_the_token_and_the_right(here: Served) -> None:
    owner, reader, writer = here.owner(), here.paired("read"), here.paired("write", "D-07")
    assert owner.get(owner.at("act/work")).status == 404
    before = (here.folder / "car.toml").read_bytes()
    without = writer.post(writer.at("act/work"), act="1" * 32, item="paint", token="")
    assert without.status == 403
    assert writer.post(writer.at("act/work"), token=owner.token, act="1" * 32).status == 403
    assert reader.act("work", item="paint").status == 403
    assert writer.act("approve", message="x").status == 403
    assert writer.post("/devices/add", name="x", right="owner").status == 403
    assert writer.get("/devices").status == 404
    assert (here.folder / "car.toml").read_bytes() == before
    assert writer.act("work", item="paint").json["done"] is True
    assert (here.folder / "car.toml").read_bytes() != before


def test_the_start_link_shows_a_button_and_is_spent_by_pressing_it_once(looked_at: Served) -> None:
    one, key = looked_at.stranger(), looked_at.serving.devices.start_key()
    for _ in range(3):  # previews
        shown = one.get(f"/enter?key={key}")
        assert shown.status == 200
        assert "<button" in shown.text
        assert "set-cookie" not in {name.lower() for name in shown.headers}
    one.enter(key)
    assert one.get(one.at()).status == 200
    other = looked_at.stranger()
    assert other.post("/enter", key=key).status == 403
    assert other.get(other.at()).status == 401


def test_a_device_is_in_after_the_owners_word_and_out_at_the_next_request(
    looked_at: Served,
) -> None:
    devices, one = looked_at.serving.devices, looked_at.stranger()
    offer, code = devices.offer("D-07's phone", "D-07", "write")
    assert len(code) == 8
    answer = one.post("/pair", code=f" {code[:4].lower()} {code[4:].lower()} ")
    one.take(answer)
    assert one.get(one.at()).status == 401, "nobody has said yes"
    assert looked_at.stranger().post("/pair", code=code).status == 403, "a code is for one device"
    owner = looked_at.owner()
    assert "D-07" in owner.get("/devices").text
    assert owner.post("/devices/let-in", id=offer.id).status == 303
    assert "D-07" in one.get(one.at()).text
    mine = next(device for device in devices.all() if device.name == "D-07's phone")
    assert owner.post("/devices/remove", id=mine.id).status == 303
    assert one.get(one.at()).status == 401


def test_guessed_codes_wait_longer_and_burn_nobodys_code(looked_at: Served) -> None:
    looked_at.serving.devices.tries = Tries()
    one = looked_at.stranger()
    _, code = looked_at.serving.devices.offer("a phone", None, "read")
    answers = [one.post("/pair", code="ABCDEFGH").status for _ in range(40)]
    assert answers.count(403) == 5
    assert answers.count(429) == 35
    assert one.post("/pair", code=code).status == 429, "from this address"
    assert looked_at.serving.devices.show_code(code, "10.0.0.9"), "from another it counts"
    looked_at.serving.devices.tries = Tries()


def test_the_pause_doubles_up_to_a_minute() -> None:
    now = [0.0]
    tries, pauses = Tries(lambda: now[0]), []
    for _ in range(12):
        tries.wrong("a")
        pauses.append(tries.wait("a"))
        now[0] += pauses[-1]
    assert pauses == [0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60, 60]
    assert tries.wait("b") == 0


@pytest.mark.parametrize(("https", "hours"), [(False, 12), (True, 90 * 24)])
def test_sessions_end_after_last_use_unless_exempt_and_survive_a_restart(
    tmp_path: Path, https: bool, hours: int
) -> None:
    """Twelve hours over http, ninety days over https."""
    assert (HOURS_HTTPS if https else HOURS_HTTP) == hours
    now = [time.time()]
    devices = Devices(tmp_path / "devices.json", hours=hours, clock=lambda: now[0])
    phone, tablet = devices.enter(devices.start_key(), "a") or "", devices.enter(
        devices.start_key(), "wall"
    ) or ""  # fmt: skip
    devices.exempt(devices.all()[1].id)
    for _ in range(5):
        now[0] += (hours - 1) * 3600
        assert devices.of(phone), "it is used"
    devices = Devices(tmp_path / "devices.json", hours=hours, clock=lambda: now[0])
    assert devices.of(phone)
    now[0] += (hours + 1) * 3600
    assert devices.of(phone) is None
    assert devices.of(tablet)
    text = (tmp_path / "devices.json").read_text()
    assert phone not in text
    assert tablet not in text
    assert (tmp_path / "devices.json").stat().st_mode & 0o077 == 0


def test_a_shared_tablet_changes_its_person_by_a_short_code(here: Served) -> None:
    tablet = here.paired("write", "D-01", "wall tablet")
    device = next(one for one in here.serving.devices.all() if one.name == "wall tablet")
    here.serving.devices.short_code(device.id, "D-07", "2468")
    assert tablet.post("/person", code="1111").status == 403
    assert tablet.post("/person", code="2468").status == 303
    assert tablet.act("fault", symptom="belt squeals").json["done"] is True
    written = next((here.folder / "faults").glob("*belt-squeals*"))
    assert 'by = "D-07"' in written.read_text()
    with pytest.raises(InvalidInput):
        here.serving.devices.short_code(device.id, "D-08", "1")
    with pytest.raises(NotFound):
        here.serving.devices.remove("none")


def test_both_loopbacks_are_bound_and_a_taken_port_is_refused(looked_at: Served) -> None:
    from buildlog.errors import UsageError
    from buildlog.page.server.open_sockets import Connections, has_ipv6, listening

    port = looked_at.serving.port
    with pytest.raises(UsageError, match=f"port {port} is taken"):
        listening(port, False, Connections())
    if has_ipv6():
        one: Client = looked_at.owner()
        one.address = "::1"
        assert one.get(one.at()).status == 200
