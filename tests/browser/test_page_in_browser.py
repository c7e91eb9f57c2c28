"""The page in a real Chromium, at a phone's width with touch: taps that wait while the server is
away, a question, an undone tap; and other origins that try to read or to write."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import http.server
import json
import os
import random
import re
import signal
import ssl
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from buildlog.records.toml.toml_place import value_at
from tests.attack.worlds import done
from tests.browser.chromium import program
from tests.browser.driven import driven
from tests.conftest import ROOT
from tests.page.killed import Mortal, mortal
from tests.page.served import PNG, Served, served
from tests.page.test_killed_server import free_port

PATIENCE = 60_000  # ms
SAVED = re.compile(r"saved \d\d:\d\d")
KILLS = 200
RESULTS = {"done": "pass", "fault": "fail", "does not apply": "not-applicable"}
STORED = """new Promise(done => { indexedDB.open("buildlog").onsuccess = held => {
  held.target.result.transaction("acts").objectStore("acts").getAll().onsuccess =
    told => done(told.target.result.map(one => [one.id, one.what, one.state])) } })"""
# Of a script whose server died in the middle of it there is a status, too, but not the whole body.
HAS_SCRIPT = """(performance.getEntriesByName(location.origin + "/static/page.js")[0] || {})
  .decodedBodySize"""
WHOLE_SCRIPT = (ROOT / "buildlog/page/static/page.js").stat().st_size
LEAVE = """url => fetch(url, {method: "POST", redirect: "manual", body: new URLSearchParams({
  token: document.querySelector('input[name="token"]').value})}).then(() => 1)"""
KEPT = """caches.open("pages").then(held => held.keys()).then(all => all.map(one => one.url))"""
READ = "url => fetch(url, {credentials: 'include'}).then(a => a.text(), e => 'no')"
WRITTEN = """url => fetch(url, {method: "POST", body: new URLSearchParams({item: "evil"})})
  .then(answer => answer.status)"""
WRITE = """url => fetch(url, {method: 'POST', credentials: 'include', mode: 'no-cors',
  body: new URLSearchParams({item: 'evil'})}).then(() => 'sent', () => 'no')"""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with driven() as found:
        yield found


@pytest.fixture(scope="module", autouse=True)
def _state(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("kept")))
        yield


@pytest.fixture
def phone(chromium: Any) -> Iterator[Any]:
    """A phone of 390 x 844 with touch; what it complains of is collected."""
    context = chromium.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(PATIENCE)
    found = context.new_page()
    found.complaints = []
    found.asked = []
    found.on("console", lambda told: found.complaints.append(told.text))
    found.on("pageerror", lambda error: found.complaints.append(str(error)))
    found.on("request", lambda one: found.asked.append(one.url))
    yield found
    context.close()


@pytest.fixture
def server(demo_copy: Path) -> Iterator[Mortal]:
    with mortal(demo_copy, free_port()) as found:
        yield found


def entered(page: Any, link: str) -> None:
    page.goto(link)
    page.get_by_role("button").tap()
    page.wait_for_url("**/car/**")


def item(page: Any, key: str) -> Any:
    return page.locator(f'form.item[data-what$="/{key}"]')


def tap(page: Any, key: str, answer: str) -> None:
    item(page, key).get_by_role("button", name=answer, exact=True).tap()


def result(car: Path, key: str) -> str:
    found = sorted((car / "checks").glob("*before-dyno*"))
    return value_at(found[-1].read_bytes(), ["item", {"key": key}, ["result"]]) if found else ""


def said(page: Any, words: str | re.Pattern[str]) -> None:
    page.locator("#saved", has_text=words).wait_for()


def saved(page: Any, key: str, answer: str) -> None:
    words = re.compile(rf"^{answer}, \d\d:\d\d")
    item(page, key).locator("p.saved").filter(has_text=words).wait_for()


def test_taps_wait_in_the_phone_while_the_server_is_away(server: Mortal, phone: Any) -> None:
    car = Path(server.mother.args[3])  # type: ignore[index]
    entered(phone, server.link)
    lists = f"{phone.url}lists/before-dyno"
    phone.goto(lists)
    tap(phone, "straps", "done")
    said(phone, SAVED)
    assert '"pass"' in result(car, "straps")
    assert item(phone, "straps").locator("p.saved").inner_text().startswith("done")

    server.kill()
    tap(phone, "fan", "fault")
    tap(phone, "extraction", "done")
    tap(phone, "fan", "done")  # thought better of it, before anybody heard
    tap(phone, "fan", "done")  # twice
    said(phone, "3 only in this phone")
    assert "only in this phone" in item(phone, "fan").inner_text()
    assert result(car, "fan") == '{"answered": true, "result": "not-done"}' or (
        "pass" not in result(car, "fan")
    )
    server.start()
    said(phone, SAVED)
    phone.locator("form.wait").first.wait_for(state="detached")
    assert '"pass"' in result(car, "fan")
    assert '"pass"' in result(car, "extraction")
    phone.reload()
    assert phone.locator('form.item[data-what$="/fan"]').count() == 0, "it is answered"


def test_an_act_stored_before_the_browser_was_closed_is_sent_by_the_next_page(
    server: Mortal, phone: Any
) -> None:
    car = Path(server.mother.args[3])  # type: ignore[index]
    entered(phone, server.link)
    lists = f"{phone.url}lists/before-dyno"
    phone.goto(lists)
    server.kill()
    tap(phone, "straps", "done")
    said(phone, "1 only in this phone")
    other = phone.context.new_page()
    phone.close()
    server.start()
    other.goto(lists)
    said(other, SAVED)
    assert '"pass"' in result(car, "straps")


def test_a_question_steps_aside_and_mine_is_written_when_i_say_so(
    server: Mortal, phone: Any
) -> None:
    car = Path(server.mother.args[3])  # type: ignore[index]
    entered(phone, server.link)
    phone.goto(f"{phone.url}lists/before-dyno")
    tap(phone, "straps", "done")
    said(phone, SAVED)
    done(car, "checklist", "tick", "fan", "--result", "fail", "--note", "loose")
    tap(phone, "fan", "done")
    said(phone, "1 question")
    assert '"fail"' in result(car, "fan")
    tap(phone, "extraction", "done")  # rests on nothing of it
    saved = item(phone, "extraction").locator("p.saved")
    saved.filter(has_text="done,").wait_for()
    phone.get_by_role("button", name="Write mine").tap()
    phone.locator("#waiting-acts").wait_for(state="detached")
    said(phone, SAVED)
    assert '"pass"' in result(car, "fan")


def test_quick_taps_rest_on_each_other_and_on_what_another_tab_did(
    server: Mortal, phone: Any
) -> None:
    """Nobody is asked because of a tap of their own: of two in one moment, of one in another tab
    whose sheet was drawn before, of one that was done while this sheet was being drawn."""
    car = Path(server.mother.args[3])  # type: ignore[index]
    entered(phone, server.link)
    lists = f"{phone.url}lists/before-dyno"
    other = phone.context.new_page()
    for one in (phone, other):
        one.goto(lists)
    phone.evaluate("""() => { for (const answer of ["fault", "done"])
      document.querySelector(`form[data-what$="/straps"] button[value="${answer}"]`).click() }""")
    saved(phone, "straps", "done")
    assert '"pass"' in result(car, "straps")
    saved(other, "straps", "done")  # told by the first
    tap(other, "straps", "does not apply")
    saved(other, "straps", "does not apply")
    assert '"not-applicable"' in result(car, "straps")
    for one in (phone, other):
        assert one.evaluate(STORED) == []


def test_a_store_that_the_browser_throws_away_is_written_back(server: Mortal, phone: Any) -> None:
    car = Path(server.mother.args[3])  # type: ignore[index]
    entered(phone, server.link)
    phone.goto(f"{phone.url}lists/before-dyno")
    server.kill()
    tap(phone, "straps", "done")
    said(phone, "1 only in this phone")
    (before,) = phone.evaluate(STORED)
    chrome = phone.context.new_cdp_session(phone)
    origin = phone.evaluate("location.origin")
    chrome.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "indexeddb"})
    tap(phone, "fan", "fault")
    said(phone, "2 only in this phone")
    assert before in phone.evaluate(STORED), "under its own id"
    server.start()
    phone.evaluate("dispatchEvent(new Event('online'))")
    said(phone, SAVED)
    assert '"pass"' in result(car, "straps")
    assert '"fail"' in result(car, "fan")


def leaf_of(port: int) -> str:
    """What a browser knows the server's certificate by: the digest of its key (RFC 7469, 2.4)."""
    told = x509.load_pem_x509_certificate(ssl.get_server_certificate(("127.0.0.1", port)).encode())
    key = told.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(key).digest()).decode()


