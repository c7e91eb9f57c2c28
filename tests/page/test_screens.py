"""Rules that every screen of the page keeps, whatever the car: one test a rule, over them all."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from buildlog.page.asked import Asked, Question
from buildlog.page.cars import Cars
from buildlog.page.screens import SCREENS, screen
from buildlog.report.pictures.look import palette
from tests.odd_cars import CARS, made
from tests.page.drawn_screens import HOSTILE, Drawn, everything, shop_of
from tests.test_words import WORDS

STATIC = Path(__file__).parents[2] / "buildlog/page/static"
# Elements that have no end: WHATWG, HTML Living Standard, 13.1.2, "void elements".
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source",
        "track", "wbr"}  # fmt: skip


class Reader(HTMLParser):
    """A document as a browser reads it: elements with their attributes, and what is not nested."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.wrong: list[str] = []
        self._open: list[str] = []
        self.feed(html)
        self.close()
        self.wrong += [f"<{one}> is never closed" for one in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.wrong.append(f"<{tag}> has an attribute twice")
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open.pop() != tag:
            self.wrong.append(f"</{tag}> closes nothing that is open")

    def all(self, *tags: str) -> list[dict[str, str]]:
        return [attributes for tag, attributes in self.elements if tag in tags]


@pytest.fixture(scope="module")
def drawn(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Drawn]:
    return list(everything(shop_of(tmp_path_factory.mktemp("page") / "", demo)))


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> list[Drawn]:
    """A car of which next to nothing is known."""
    folder = tmp_path_factory.mktemp("empty")
    made(folder / "one-entry", "one-entry").close()
    return list(everything(folder))


@pytest.fixture(scope="module")
def read(drawn: list[Drawn]) -> list[tuple[str, Reader]]:
    return [(one.place, Reader(one.html)) for one in drawn]


def test_every_screen_is_looked_at(drawn: list[Drawn]) -> None:
    asked = {re.sub(r"\?.*|^/car/[^/]+/", "", one.place) for one in drawn}
    heads = {key.removesuffix("/*") for key in SCREENS}
    assert {head for head in heads if not any(one.startswith(head) for one in asked)} == set()
    assert len(drawn) > 100


def test_every_document_is_well_formed(read: list[tuple[str, Reader]]) -> None:
    assert [(place, one.wrong[:2]) for place, one in read if one.wrong] == []


@pytest.mark.long
@pytest.mark.parametrize("name", CARS)
def test_nor_of_an_odd_car(name: str, tmp_path: Path) -> None:
    made(tmp_path / name, name).close()
    found = list(everything(tmp_path))
    assert len(found) > 30
    assert [(one.place, Reader(one.html).wrong) for one in found if Reader(one.html).wrong] == []


def test_what_is_named_is_there_once(read: list[tuple[str, Reader]]) -> None:
    for place, one in read:
        ids = Counter(a["id"] for _, a in one.elements if "id" in a)
        assert [name for name, count in ids.items() if count > 1] == [], place
        keys = ("aria-labelledby", "aria-describedby", "for")
        named = {n for _, a in one.elements for key in keys for n in a.get(key, "").split()}
        named |= {a["href"][1:] for a in one.all("a") if a.get("href", "").startswith("#")}
        named |= {a["form"] for a in one.all("button") if "form" in a}
        assert named - ids.keys() == set(), place


def test_each_has_one_sentence_on_top_and_a_title(read: list[tuple[str, Reader]]) -> None:
    for place, one in read:
        titles = len(one.all("title")) - sum("aria-labelledby" in a for a in one.all("svg"))
        assert [len(one.all("h1")), len(one.all("main")), titles] == [1, 1, 1], place


def test_nothing_needs_a_style_or_a_script_of_its_own(read: list[tuple[str, Reader]]) -> None:
    """What the policy of the server would drop; and nothing is asked of any other address."""
    for place, one in read:
        assert one.all("style", "iframe", "object", "embed") == [], place
        assert [a for a in one.all("script") if a != {"src": "/static/page.js", "defer": ""}] == []
        for tag, attributes in one.elements:
            for name, value in attributes.items():
                assert not re.match("style$|on", name), (place, tag, name)
                if name in ("href", "src", "action"):
                    assert re.match("#|/(?!/)", value), (place, value)


def test_html_in_a_field_is_shown_as_text(drawn: list[Drawn]) -> None:
    hostile = [one for one in drawn if one.car == "hostile"]
    assert sum("&lt;b onclick=" in one.html for one in hostile) > 20
    for one in drawn:
        assert "<b onclick" not in one.html, one.place
        assert "go()</script>" not in one.html, one.place
        assert "{{" not in one.html.replace("{{ 7*7 }}", ""), one.place
    page = next(one.html for one in hostile if one.place == "/car/hostile/label")
    assert HOSTILE in unescape(page)


def test_a_form_says_who_sends_it_and_where_it_goes(read: list[tuple[str, Reader]]) -> None:
    """Posts carry the token and an act's id of their own, and go to an act; each has a button."""
    ids: list[str] = []
    for place, one in read:
        posts = [a for a in one.all("form") if a.get("method") == "post"]
        for form in posts:
            assert re.fullmatch(r"/(car/[\w.-]+/)?act/[a-z-]+", form["action"]), (place, form)
        hidden = [a for a in one.all("input") if a.get("type") == "hidden"]
        for name in ("token", "act", "what", "old", "back", "here"):
            assert sum(a["name"] == name for a in hidden) == len(posts), (place, name)
        assert {a["value"] for a in hidden if a["name"] == "token"} <= {"the-token"}
        ids += [a["value"] for a in hidden if a["name"] == "act"]
    assert len(ids) == len(set(ids)) > 50
    assert all(re.fullmatch(r"[0-9a-f]{32}", one) for one in ids)


def test_fields_are_those_that_a_phone_fills_in_well(read: list[tuple[str, Reader]]) -> None:
    """Never type=number, which reads "43,5" as 435 in some browsers; every field has a label."""
    for place, one in read:
        labelled = {a.get("for") for a in one.all("label")}
        for a in one.all("input", "select", "textarea"):
            kind = a.get("type", "text")
            assert kind in {"text", "hidden", "radio", "checkbox", "file", "date"}, (place, a)
            if kind not in {"hidden", "radio", "checkbox"}:
                assert a.get("id") in labelled or a.get("aria-label"), (place, a)
            if kind == "text" and one.all("textarea") != [a]:
                assert a.get("placeholder", "") == "", (place, "no value as placeholder")


def test_a_photo_can_be_taken_or_chosen(read: list[tuple[str, Reader]]) -> None:
    """One field with `capture` hides the gallery: there are always two."""
    seen = 0
    for place, one in read:
        photos = [a for a in one.all("input") if a.get("accept") == "image/jpeg,image/png"]
        assert sum("capture" in a for a in photos) * 2 == len(photos), place
        seen += len(photos)
    assert seen > 20


def test_links_lead_to_screens_that_there_are(read: list[tuple[str, Reader]]) -> None:
    known = [re.compile(re.escape(key).replace(r"\*", "[^/]+") + r"/?") for key in SCREENS]
    for place, one in read:
        for a in one.all("a"):
            path = re.sub(r"[?#].*", "", a.get("href", ""))
            inside = re.sub(r"^/car/[^/]+/", "", path)
            served = path.startswith("/static/") or path.startswith("#") or path == ""
            also = inside in ("waiting", "due")
            assert served or also or any(key.fullmatch(inside) for key in known), (place, path)


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word["say"])
def test_a_retired_word_stands_on_no_screen_of_the_page(word: dict, drawn: list[Drawn]) -> None:
    pattern = re.compile(word["pattern"], re.IGNORECASE)
    but = [re.compile(one) for one in word.get("but", ())]
    for one in drawn:
        text = unescape(re.sub(r"<[^>]+>", "\n", one.html.split("</head>")[1]))
        for line in text.splitlines():
            told = pattern.search(line) and not any(other.search(line) for other in but)
            assert not told, (one.place, line)


