"""The studio's files under watch: whether another hand has changed them."""

from pourwell.app.watch import Watch


def test_what_comes_changes_and_goes_is_noticed_once(tmp_path):
    watch = Watch(tmp_path)
    assert not watch.changed()
    (tmp_path / "studio.toml").write_text('name = "a"\n', encoding="utf-8")
    assert watch.changed()
    assert not watch.changed()
    (tmp_path / "alloys").mkdir()
    (tmp_path / "alloys" / "house.toml").write_text("x", encoding="utf-8")
    assert watch.changed()
    (tmp_path / "alloys" / "house.toml").unlink()
    assert watch.changed()
    (tmp_path / "desk.log").write_text("no file of the studio's own", encoding="utf-8")
    assert not watch.changed()