def test_over_https_visited_pages_are_read_and_tapped_while_the_server_is_away(
    chromium: Any, demo_copy: Path
) -> None:
    """By a certificate of the local authority, whose key this browser is told to take."""
    with mortal(demo_copy, free_port(), https=True) as server:
        trusted = [f"--ignore-certificate-errors-spki-list={leaf_of(server.port)}", "--no-sandbox"]
        browser = chromium.browser_type.launch(executable_path=program(), args=trusted)
        phone = browser.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True
        ).new_page()
        phone.set_default_timeout(PATIENCE)
        entered(phone, server.link)
        home = phone.url
        phone.evaluate("navigator.serviceWorker.ready.then(() => 1)")
        phone.wait_for_function("() => navigator.serviceWorker.controller !== null")
        for path in ("parts", "lists/before-dyno", "customer", "plans"):
            phone.goto(f"{home}{path}")
        names = phone.evaluate(KEPT)
        assert {f"{home}parts", f"{home}lists/before-dyno"} <= set(names)
        assert not [one for one in names if "customer" in one or "plans" in one or "/enter" in one]

        server.kill()
        phone.goto(f"{home}parts")
        said(phone, "the server is away, as of")
        assert phone.locator("h1").inner_text()
        away = phone.goto(f"{home}customer")
        assert away.status == 503
        phone.goto(f"{home}lists/before-dyno")
        tap(phone, "straps", "done")
        said(phone, "1 only in this phone")
        assert "pass" not in result(demo_copy, "straps")
        server.start()
        phone.evaluate("dispatchEvent(new Event('online'))")
        said(phone, SAVED)
        assert '"pass"' in result(demo_copy, "straps")

        phone.evaluate(LEAVE, f"{home.split('/car/')[0]}/leave")
        phone.wait_for_function("caches.has('pages').then(held => !held)")
        browser.close()