def test_units_stand_as_print_has_them(drawn: list[Drawn]) -> None:
    for one in drawn:
        if "/set" in one.place or "/explain" in one.place:  # where units are typed, and formulas
            continue
        text = re.sub(r"<[^>]+>", "\n", one.html)
        assert re.findall(r".{20}\d (?:N\*m|lb\*ft|deg[CF])\b", text) == [], one.place
        assert re.findall(r"\n(?:N\*m|lb\*ft|deg[CF]?|percent)\n", text) == [], one.place


def test_a_heading_never_counts_nothing(drawn: list[Drawn], empty: list[Drawn]) -> None:
    """What there is none of is said in a sentence or not at all."""
    for one in [*drawn, *empty]:
        heads = re.findall(r"<h2[^>]*>(.*?)</h2>", one.html, re.DOTALL)
        told = [re.sub(r"<[^>]+>", "", head) for head in heads]
        assert [head for head in told if re.search(r"\b(0|[Nn]o) \w+|, 0$", head)] == [], one.place


def test_a_car_without_parts_is_not_searched(empty: list[Drawn]) -> None:
    page = next(one.html for one in empty if one.place.endswith("/parts"))
    assert "No part is written down yet." in page
    assert 'role="search"' not in page


def test_findings_are_in_the_units_of_the_car(drawn: list[Drawn]) -> None:
    """A US car's screens are in mph, psi and feet throughout; a mixture is a defect. What a
    person wrote stays."""
    metric = re.compile(r"\d (?:m|mm|km|km/h|kg|kPa|hPa|bar|kW|L|°C)\b(?![^“]*”)")
    seen = 0
    for one in drawn:
        if one.car != "demo":
            continue
        for section in re.findall(r'<section aria-labelledby="(?:look|held|needs)">.*?</section>',
                                  one.html, re.DOTALL):  # fmt: skip
            text = unescape(re.sub(r"<[^>]+>", "\n", section)).replace("\xa0", " ")
            assert metric.findall(text) == [], one.place
            seen += "1.6 ft from the tail" in text
    assert seen, "the one that is stated in metres"


