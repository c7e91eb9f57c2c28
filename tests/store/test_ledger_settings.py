"""The user's settings file."""

import pytest

from buildlog.desk.snapshot.settings import Settings, load, path, save
from buildlog.errors import DiskError, InvalidInput


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