def test_a_value_outside_is_said_while_it_is_typed(looked: Served, phone: Any) -> None:
    """The desk's own limits, in the unit beside the field; nothing is sent."""
    entered(phone, looked.serving.start_link())
    phone.goto(f"{phone.url}lists/intake")
    one = item(phone, "charging-voltage")
    field, line = one.locator('input[name="value"]'), one.locator("p.at-once")
    for typed, said_ in (("13,4", "13,4: below 13.5 V"), ("15", "15: above 14.8 V"), ("14.2", ""),
                         ("2 V", ""), ("13,400", "")):  # fmt: skip
        field.fill(typed)
        assert line.inner_text().startswith(said_) if said_ else line.is_hidden(), typed
    assert not [url for url in phone.asked if "/act/" in url]


def test_a_fault_asks_for_its_note_and_a_chosen_photo_is_named(
    looked: Served, phone: Any, tmp_path: Path
) -> None:
    """At the tap, while its answer is not known yet: nothing is sent in this test."""
    entered(phone, looked.serving.start_link())
    phone.goto(f"{phone.url}lists/before-dyno")
    phone.route("**/act/**", lambda route: route.abort())
    one = item(phone, "fan")
    assert one.get_by_text("opens a fault when recorded").is_hidden()
    assert one.get_by_label("Note").is_hidden()
    tap(phone, "fan", "fault")
    one.get_by_text("opens a fault when recorded").wait_for()
    assert one.get_by_label("Note").is_visible()
    with phone.expect_file_chooser() as asked:
        one.locator("label.button", has_text="Photo").first.tap()
    asked.value.set_files({"name": "belt.png", "mimeType": "image/png", "buffer": PNG})
    one.get_by_text("Goes with it: belt.png").wait_for()
    tap(phone, "fan", "done")
    one.get_by_text("opens a fault when recorded").wait_for(state="hidden")


