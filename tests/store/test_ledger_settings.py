"""The user's settings file."""

import sys

import pytest

from buildlog.desk.snapshot.settings import Settings, load, path, save
from buildlog.errors import DiskError, InvalidInput
from buildlog.store.disk import index_db


@pytest.fixture
def file(tmp_path, monkeypatch):
    place = tmp_path / "deep" / "settings.toml"
    monkeypatch.setenv("BUILDLOG_CONFIG", str(place))
    return place


def test_nothing_set(file):
    assert load() == Settings()
    assert not file.exists()


def test_saved_and_loaded_with_comments_kept(file):
    assert save(Settings(shop="Quarry Lane Motors", units="us")) == file
    file.write_text("# mine\n" + file.read_text())
    save(Settings(done_by="RK"))
    assert load() == Settings("Quarry Lane Motors", "us", "RK")
    assert file.read_text().startswith("# mine\n# settings of buildlog\n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("shop = [", "cannot be read"),
        ("shop = 1", "no setting"),
        ("colour = 'x'", "no setting"),
        ("units = 'furlong'", "not known"),
        ('shop = "a\\u001b"', "U+001B"),
    ],
)
def test_what_is_refused(file, text, words):
    file.parent.mkdir()
    file.write_text(text)
    with pytest.raises(InvalidInput) as caught:
        load()
    assert words in caught.value.what


def test_where_it_lies(monkeypatch, tmp_path):
    monkeypatch.delenv("BUILDLOG_CONFIG", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert path() == tmp_path / "buildlog" / "settings.toml"


def test_a_folder_in_its_place(file):
    file.mkdir(parents=True)
    with pytest.raises((DiskError, InvalidInput)):
        save(Settings(shop="x"))


@pytest.fixture
def elsewhere(monkeypatch, tmp_path):
    """A system whose own places are not those of version 0.1.0, as macOS is."""
    for name in ("BUILDLOG_CONFIG", "BUILDLOG_CACHE", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    library = tmp_path / "Library"
    monkeypatch.setattr("platformdirs.user_config_path", lambda *_, **__: library / "Support")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda *_, **__: library / "Caches")
    return library


def test_what_0_1_0_wrote_stays_in_use(elsewhere, tmp_path):
    assert (path(), index_db.folder()) == (
        elsewhere / "Support" / "settings.toml",
        elsewhere / "Caches",
    )
    former = tmp_path / ".config" / "buildlog" / "settings.toml"
    former.parent.mkdir(parents=True)
    former.write_text('# mine\nshop = "Quarry Lane"\n')
    (tmp_path / ".cache" / "buildlog").mkdir(parents=True)
    assert load().shop == "Quarry Lane"
    assert save(Settings(units="us")) == former
    assert former.read_text().startswith("# mine")
    assert index_db.folder() == tmp_path / ".cache" / "buildlog"


def test_the_systems_own_place_wins(elsewhere, tmp_path):
    for folder, shop in ((elsewhere / "Support", "new"), (tmp_path / ".config/buildlog", "old")):
        folder.mkdir(parents=True)
        (folder / "settings.toml").write_text(f'shop = "{shop}"\n')
    for folder in (elsewhere / "Caches", tmp_path / ".cache" / "buildlog"):
        folder.mkdir(parents=True)
    assert load().shop == "new"
    assert index_db.folder() == elsewhere / "Caches"


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="the places of other systems")
@pytest.mark.parametrize("given", [True, False])
def test_on_linux_both_lie_where_0_1_0_put_them(given, monkeypatch, tmp_path):
    """The XDG base directory specification 0.8: $XDG_CONFIG_HOME else ~/.config, and so on."""
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("BUILDLOG_CONFIG", "BUILDLOG_CACHE"):
        monkeypatch.delenv(name, raising=False)
    for name, below in (("XDG_CONFIG_HOME", "c"), ("XDG_CACHE_HOME", "d")):
        monkeypatch.setenv(name, str(tmp_path / below) if given else "")
    config, cache = ("c", "d") if given else (".config", ".cache")
    assert path() == tmp_path / config / "buildlog" / "settings.toml"
    assert index_db.folder() == tmp_path / cache / "buildlog"