def test_names_and_numbers_of_entries_are_in_one_piece(drawn: list[Drawn]) -> None:
    """A phone breaks a line at any hyphen: "stage-" above "2-recheck" is no name."""
    seen = 0
    for one in drawn:
        for head in re.findall(r"<h1>(.*?)</h1>", one.html, re.DOTALL):
            bare = re.sub(r'<span class="nb">.*?</span>', "", unescape(head))
            assert not re.search(r"\bstage-\d", bare, re.IGNORECASE), (one.place, bare)
            assert not re.search(r"\bentry \d", bare, re.IGNORECASE), (one.place, bare)
            seen += 'class="nb"' in head
    assert seen > 5


def test_sizes(drawn: list[Drawn]) -> None:
    """300 kB a page with all that it loads; a picture at most 40 kB."""
    fonts = STATIC.parents[1] / "report/pictures/fonts"
    loaded = sum(path.stat().st_size for path in (*STATIC.iterdir(), *fonts.glob("*.ttf")))
    for one in drawn:
        for picture in re.findall(r"<svg.*?</svg>", one.html, re.DOTALL):
            assert len(picture.encode()) <= 40_000, one.place
        assert len(one.html.encode()) + loaded <= 300_000, one.place


def test_the_style_sheet_has_the_colours_of_pictures_on_a_dark_ground() -> None:
    css = (STATIC / "page.css").read_text("utf-8")
    dark = css.partition("/* roles of pictures on a dark ground */")[2].partition("/* end */")[0]
    for role, colour in palette(dark=True).items():
        assert f".f-{role}{{fill:{colour}}}" in dark
        assert f".s-{role}{{stroke:{colour}}}" in dark