def test_what_waits_is_saved_to_a_file(server: Mortal, phone: Any, tmp_path: Path) -> None:
    entered(phone, server.link)
    phone.goto(f"{phone.url}lists/before-dyno")
    server.kill()
    tap(phone, "straps", "done")
    tap(phone, "fan", "fault")
    said(phone, "2 only in this phone")
    with phone.expect_download() as kept:
        phone.get_by_role("button", name="Save waiting acts to a file").tap()
    kept.value.save_as(tmp_path / "acts.json")
    told = json.loads((tmp_path / "acts.json").read_text())
    assert [one["what"] for one in told["acts"]] == ["before-dyno/straps", "before-dyno/fan"]
    assert all(re.fullmatch("[0-9a-f]{32}", one["id"]) for one in told["acts"])


@pytest.mark.long
def test_two_hundred_deaths_of_the_server_and_some_of_the_page(server: Mortal, phone: Any) -> None:
    """Each tap is drawn after it was stored; whatever dies then, or is drawn anew while its answer
    is on its way, in one tab or the other: it comes once and in order, and nobody is asked."""
    car, chance = Path(server.mother.args[3]), random.Random(7)  # type: ignore[index]
    entered(phone, server.link)
    lists = f"{phone.url}lists/before-dyno"
    keys = ("straps", "fan", "extraction")
    last: dict[str, str] = {}
    tabs = [phone, phone.context.new_page()]
    for one in tabs:
        one.goto(lists)
    for number in range(KILLS):
        page, key = chance.choice(tabs), chance.choice(keys)
        open_ = f"{lists}?open={key}"
        if item(page, key).count() == 0:
            page.goto(open_)
        pressed = item(page, key).locator('button[aria-pressed="true"]')
        shown = {last.get(key), *pressed.all_inner_texts()}
        answer = chance.choice([one for one in RESULTS if one not in shown])
        killer = threading.Timer(chance.uniform(0, 0.5), server.kill)
        killer.start()
        tap(page, key, answer)
        pressed.filter(has_text=re.compile(f"^{answer}$")).wait_for()
        last[key] = answer  # what is drawn is stored
        if number % 3 == 0:  # another sheet is asked for while the answer is on its way
            _asks_for(page, open_)
        killer.join()
        server.start()
        if number % 50 == 49:  # the page goes too
            tabs[tabs.index(page)] = page.context.new_page()
            page.close()
        for one in tabs:
            _looks_again(one, open_)
    stored = _settled(tabs[0])
    lines = [json.loads(line.partition(" ")[2])
             for line in (car / ".git/buildlog/acts").read_text().splitlines()]  # fmt: skip
    print(Counter(one["is"] for one in lines), len(stored))
    for key, answer in last.items():
        assert f'"{RESULTS[answer]}"' in result(car, key), key
    done_ = Counter(one["id"] for one in lines if one["is"] == "done")
    assert set(done_.values()) == {1}, "none twice"
    assert len(done_) == KILLS, "none lost"
    assert stored == []
    assert {one["is"] for one in lines} <= {"intent", "done", "void"}, "nobody asked"


@contextlib.contextmanager
def mortal_browser(chromium: Any, profile: Path) -> Iterator[Any]:
    """A browser of its own over a profile; whatever happens, it ends as a power switch ends it."""
    ready = profile / "DevToolsActivePort"
    ready.unlink(missing_ok=True)
    asked = [program(), "--headless", "--no-sandbox", "--no-first-run", "--disable-gpu",
             "--remote-debugging-port=0", f"--user-data-dir={profile}", "about:blank"]  # fmt: skip
    quiet = subprocess.DEVNULL
    with subprocess.Popen(asked, stdout=quiet, stderr=quiet, start_new_session=True) as process:
        try:
            until = time.monotonic() + PATIENCE / 1000
            while not (ready.exists() and ready.read_text().count("\n")):
                assert time.monotonic() < until, "the browser does not start"
                time.sleep(0.05)
            port = ready.read_text().splitlines()[0]
            found = chromium.browser_type.connect_over_cdp(f"http://127.0.0.1:{port}")
            page = found.contexts[0].new_page()
            page.set_default_timeout(PATIENCE)
            yield page
        finally:
            os.killpg(process.pid, signal.SIGKILL)


@pytest.mark.long
@pytest.mark.parametrize("name", ["before-dyno", "first-start", "light-load-check", "hand-back"])
def test_a_killed_browser_has_every_tap_that_it_drew(
    server: Mortal, chromium: Any, tmp_path: Path, name: str
) -> None:
    """The browser itself dies after fifteen taps that no server heard: all of them are sent, once
    and in order, by the browser that is started after it."""
    car, chance = Path(server.mother.args[3]), random.Random(name)  # type: ignore[index]
    last: dict[str, str] = {}
    with mortal_browser(chromium, tmp_path / "profile") as page:
        page.goto(server.link)
        page.get_by_role("button", name="Begin").click()
        page.wait_for_url("**/car/**")
        page.goto(f"{page.url}lists/{name}")
        whats = page.locator("form.item").evaluate_all("all => all.map(one => one.dataset.what)")
        server.kill()
        for _ in range(15):
            what = chance.choice(whats)
            others = [one for one in RESULTS if one not in (last.get(what), "done")]
            last[what] = chance.choice(others)
            one = page.locator(f'form.item[data-what="{what}"]')
            one.get_by_role("button", name=last[what], exact=True).click()
            pressed = one.locator('button[aria-pressed="true"]')
            pressed.filter(has_text=re.compile(f"^{last[what]}$")).wait_for()
    server.start()
    with mortal_browser(chromium, tmp_path / "profile") as page:
        page.goto(server.link)
        page.get_by_role("button", name="Begin").click()
        page.wait_for_url("**/car/**")
        said(page, SAVED)
        assert page.evaluate(STORED) == []
    lines = [json.loads(line.partition(" ")[2])
             for line in (car / ".git/buildlog/acts").read_text().splitlines()]  # fmt: skip
    done_ = Counter(one["id"] for one in lines if one["is"] == "done")
    assert sorted(done_.values()) == [1] * 15
    assert {one["is"] for one in lines} == {"intent", "done"}
    check = sorted((car / "checks").glob(f"*{name}*"))[-1].read_bytes()
    for what, answer in last.items():
        held = value_at(check, ["item", {"key": what.rpartition("/")[2]}, ["result"]])
        assert f'"{RESULTS[answer]}"' in held, what


def _asks_for(page: Any, url: str) -> None:
    """A sheet, of a server that may die meanwhile."""
    from playwright.sync_api import Error

    with contextlib.suppress(Error):
        page.goto(url, wait_until="commit")


def _looks_again(page: Any, url: str) -> None:
    """A tab whose server is back; what it could not load, the script included, it loads again."""
    from playwright.sync_api import Error, TimeoutError

    for _ in range(100):
        try:
            try:
                page.wait_for_load_state(timeout=5000)
            except TimeoutError:  # its server died in the middle of it: whoever waits loads it anew
                page.goto(url)
            if page.evaluate(HAS_SCRIPT) != WHOLE_SCRIPT:
                page.goto(url)
            # else it tries after 15 s again
            page.evaluate("dispatchEvent(new Event('online'))")
            return
        except Error:  # it is on its way to another sheet
            page.wait_for_timeout(100)
    pytest.fail("a tab does not come back")