@pytest.fixture
def cars(demo: Path) -> Iterator[Cars]:
    with closing(Cars(demo)) as found:
        yield found


def test_every_change_and_limit_of_a_comparison_can_be_seen(cars: Cars) -> None:
    """The first sheet shows the weightiest, and leads to the rest."""
    slug = next(iter(cars.places()))

    def rows(query: dict[str, str]) -> tuple[str, int, int]:
        asked = Asked(cars, f"/car/{slug}/compare", slug=slug, query=query, right="read")
        html = screen("compare_screen")(asked)
        parts = {name: re.search(rf'aria-labelledby="{name}">.*?</section>', html, re.DOTALL)
                 for name in ("changed", "left")}  # fmt: skip
        changed, left = (parts[name] for name in ("changed", "left"))
        assert changed
        assert left
        return html, changed[0].count("<li"), left[0].count("<li")

    html, few, limits = rows({})
    more = re.findall(r'href="([^"]*&amp;all=yes#\w+)">(\d+) more', html)
    counted = re.search(r"Changed, (\d+) fields", html)
    assert counted
    assert few + int(more[0][1]) == int(counted[1])
    told = dict(one.split("=") for one in unescape(more[0][0]).partition("?")[2]
                .partition("#")[0].split("&"))  # fmt: skip
    whole, all_, every = rows(told)
    assert all_ == int(counted[1])
    assert every >= limits
    assert " more</a>" not in whole


def test_without_the_right_nothing_can_be_written(cars: Cars) -> None:
    """Who may only read sees no form that posts, on any screen that he may see."""
    slug = next(iter(cars.places()))
    for key, (module, right) in SCREENS.items():
        if right == "read" and not key.endswith("*") and not key.startswith("/"):
            asked = Asked(cars, f"/car/{slug}/{key}", slug=slug, person="K-01", right="read")
            assert 'method="post"' not in screen(module)(asked), key


def test_two_values_for_one_place_are_a_question(cars: Cars) -> None:
    """What was typed is not lost: it goes with "Write mine", beside what stands there now."""
    slug = next(iter(cars.places()))
    question = Question("before-dyno/fan", "", '{"result": "pass", "value": "44 psi"}',
                        "D-03 wrote a value before yours came.", "item")  # fmt: skip
    typed = {"value": "46", "unit": "psi", "answer": "done", "old": "x", "token": "t"}
    asked = Asked(cars, f"/car/{slug}/lists/before-dyno", slug=slug, name="before-dyno",
                  question=question, token="t", right="write", typed=typed)  # fmt: skip
    html = screen("one_list_screen")(asked)
    found = Reader(html)
    assert "done, 44" in unescape(html)
    assert "done, 46\N{NO-BREAK SPACE}psi" in html
    kept = {a["name"]: a["value"] for a in found.all("input")}
    assert (kept["value"], kept["answer"], kept["old"]) == ("46", "done", question.now)
    assert [a["action"] for a in found.all("form")] == [f"/car/{slug}/act/item"]


def test_what_was_typed_and_refused_stands_in_its_field(cars: Cars) -> None:
    slug = next(iter(cars.places()))
    asked = Asked(cars, f"/car/{slug}/lists/before-dyno", slug=slug, name="before-dyno",
                  right="write", wrong="“3o5” has a letter o",
                  typed={"what": "before-dyno/tyre-pressure", "value": "3o5"})  # fmt: skip
    fields = [a for a in Reader(screen("one_list_screen")(asked)).all("input")
              if a.get("name") == "value"]  # fmt: skip
    wrong = [a for a in fields if a.get("aria-invalid")]
    assert [(a["value"], a["aria-describedby"]) for a in wrong] == [("3o5", "wrong-tyre-pressure")]
    assert len(fields) > 1


def test_a_folder_without_a_car(tmp_path: Path) -> None:
    html = screen("shop_screen")(Asked(Cars(tmp_path), "/", right="owner"))
    assert "No car is in this folder yet." in html
    assert 'href="/new"' in html
    assert Reader(html).wrong == []