def _settled(page: Any) -> list[list[str]]:
    """What is still stored once nothing can be sent any more: what is asked about, and after it."""
    for _ in range(5 * PATIENCE // 200):
        stored: list[list[str]] = page.evaluate(STORED)
        asked = {what for _, what, state in stored if state == "aside"}
        if all(what in asked for _, what, _ in stored):
            return stored
        page.wait_for_timeout(200)
    pytest.fail("something waits and is not sent")


def test_a_form_without_script_does_the_same(chromium: Any, demo_copy: Path) -> None:
    with served(demo_copy) as found:
        context = chromium.new_context(java_script_enabled=False)
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        page.goto(found.serving.start_link())
        page.get_by_role("button").click()
        page.goto(f"{page.url}lists/before-dyno")
        item(page, "straps").get_by_role("button", name="done", exact=True).click()
        page.wait_for_load_state()
        assert '"pass"' in result(demo_copy, "straps")
        context.close()


def test_nothing_is_asked_of_any_network_and_nothing_is_complained_of(
    looked: Served, phone: Any
) -> None:
    entered(phone, looked.serving.start_link())
    for path in ("", "parts", "limits", "history", "lists", "lists/before-dyno", "dyno", "add",
                 "record", "compare"):  # fmt: skip
        phone.goto(
            f"{looked.serving.address}/car/{next(iter(looked.serving.cars.places()))}/{path}"
        )
    assert phone.complaints == []
    assert {url.split("/")[2] for url in phone.asked} == {looked.serving.address.split("/")[2]}


@pytest.fixture(scope="module")
def looked(demo: Path) -> Iterator[Served]:
    with served(demo) as found:
        yield found


@contextlib.contextmanager
def stranger(text: str) -> Iterator[str]:
    """A page of somebody else, on another port of this computer."""

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(text.encode())

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as one:
        threading.Thread(target=one.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{one.server_port}/"
        one.shutdown()


def test_another_origin_reads_nothing_writes_nothing_and_frames_nothing(
    chromium: Any, demo_copy: Path
) -> None:
    with served(demo_copy) as found:
        context = chromium.new_context()
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        entered_here = found.serving.start_link()
        page.goto(entered_here)
        page.get_by_role("button").click()
        page.wait_for_url("**/car/**")
        ours = page.url
        before = found.serving.cars.state(demo_copy)
        text = f"""<form method=post action="{ours}act/work"><input name=item value=evil>
            <input name=act value={"1" * 32}></form><iframe src="{ours}"></iframe>
            <img src="{ours}state"><script src="{found.serving.address}/static/page.js">
            </script>
            """
        for address in ("127.0.0.1", "localhost"):
            with stranger(text) as other:
                page.goto(other.replace("127.0.0.1", address))
                read = page.evaluate(READ, f"{ours}state")
                page.evaluate(WRITE, f"{ours}act/work")
                assert read == "no"
                frame = page.frames[1]
                assert "Marrow" not in frame.content()
                with page.expect_navigation():
                    page.evaluate("document.forms[0].submit()")
                assert "another page" in page.inner_text("body")
        assert found.serving.cars.state(demo_copy) == before
        page.goto(f"http://localhost:{found.serving.port}/")
        assert "does not answer to that name" in page.inner_text("body")
        context.close()


def test_a_name_that_is_led_here_by_rebinding_gets_nothing(chromium: Any, demo_copy: Path) -> None:
    """A stranger's name that resolves to this computer, on our own port: for the browser one origin
    with what answers there, so the server has to refuse it."""
    with served(demo_copy) as found:
        told = "--host-resolver-rules=MAP *.test 127.0.0.1"
        browser = chromium.browser_type.launch(
            executable_path=program(), args=[told, "--no-sandbox"]
        )
        page = browser.new_context().new_page()
        page.set_default_timeout(PATIENCE)
        entered_here = found.serving.start_link()
        page.goto(entered_here)
        page.get_by_role("button").click()
        page.wait_for_url("**/car/**")
        before, path = found.serving.cars.state(demo_copy), page.url.split("/", 3)[3]
        strange = f"http://rebinding.test:{found.serving.port}/"
        assert page.goto(strange + path).status == 421
        assert "Marrow" not in page.evaluate(READ, f"{strange}{path}state")
        assert page.evaluate(WRITTEN, f"{strange}{path}act/work") == 421
        assert found.serving.cars.state(demo_copy) == before
        browser.close()
